"""Entering a supplier's bill once: its stock becomes deliveries, the rest expense."""

from sqlalchemy import insert
from sqlalchemy.orm import Session

from backoffice.books import rules
from backoffice.books.models import SupplierBill, SupplierBillLine
from backoffice.books.rules import PAID_BY, BillLine, SupplierBillNew
from backoffice.daybook import service as daybook
from backoffice.days import sensible
from backoffice.errors import Refused
from backoffice.practice.rules import choice, line, whole
from backoffice.stock import service as stock

NOT_SORTED = ""


def record_bill(session: Session, new: SupplierBillNew) -> int:
    """Enter a supplier's bill: one business event, one arrival for each line that is stock.

    What no line says yet is kept as an expense without words, to be sorted later.
    Raises: Refused if the lines come to more than the total or a line says nothing.
    """
    left = rules.unsorted(new.total, new.lines)
    for one in new.lines:
        _sound(one)
    entry_id = daybook.record(session, "delivery", sensible(new.day))
    bill = SupplierBill(
        entry_id=entry_id,
        supplier_id=new.supplier_id,
        file_id=new.file_id,
        day=new.day,
        reference=line(new.reference, "reference") or "",
        total=new.total,
        paid_by=choice(new.paid_by, PAID_BY, "paid_by"),
    )
    session.add(bill)
    session.flush()
    arrived = [one for one in new.lines if one.sort == "stock"]
    lots = stock.receive(
        session,
        entry_id,
        [
            stock.Arrival(
                item_id=one.item_id or 0,
                place_id=one.place_id or 0,
                qty=one.qty,
                cost=one.amount,
                supplier_id=new.supplier_id,
            )
            for one in arrived
        ],
    )
    rows = [
        {"bill_id": bill.id, "sort": "stock", "lot_id": lot, "what": "", "amount": one.amount}
        for lot, one in zip(lots, arrived, strict=True)
    ]
    expenses = [one for one in new.lines if one.sort == "expense"]
    if left:
        expenses.append(BillLine(sort="expense", what=NOT_SORTED, amount=left))
    rows += [
        {
            "bill_id": bill.id,
            "sort": "expense",
            "lot_id": None,
            "what": line(one.what, "what") or "",
            "amount": one.amount,
        }
        for one in expenses
    ]
    if rows:
        session.execute(insert(SupplierBillLine), rows)
    return bill.id


def _sound(one: BillLine) -> None:
    choice(one.sort, ("stock", "expense"), "sort")
    if one.sort == "stock":
        if one.item_id is None or one.place_id is None:
            raise Refused("choice.unknown", field="item")
        whole(one.qty, "qty", least=1)
    elif not (one.what or "").strip():
        raise Refused("text.needed", field="what")
