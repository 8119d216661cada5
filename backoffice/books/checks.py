"""Is what was bought in the books what arrived on the shelf, and is each day along owed once?"""

from collections.abc import Iterator

from sqlalchemy import func, select
from sqlalchemy.orm import Session, aliased

from backoffice.books.models import PayOwed, SupplierBill, SupplierBillLine
from backoffice.books.rules import NOT_SORTED
from backoffice.errors import Broken
from backoffice.stock.models import Lot
from backoffice.visits.models import Visit


def check(session: Session) -> Iterator[Broken]:
    """Find bills that do not add up, deliveries on no bill or at another cost, and wrong pay."""
    yield from _totals(session)
    yield from _said_later(session)
    yield from _deliveries(session)
    yield from _pay(session)


def _totals(session: Session) -> Iterator[Broken]:
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


def _said_later(session: Session) -> Iterator[Broken]:
    """Find bills of which more was sorted than was left, or other than what was taken off it."""
    beyond = session.scalars(
        select(SupplierBillLine.bill_id)
        .where(SupplierBillLine.sort == "expense", SupplierBillLine.what == NOT_SORTED)
        .group_by(SupplierBillLine.bill_id)
        .having(func.sum(SupplierBillLine.amount) < 0)
        .order_by(SupplierBillLine.bill_id)
    )
    for bill_id in beyond:
        yield Broken("check.sorted_beyond", {"bill": bill_id})
    uneven = session.scalars(
        select(SupplierBillLine.bill_id)
        .where(SupplierBillLine.entry_id.is_not(None))
        .group_by(SupplierBillLine.bill_id, SupplierBillLine.entry_id)
        .having(func.sum(SupplierBillLine.amount) != 0)
        .order_by(SupplierBillLine.bill_id, SupplierBillLine.entry_id)
    )
    for bill_id in uneven:
        yield Broken("check.sorted_uneven", {"bill": bill_id})


def _deliveries(session: Session) -> Iterator[Broken]:
    came_with = func.coalesce(SupplierBillLine.entry_id, SupplierBill.entry_id)
    astray = session.scalars(
        select(Lot.id)
        .join(SupplierBillLine, SupplierBillLine.lot_id == Lot.id)
        .join(SupplierBill, SupplierBill.id == SupplierBillLine.bill_id)
        .where((SupplierBillLine.amount != Lot.cost) | (came_with != Lot.entry_id))
        .order_by(Lot.id)
    )
    for lot_id in astray:
        yield Broken("check.delivery_cost", {"delivery": lot_id})
    of_bills = select(SupplierBill.entry_id).union(
        select(SupplierBillLine.entry_id).where(SupplierBillLine.entry_id.is_not(None))
    )
    loose = session.scalars(
        select(Lot.id)
        .outerjoin(SupplierBillLine, SupplierBillLine.lot_id == Lot.id)
        .where(Lot.entry_id.in_(of_bills), SupplierBillLine.id.is_(None))
        .order_by(Lot.id)
    )
    for lot_id in loose:
        yield Broken("check.delivery_unbilled", {"delivery": lot_id})


def _pay(session: Session) -> Iterator[Broken]:
    """Find a day owed twice, pay wrongly taken back, and pay for a day nobody is said to have come.

    That every day along is owed cannot be proved: his pay may have been set only afterwards.
    """
    first, undoing = aliased(PayOwed), aliased(PayOwed)
    wrong = session.scalars(
        select(undoing.id)
        .join(first, first.id == undoing.undoes_id)
        .where(
            (first.undoes_id.is_not(None))
            | (first.farrier_id != undoing.farrier_id)
            | (first.day != undoing.day)
            | (first.amount != -undoing.amount)
        )
        .order_by(undoing.id)
    )
    for pay_id in wrong:
        yield Broken("check.pay_taken_back", {"pay": pay_id})
    standing = (
        select(PayOwed.farrier_id, PayOwed.day)
        .outerjoin(undoing, undoing.undoes_id == PayOwed.id)
        .where(PayOwed.undoes_id.is_(None), undoing.id.is_(None))
    )
    twice = session.execute(
        standing.group_by(PayOwed.farrier_id, PayOwed.day)
        .having(func.count() > 1)
        .order_by(PayOwed.day, PayOwed.farrier_id)
    )
    for farrier_id, day in twice:
        yield Broken("check.pay_twice", {"person": farrier_id, "on_day": day})
    along = select(Visit.id).where(Visit.day == PayOwed.day, Visit.helper_id == PayOwed.farrier_id)
    unearned = session.execute(
        standing.where(~along.exists()).order_by(PayOwed.day, PayOwed.farrier_id)
    )
    for farrier_id, day in unearned:
        yield Broken("check.pay_not_along", {"person": farrier_id, "on_day": day})
