"""What was bought, from whom, and what of it is stock?"""

from dataclasses import dataclass
from datetime import date

from sqlalchemy import select
from sqlalchemy.orm import Session

from backoffice.books.models import SupplierBill, SupplierBillLine
from backoffice.practice.rules import PAGE, Listed
from backoffice.stock.models import Item, Lot
from backoffice.suppliers.models import Supplier


@dataclass(frozen=True, slots=True, kw_only=True)
class SpendingLine:
    """A supplier's bill in a list."""

    id: int
    day: date
    supplier: str | None
    reference: str
    total: int
    paid_by: str


@dataclass(frozen=True, slots=True, kw_only=True)
class SpendingPart:
    """A line of a supplier's bill; an expense without words is not sorted yet."""

    sort: str
    item_id: int | None
    item: str | None
    size: str | None
    qty: int | None
    what: str
    amount: int


@dataclass(frozen=True, slots=True, kw_only=True)
class SpendingCard:
    """A supplier's bill and its lines."""

    line: SpendingLine
    parts: tuple[SpendingPart, ...]


_BILLS = select(
    SupplierBill.id,
    SupplierBill.day,
    Supplier.name.label("supplier"),
    SupplierBill.reference,
    SupplierBill.total,
    SupplierBill.paid_by,
).outerjoin(Supplier, Supplier.id == SupplierBill.supplier_id)


def bill_list(session: Session, page: int = 1) -> Listed[SpendingLine]:
    """List suppliers' bills, the newest first."""
    found = session.execute(
        _BILLS.order_by(SupplierBill.day.desc(), SupplierBill.id.desc())
        .offset((max(page, 1) - 1) * PAGE)
        .limit(PAGE + 1)
    ).mappings()
    rows = tuple(SpendingLine(**row) for row in found)
    return Listed(rows=rows[:PAGE], page=page, more=len(rows) > PAGE)


def bill_card(session: Session, bill_id: int) -> SpendingCard | None:
    """Give a supplier's bill, or None if there is none."""
    row = session.execute(_BILLS.where(SupplierBill.id == bill_id)).mappings().first()
    if row is None:
        return None
    parts = session.execute(
        select(
            SupplierBillLine.sort,
            Lot.item_id,
            Item.name.label("item"),
            Item.size_text.label("size"),
            Lot.qty,
            SupplierBillLine.what,
            SupplierBillLine.amount,
        )
        .outerjoin(Lot, Lot.id == SupplierBillLine.lot_id)
        .outerjoin(Item, Item.id == Lot.item_id)
        .where(SupplierBillLine.bill_id == bill_id)
        .order_by(SupplierBillLine.id)
    ).mappings()
    return SpendingCard(
        line=SpendingLine(**row), parts=tuple(SpendingPart(**part) for part in parts)
    )
