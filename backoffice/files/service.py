"""Keeping receipts and photos by what they contain."""

import hashlib
import os
from pathlib import Path
from secrets import token_hex

from sqlalchemy import select
from sqlalchemy.orm import Session

from backoffice.db import insert_or_nothing
from backoffice.files import queries
from backoffice.files.models import File
from backoffice.files.photo import Upload


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


def keep(session: Session, folder: Path, upload: Upload, name: str) -> int:
    """Keep a photo or a PDF in the data folder and give its number; the same file is kept once."""
    sha256 = hashlib.sha256(upload.content).hexdigest()
    path = queries.place_of(folder, sha256)
    if not path.exists():
        _write(path, upload.content)
    shown = "".join(c for c in name if c.isprintable())[-200:]
    insert_or_nothing(
        session,
        File,
        sha256=sha256,
        size=len(upload.content),
        media_type=upload.media_type,
        name=shown,
    )
    return session.scalars(select(File.id).where(File.sha256 == sha256)).one()
