"""Entering a supplier's bill once, saying later what it was, and a day's pay for who came along."""

from collections.abc import Sequence
from datetime import date

from sqlalchemy import insert
from sqlalchemy.orm import Session

from backoffice.books import queries, rules
from backoffice.books.models import PayOwed, SupplierBill, SupplierBillLine
from backoffice.books.rules import NOT_SORTED, PAID_BY, BillLine, SupplierBillNew
from backoffice.daybook import service as daybook
from backoffice.days import sensible
from backoffice.errors import Refused
from backoffice.practice import queries as practice
from backoffice.practice.rules import choice, line, whole
from backoffice.stock import service as stock
from backoffice.visits import service as visits
from backoffice.visits.rules import FactSort, Said


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
    _write(session, bill, new.lines, entry_id=entry_id, said_later=False, rest=left)
    return bill.id


def sort_bill(session: Session, bill_id: int, lines: Sequence[BillLine], *, today: date) -> None:
    """Say later what a bill was: its stock arrives, and what was not sorted yet becomes less.

    The arrival is dated as the bill is, and never later than today.
    Raises: Refused if the lines come to more than what is not sorted yet or a line says nothing.
    """
    bill = session.get(SupplierBill, bill_id, with_for_update=True)
    if bill is None:
        raise Refused("record.missing")
    left = queries.unsorted_of(session, bill_id)
    after = rules.still_unsorted(left, lines)
    for one in lines:
        _sound(one)
    entry_id = daybook.record(session, "delivery", min(bill.day, today))
    _write(session, bill, lines, entry_id=entry_id, said_later=True, rest=after - left)


def _sound(one: BillLine) -> None:
    choice(one.sort, ("stock", "expense"), "sort")
    if one.sort == "stock":
        if one.item_id is None or one.place_id is None:
            raise Refused("choice.unknown", field="item")
        whole(one.qty, "qty", least=1)
    elif not (one.what or "").strip():
        raise Refused("text.needed", field="what")


def _write(
    session: Session,
    bill: SupplierBill,
    lines: Sequence[BillLine],
    *,
    entry_id: int,
    said_later: bool,
    rest: int,
) -> None:
    """Write lines of a bill, and what the part without words becomes more or less by them."""
    arrived = [one for one in lines if one.sort == "stock"]
    lots = stock.receive(
        session,
        entry_id,
        [
            stock.Arrival(
                item_id=one.item_id or 0,
                place_id=one.place_id or 0,
                qty=one.qty,
                cost=one.amount,
                supplier_id=bill.supplier_id,
            )
            for one in arrived
        ],
    )
    shared = {"bill_id": bill.id, "entry_id": entry_id if said_later else None}
    rows = [
        {**shared, "sort": "stock", "lot_id": lot, "what": "", "amount": one.amount}
        for lot, one in zip(lots, arrived, strict=True)
    ]
    expenses = [
        (line(one.what, "what") or "", one.amount) for one in lines if one.sort == "expense"
    ]
    if rest:
        expenses.append((NOT_SORTED, rest))
    rows += [
        {**shared, "sort": "expense", "lot_id": None, "what": what, "amount": amount}
        for what, amount in expenses
    ]
    if rows:
        session.execute(insert(SupplierBillLine), rows)


def come_along(session: Session, day: date, farrier_id: int | None, *, today: date) -> None:
    """Say at every stop of a day which apprentice came along, or nobody, and owe his day's pay.

    Said twice it counts once. Another answer takes the first one's pay back.
    Raises: Refused for a day without a stop or still to come, and for anybody but an apprentice.
    """
    if day > today:
        raise Refused("books.day_to_come", on_day=day)
    day_pay = None
    if farrier_id is not None:
        person = practice.farrier(session, farrier_id)
        if person.sort != "apprentice":
            raise Refused("books.not_an_apprentice", field="farrier", name=person.name)
        day_pay = person.day_pay
    stops = queries.hold_stops(session, day)
    if not stops:
        raise Refused("books.no_stop", on_day=day)
    for stop in stops:
        if stop.times_said and stop.farrier_id == farrier_id:
            continue
        fact = Said(
            id=f"{stop.key}|along|{stop.times_said + 1}|{farrier_id or 0}",
            subject="",
            sort=FactSort.ALONG,
            data={"farrier": farrier_id},
        )
        visits.say(session, stop.visit_id, [fact])
    _owe(session, day, farrier_id, day_pay)


def _owe(session: Session, day: date, farrier_id: int | None, day_pay: int | None) -> None:
    change = rules.pay_change(queries.pay_standing(session, day), farrier_id, day_pay)
    rows: list[dict[str, int | None]] = [
        {"farrier_id": one.farrier_id, "amount": -one.amount, "undoes_id": one.id}
        for one in change.take_back
    ]
    if change.owe is not None:
        rows.append({"farrier_id": farrier_id, "amount": change.owe, "undoes_id": None})
    if rows:
        entry_id = daybook.record(session, "pay", day)
        session.execute(
            insert(PayOwed), [{"entry_id": entry_id, "day": day, **row} for row in rows]
        )
