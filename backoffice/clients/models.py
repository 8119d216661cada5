"""Rows of clients, yards and horses."""

from datetime import date, datetime

from sqlalchemy import CheckConstraint, UniqueConstraint
from sqlalchemy.orm import Mapped, mapped_column

from backoffice.db import Base, Choice, Numbered, Versioned, personal, refers

BILL_WHEN = ("on_the_spot", "tonight", "weekly", "monthly")
BILL_HOW = ("paper", "text", "email")
FLAGS = ("kicks", "leans", "two_people", "sedation", "do_not_tie", "head_shy", "other")
GROUNDS = ("ordinary", "mud", "dry", "sand")


class Client(Versioned, Base):
    """Someone who is billed."""

    __tablename__ = "client"
    kind = "record"
    name: Mapped[str | None] = personal()
    address: Mapped[str | None] = personal()
    phone: Mapped[str | None] = personal()
    email: Mapped[str | None] = personal()
    notes: Mapped[str | None] = personal()
    search_key: Mapped[str | None] = personal(index=True)
    sort: Mapped[str] = mapped_column(Choice("private", "business"))
    bill_when: Mapped[str] = mapped_column(Choice(*BILL_WHEN))
    bill_how: Mapped[str] = mapped_column(Choice(*BILL_HOW))
    terms_days: Mapped[int | None]
    hidden: Mapped[bool]
    erased_at: Mapped[datetime | None]


class Yard(Versioned, Base):
    """Where horses stand. ``call_out`` is shared by the horses booked there; NULL is none set."""

    __tablename__ = "yard"
    kind = "record"
    rules = (CheckConstraint("call_out >= 0", name="call_out_not_negative"),)
    name: Mapped[str | None] = personal()
    address: Mapped[str | None] = personal()
    gate_note: Mapped[str | None] = personal()
    notes: Mapped[str | None] = personal()
    ground: Mapped[str | None] = mapped_column(Choice(*GROUNDS))
    miles: Mapped[int | None]
    call_out: Mapped[int | None]
    hidden: Mapped[bool]


class HorseType(Versioned, Base):
    """A kind of horse: its weight on tools and clock, in thousandths of an ordinary one."""

    __tablename__ = "horse_type"
    kind = "record"
    rules = (
        CheckConstraint("wear_factor > 0", name="wear_factor_positive"),
        CheckConstraint("time_factor > 0", name="time_factor_positive"),
    )
    name: Mapped[str] = mapped_column(unique=True)
    wear_factor: Mapped[int]
    time_factor: Mapped[int]
    nails: Mapped[int]
    shod_days: Mapped[int]
    trim_days: Mapped[int]
    hidden: Mapped[bool]


class Horse(Versioned, Base):
    """A horse. Anything may be not known yet. Its owner need not be who pays."""

    __tablename__ = "horse"
    kind = "record"
    rules = (
        CheckConstraint("weight_lb > 0", name="weight_positive"),
        CheckConstraint("cycle_days > 0", name="cycle_positive"),
    )
    name: Mapped[str | None] = personal()
    words: Mapped[str | None] = personal()
    notes: Mapped[str | None] = personal()
    search_key: Mapped[str | None] = personal(index=True)
    type_id: Mapped[int | None] = refers("horse_type.id")
    yard_id: Mapped[int | None] = refers("yard.id", index=True)
    owner_id: Mapped[int | None] = refers("client.id")
    weight_lb: Mapped[int | None]
    cycle_days: Mapped[int | None]
    hidden: Mapped[bool]


class HorseFlag(Numbered, Base):
    """How to handle a horse, shown before it is started; dated, and ended rather than deleted."""

    __tablename__ = "horse_flag"
    kind = "record"
    horse_id: Mapped[int] = refers("horse.id", index=True)
    flag: Mapped[str] = mapped_column(Choice(*FLAGS))
    note: Mapped[str | None] = personal()
    from_day: Mapped[date]
    until_day: Mapped[date | None]


class HorseLife(Numbered, Base):
    """From which day a horse is active, sold, gone or dead; the latest row rules."""

    __tablename__ = "horse_life"
    kind = "record"
    rules = (UniqueConstraint("horse_id", "from_day"),)
    horse_id: Mapped[int] = refers("horse.id")
    from_day: Mapped[date]
    state: Mapped[str] = mapped_column(Choice("active", "sold", "gone", "dead"))


class PayerSet(Numbered, Base):
    """Who pays for a horse from a day on."""

    __tablename__ = "payer_set"
    kind = "record"
    rules = (UniqueConstraint("horse_id", "from_day"),)
    horse_id: Mapped[int] = refers("horse.id")
    from_day: Mapped[date]


class PayerPart(Numbered, Base):
    """One payer's integer part of a horse; ``place_no`` is the order that takes odd cents."""

    __tablename__ = "payer_part"
    kind = "record"
    rules = (
        UniqueConstraint("set_id", "place_no"),
        CheckConstraint("parts > 0", name="parts_positive"),
    )
    set_id: Mapped[int] = refers("payer_set.id")
    client_id: Mapped[int] = refers("client.id", index=True)
    place_no: Mapped[int]
    parts: Mapped[int]
