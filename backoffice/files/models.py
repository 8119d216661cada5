"""Rows of kept files."""

from sqlalchemy.orm import Mapped, mapped_column

from backoffice.db import Base, Choice, Numbered, personal


class File(Numbered, Base):
    """One kept file; its bytes lie in the data folder under their SHA-256."""

    __tablename__ = "file"
    kind = "emptiable"
    sha256: Mapped[str] = mapped_column(unique=True)
    size: Mapped[int]
    media_type: Mapped[str] = mapped_column(
        Choice("image/jpeg", "image/png", "image/webp", "application/pdf")
    )
    name: Mapped[str | None] = personal()
