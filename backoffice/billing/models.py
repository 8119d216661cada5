"""Rows of bills, corrections and payments."""

from datetime import date

from sqlalchemy import CheckConstraint, Index, UniqueConstraint, text
from sqlalchemy.orm import Mapped, mapped_column

from backoffice.db import Base, Choice, Numbered, personal, refers

METHODS = ("cash", "card", "transfer", "cheque", "app", "other")


class Series(Base):
    """The last number of a series and the head of its chain, under one row lock."""

    __tablename__ = "series"
    kind = "plumbing"
    name: Mapped[str] = mapped_column(primary_key=True)
    first_no: Mapped[int]
    last_no: Mapped[int]
    last_hash: Mapped[str]


class Document(Numbered, Base):
    """An issued bill or correction, frozen. ``body`` is canonical JSON without personal data."""

    __tablename__ = "document"
    kind = "ledger"
    rules = (
        UniqueConstraint("series", "no"),
        CheckConstraint("gross = net + tax", name="gross_is_net_and_tax"),
        CheckConstraint("no > 0", name="no_positive"),
    )
    entry_id: Mapped[int] = refers("entry.id")
    series: Mapped[str] = mapped_column(Choice("bills", "corrections", "opening"))
    no: Mapped[int]
    sort: Mapped[str] = mapped_column(Choice("invoice", "credit", "opening"))
    client_id: Mapped[int] = refers("client.id", index=True)
    issued: Mapped[date] = mapped_column(index=True)
    due: Mapped[date]
    net: Mapped[int]
    tax: Mapped[int]
    gross: Mapped[int]
    rounding: Mapped[int]
    credits_id: Mapped[int | None] = refers("document.id", unique=True)
    body: Mapped[str]
    digest: Mapped[str]
    prev: Mapped[str]
    hash: Mapped[str]


class Particulars(Numbered, Base):
    """The personal half of a document; may be emptied once, and the chain still holds."""

    __tablename__ = "particulars"
    kind = "emptiable"
    document_id: Mapped[int] = refers("document.id", unique=True)
    text: Mapped[str | None] = personal()
    salt: Mapped[str | None] = mapped_column(info={"emptied": True})
    rules = (CheckConstraint("(text IS NULL) = (salt IS NULL)", name="emptied_together"),)


class DocumentLine(Numbered, Base):
    """A line of a document; a share is billed once, ever."""

    __tablename__ = "document_line"
    kind = "ledger"
    rules = (
        Index("uq_document_line_share", "share_id", unique=True,
              sqlite_where=text("sort = 'invoice'"), postgresql_where=text("sort = 'invoice'")),
        Index("ix_document_line_credits", "credits_line_id",
              sqlite_where=text("credits_line_id IS NOT NULL"),
              postgresql_where=text("credits_line_id IS NOT NULL")),
    )  # fmt: skip
    document_id: Mapped[int] = refers("document.id", index=True)
    sort: Mapped[str] = mapped_column(Choice("invoice", "credit", "opening"))
    share_id: Mapped[int | None] = refers("price_share.id")
    client_id: Mapped[int] = refers("client.id")
    net: Mapped[int]
    quoted: Mapped[int]
    category: Mapped[str] = mapped_column(Choice("S", "Z", "E", "O"))
    rate_ppm: Mapped[int]
    credits_line_id: Mapped[int | None] = refers("document_line.id")


class DocumentTax(Numbered, Base):
    """Sales tax of a document by category and rate."""

    __tablename__ = "document_tax"
    kind = "ledger"
    rules = (UniqueConstraint("document_id", "category", "rate_ppm"),)
    document_id: Mapped[int] = refers("document.id")
    category: Mapped[str] = mapped_column(Choice("S", "Z", "E", "O"))
    rate_ppm: Mapped[int]
    base: Mapped[int]
    tax: Mapped[int]


class DocumentEvent(Numbered, Base):
    """A document was handed over, sent, or came back."""

    __tablename__ = "document_event"
    kind = "ledger"
    document_id: Mapped[int] = refers("document.id", index=True)
    entry_id: Mapped[int] = refers("entry.id")
    sort: Mapped[str] = mapped_column(Choice("handed_over", "sent", "bounced"))


class Payment(Numbered, Base):
    """Money received from a client, perhaps before any bill. A tip is beside it, not in it.

    ``fact_id`` names the fact it was said with, which is taken in once.
    """

    __tablename__ = "payment"
    kind = "ledger"
    rules = (
        CheckConstraint("amount > 0", name="amount_positive"),
        CheckConstraint("tip >= 0 AND fee >= 0", name="tip_and_fee_not_negative"),
        Index("uq_payment_fact_id", "fact_id", unique=True),
    )
    entry_id: Mapped[int] = refers("entry.id")
    client_id: Mapped[int] = refers("client.id", index=True)
    visit_id: Mapped[int | None] = refers("visit.id")
    amount: Mapped[int]
    tip: Mapped[int]
    fee: Mapped[int]
    method: Mapped[str] = mapped_column(Choice(*METHODS))
    receipt: Mapped[str | None]
    fact_id: Mapped[str | None]


class Allocation(Numbered, Base):
    """Part of a payment or of a correction set against a bill."""

    __tablename__ = "allocation"
    kind = "ledger"
    rules = (
        CheckConstraint("(payment_id IS NULL) <> (credit_id IS NULL)", name="one_source"),
        CheckConstraint("amount <> 0", name="amount_not_nothing"),
    )
    entry_id: Mapped[int] = refers("entry.id")
    payment_id: Mapped[int | None] = refers("payment.id", index=True)
    credit_id: Mapped[int | None] = refers("document.id", index=True)
    document_id: Mapped[int] = refers("document.id", index=True)
    amount: Mapped[int]


class Receivable(Base):
    """What is still open of a bill."""

    __tablename__ = "receivable"
    kind = "cache"
    rules = (
        Index("ix_receivable_open", "client_id", "due", sqlite_where=text("open <> 0"),
              postgresql_where=text("open <> 0")),
    )  # fmt: skip
    document_id: Mapped[int] = refers("document.id", primary_key=True)
    client_id: Mapped[int] = refers("client.id")
    due: Mapped[date]
    open: Mapped[int]


class Balance(Base):
    """What a client owes in all; below nothing is a credit of his."""

    __tablename__ = "balance"
    kind = "cache"
    client_id: Mapped[int] = refers("client.id", primary_key=True)
    owed: Mapped[int]
