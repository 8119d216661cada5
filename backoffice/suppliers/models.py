"""Rows of suppliers."""

from sqlalchemy.orm import Mapped

from backoffice.db import Base, Versioned


class Supplier(Versioned, Base):
    """Someone we buy from."""

    __tablename__ = "supplier"
    kind = "record"
    name: Mapped[str]
    contact: Mapped[str]
    hidden: Mapped[bool]
