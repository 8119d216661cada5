"""Is what was bought in the books what arrived on the shelf?"""

from collections.abc import Iterator

from sqlalchemy import func, select
from sqlalchemy.orm import Session

from backoffice.books.models import SupplierBill, SupplierBillLine
from backoffice.daybook.models import Entry
from backoffice.errors import Broken
from backoffice.stock.models import Lot


def check(session: Session) -> Iterator[Broken]:
    """Find suppliers' bills that do not add up, and deliveries on no bill or at another cost."""
    lines = func.coalesce(func.sum(SupplierBillLine.amount), 0)
    unequal = session.scalars(
        select(SupplierBill.id)
        .outerjoin(SupplierBillLine, SupplierBillLine.bill_id == SupplierBill.id)
        .group_by(SupplierBill.id, SupplierBill.total)
        .having(lines != SupplierBill.total)
        .order_by(SupplierBill.id)
    )
    for bill_id in unequal:
        yield Broken("check.supplier_bill", {"bill": bill_id})
    astray = session.scalars(
        select(Lot.id)
        .join(SupplierBillLine, SupplierBillLine.lot_id == Lot.id)
        .join(SupplierBill, SupplierBill.id == SupplierBillLine.bill_id)
        .where((SupplierBillLine.amount != Lot.cost) | (SupplierBill.entry_id != Lot.entry_id))
        .order_by(Lot.id)
    )
    for lot_id in astray:
        yield Broken("check.delivery_cost", {"delivery": lot_id})
    loose = session.scalars(
        select(Lot.id)
        .join(SupplierBill, SupplierBill.entry_id == Lot.entry_id)
        .join(Entry, Entry.id == Lot.entry_id)
        .outerjoin(SupplierBillLine, SupplierBillLine.lot_id == Lot.id)
        .where(SupplierBillLine.id.is_(None))
        .order_by(Lot.id)
    )
    for lot_id in loose:
        yield Broken("check.delivery_unbilled", {"delivery": lot_id})
