"""Keeping receipts and photos by what they contain."""

import hashlib
import os
from pathlib import Path
from secrets import token_hex

from sqlalchemy import select
from sqlalchemy.orm import Session

from backoffice.db import insert_or_nothing
from backoffice.errors import Refused
from backoffice.files.models import File

MOST = 10 * 1024 * 1024


def _media_type(content: bytes) -> str:
    if content.startswith(b"\xff\xd8\xff"):
        return "image/jpeg"
    if content.startswith(b"\x89PNG\r\n\x1a\n"):
        return "image/png"
    if content[:4] == b"RIFF" and content[8:12] == b"WEBP":
        return "image/webp"
    if content.startswith(b"%PDF-"):
        return "application/pdf"
    raise Refused("file.kind", field="file")


def _place(folder: Path, sha256: str) -> Path:
    return folder / "attachments" / sha256[:2] / sha256


def _write(path: Path, content: bytes) -> None:
    for parent in (path.parent.parent, path.parent):
        parent.mkdir(mode=0o700, parents=True, exist_ok=True)
    draft = path.with_name(f".{token_hex(8)}")
    try:
        descriptor = os.open(draft, os.O_CREAT | os.O_EXCL | os.O_WRONLY, 0o600)
        with os.fdopen(descriptor, "wb") as out:
            out.write(content)
            out.flush()
            os.fsync(out.fileno())
        draft.replace(path)
    finally:
        draft.unlink(missing_ok=True)


def keep(session: Session, folder: Path, content: bytes, name: str) -> int:
    """Keep a photo or a PDF in the data folder and give its number; the same file is kept once.

    Raises: Refused for any other kind of file, and beyond 10 MB.
    """
    if len(content) > MOST:
        raise Refused("file.too_large", field="file", most=MOST // 1024 // 1024)
    media_type = _media_type(content)
    sha256 = hashlib.sha256(content).hexdigest()
    path = _place(folder, sha256)
    if not path.exists():
        _write(path, content)
    shown = "".join(c for c in name if c.isprintable())[-200:]
    insert_or_nothing(
        session, File, sha256=sha256, size=len(content), media_type=media_type, name=shown
    )
    return session.scalars(select(File.id).where(File.sha256 == sha256)).one()


def path_of(session: Session, folder: Path, file_id: int) -> Path:
    """Say where the bytes of a kept file lie."""
    row = session.get(File, file_id)
    if row is None:
        raise Refused("record.missing")
    return _place(folder, row.sha256)
