"""Rows of money out."""

from datetime import date

from sqlalchemy import CheckConstraint
from sqlalchemy.orm import Mapped, mapped_column

from backoffice.db import Base, Choice, Numbered, refers


class SupplierBill(Numbered, Base):
    """What a supplier charged, entered once: part of it stock, the rest expense."""

    __tablename__ = "supplier_bill"
    kind = "ledger"
    rules = (CheckConstraint("total >= 0", name="total_not_negative"),)
    entry_id: Mapped[int] = refers("entry.id")
    supplier_id: Mapped[int | None] = refers("supplier.id")
    file_id: Mapped[int | None] = refers("file.id")
    day: Mapped[date]
    reference: Mapped[str]
    total: Mapped[int]
    paid_by: Mapped[str] = mapped_column(Choice("cash", "card", "transfer", "cheque", "unpaid"))


class SupplierBillLine(Numbered, Base):
    """One line of a supplier's bill: singles that became stock, or an expense.

    ``entry_id`` is set where the line was said later than the bill.
    """

    __tablename__ = "supplier_bill_line"
    kind = "ledger"
    rules = (CheckConstraint("(sort = 'stock') = (lot_id IS NOT NULL)", name="stock_has_a_lot"),)
    bill_id: Mapped[int] = refers("supplier_bill.id", index=True)
    entry_id: Mapped[int | None] = refers("entry.id")
    sort: Mapped[str] = mapped_column(Choice("stock", "expense"))
    lot_id: Mapped[int | None] = refers("lot.id", unique=True)
    what: Mapped[str]
    amount: Mapped[int]


class PayOwed(Numbered, Base):
    """A day's pay of an apprentice who came along; taken back by a row that names it."""

    __tablename__ = "pay_owed"
    kind = "ledger"
    entry_id: Mapped[int] = refers("entry.id")
    farrier_id: Mapped[int] = refers("farrier.id", index=True)
    day: Mapped[date] = mapped_column(index=True)
    amount: Mapped[int]
    undoes_id: Mapped[int | None] = refers("pay_owed.id", unique=True)
