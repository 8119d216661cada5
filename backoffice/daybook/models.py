"""Rows of the book of first entry."""

from datetime import date, datetime

from sqlalchemy.orm import Mapped, mapped_column

from backoffice.db import Base, Choice, Numbered, personal, refers

KINDS = (
    "closing",
    "correction",
    "repricing",
    "delivery",
    "count",
    "transfer",
    "tool",
    "issue",
    "handing_over",
    "payment",
    "credit",
    "fix",
    "pay",
)


class Entry(Numbered, Base):
    """One business event; every row that only grows names the entry that caused it."""

    __tablename__ = "entry"
    kind = "ledger"
    day: Mapped[date] = mapped_column(index=True)
    sort: Mapped[str] = mapped_column(Choice(*KINDS))
    recorded_at: Mapped[datetime]
    user_id: Mapped[int | None] = refers("app_user.id")


class PeriodLock(Numbered, Base):
    """Up to which day the books are closed; the last row rules, and none opens them all."""

    __tablename__ = "period_lock"
    kind = "ledger"
    upto: Mapped[date | None]
    reason: Mapped[str]
    recorded_at: Mapped[datetime]


class Change(Numbered, Base):
    """What one field of a record said before and after an edit."""

    __tablename__ = "change"
    kind = "emptiable"
    table_name: Mapped[str]
    row_id: Mapped[int]
    field: Mapped[str]
    before: Mapped[str | None] = personal()
    after: Mapped[str | None] = personal()
    at: Mapped[datetime]
    user_id: Mapped[int | None] = refers("app_user.id")
