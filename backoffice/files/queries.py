"""Which file is this, and where do its bytes lie?"""

from dataclasses import dataclass
from pathlib import Path

from sqlalchemy import select
from sqlalchemy.orm import Session

from backoffice.errors import Refused
from backoffice.files.models import File


@dataclass(frozen=True, slots=True, kw_only=True)
class KeptFile:
    """A kept file and where its bytes lie."""

    id: int
    sha256: str
    media_type: str
    path: Path

    @property
    def is_picture(self) -> bool:
        """Whether it can be shown on a page; anything else is only taken away."""
        return self.media_type.startswith("image/")


def place_of(folder: Path, sha256: str) -> Path:
    """Say where in the data folder the bytes of a file lie."""
    return folder / "attachments" / sha256[:2] / sha256


def kept(session: Session, folder: Path, file_id: int) -> KeptFile:
    """Give a kept file.

    Raises: Refused if there is none.
    """
    found = select(File.id, File.sha256, File.media_type).where(File.id == file_id)
    row = session.execute(found).first()
    if row is None:
        raise Refused("record.missing")
    return KeptFile(
        id=row.id,
        sha256=row.sha256,
        media_type=row.media_type,
        path=place_of(folder, row.sha256),
    )
