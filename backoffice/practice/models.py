"""Rows of the business itself."""

from datetime import date

from sqlalchemy import CheckConstraint, UniqueConstraint
from sqlalchemy.orm import Mapped, mapped_column

from backoffice.db import Base, Choice, Numbered, Versioned, refers


class Practice(Versioned, Base):
    """The one practice of this database."""

    __tablename__ = "practice"
    kind = "record"
    rules = (CheckConstraint("id = 1", name="only_one"),)
    name: Mapped[str]
    address: Mapped[str]
    phone: Mapped[str]
    email: Mapped[str]
    how_to_pay: Mapped[str]
    country: Mapped[str]
    currency: Mapped[str]
    zone: Mapped[str]
    words: Mapped[str] = mapped_column(Choice("us", "uk"))
    paper: Mapped[str] = mapped_column(Choice("us-letter", "a4"))
    prices_include_tax: Mapped[bool]
    tax_number: Mapped[str]
    demo_today: Mapped[date | None]


class Setting(Numbered, Base):
    """A setting the farrier changed; all others stand at their default in rules.py."""

    __tablename__ = "setting"
    kind = "record"
    name: Mapped[str] = mapped_column(unique=True)
    value: Mapped[int]


class Place(Versioned, Base):
    """Where stock and tools are: a truck or the shop."""

    __tablename__ = "place"
    kind = "record"
    rules = (UniqueConstraint("name"),)
    name: Mapped[str]
    sort: Mapped[str] = mapped_column(Choice("truck", "shop"))
    hidden: Mapped[bool]


class Farrier(Versioned, Base):
    """Someone who does horses or learns to, and the truck he usually rides in."""

    __tablename__ = "farrier"
    kind = "record"
    rules = (CheckConstraint("day_pay >= 0", name="day_pay_not_negative"),)
    name: Mapped[str]
    sort: Mapped[str] = mapped_column(Choice("farrier", "apprentice"))
    place_id: Mapped[int] = refers("place.id")
    day_pay: Mapped[int | None]
    hidden: Mapped[bool]
