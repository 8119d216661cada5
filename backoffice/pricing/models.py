"""Rows of services, prices and sales tax."""

from datetime import date

from sqlalchemy import CheckConstraint, Index, UniqueConstraint, text
from sqlalchemy.orm import Mapped, mapped_column

from backoffice.db import Base, Choice, Numbered, Versioned, refers

FOOT_PLANS = ("new", "reset", "trim", "pulled", "none")
TAX_KINDS = ("labour", "goods", "travel")


class Service(Versioned, Base):
    """Something offered: what it does to the fronts and the hinds, and how long it takes."""

    __tablename__ = "service"
    kind = "record"
    rules = (CheckConstraint("minutes >= 0", name="minutes_not_negative"),)
    name: Mapped[str] = mapped_column(unique=True)
    front: Mapped[str] = mapped_column(Choice(*FOOT_PLANS))
    hind: Mapped[str] = mapped_column(Choice(*FOOT_PLANS))
    minutes: Mapped[int]
    place_no: Mapped[int]
    hidden: Mapped[bool]


class Recipe(Numbered, Base):
    """What a service uses besides shoes and nails, for each foot worked or for the horse."""

    __tablename__ = "recipe"
    kind = "record"
    rules = (
        UniqueConstraint("service_id", "item_id"),
        CheckConstraint("qty > 0", name="qty_positive"),
    )
    service_id: Mapped[int] = refers("service.id")
    item_id: Mapped[int] = refers("item.id")
    qty: Mapped[int]
    per: Mapped[str] = mapped_column(Choice("horse", "shod_foot"))


class Price(Numbered, Base):
    """A price from a day on, for a service and a kind of horse (NULL: any kind without its own)."""

    __tablename__ = "price"
    kind = "record"
    rules = (
        Index("uq_price_service_type_day", "service_id", text("coalesce(type_id, 0)"), "from_day",
              unique=True),
        CheckConstraint("amount >= 0", name="amount_not_negative"),
    )  # fmt: skip
    service_id: Mapped[int] = refers("service.id")
    type_id: Mapped[int | None] = refers("horse_type.id")
    from_day: Mapped[date]
    amount: Mapped[int]


class AgreedPrice(Numbered, Base):
    """A price agreed with a client for a service, from a day on and perhaps until one."""

    __tablename__ = "agreed_price"
    kind = "record"
    rules = (
        UniqueConstraint("client_id", "service_id", "from_day"),
        CheckConstraint("amount >= 0", name="amount_not_negative"),
    )
    client_id: Mapped[int] = refers("client.id")
    service_id: Mapped[int] = refers("service.id")
    from_day: Mapped[date]
    until_day: Mapped[date | None]
    amount: Mapped[int]


class TaxRate(Numbered, Base):
    """Which EN 16931 category and rate a kind of line falls under from a day on."""

    __tablename__ = "tax_rate"
    kind = "record"
    rules = (
        UniqueConstraint("tax_kind", "from_day"),
        CheckConstraint("rate_ppm >= 0 AND rate_ppm <= 1000000", name="rate_of_whole"),
        CheckConstraint("category = 'S' OR rate_ppm = 0", name="only_standard_has_rate"),
    )
    tax_kind: Mapped[str] = mapped_column(Choice(*TAX_KINDS))
    from_day: Mapped[date]
    category: Mapped[str] = mapped_column(Choice("S", "Z", "E", "O"))
    rate_ppm: Mapped[int]
