"""What was bought, from whom, and what of it is stock? Who came along, and what is he owed?"""

from dataclasses import dataclass
from datetime import date

from sqlalchemy import ColumnElement, case, func, select
from sqlalchemy.orm import Session, aliased

from backoffice.books.models import PayOwed, SupplierBill, SupplierBillLine
from backoffice.books.rules import NOT_SORTED, DayPaid
from backoffice.practice.models import Farrier
from backoffice.practice.rules import PAGE, Listed
from backoffice.stock.models import Item, Lot
from backoffice.suppliers.models import Supplier
from backoffice.visits.models import Fact, Visit, Work


@dataclass(frozen=True, slots=True, kw_only=True)
class SpendingLine:
    """A supplier's bill in a list; ``unsorted`` of it no line says yet."""

    id: int
    day: date
    supplier: str | None
    reference: str
    total: int
    paid_by: str
    file_id: int | None
    unsorted: int


@dataclass(frozen=True, slots=True, kw_only=True)
class SpendingPart:
    """A line of a supplier's bill."""

    sort: str
    item_id: int | None
    item: str | None
    size: str | None
    qty: int | None
    what: str
    amount: int


@dataclass(frozen=True, slots=True, kw_only=True)
class SpendingCard:
    """A supplier's bill and what its lines say."""

    line: SpendingLine
    parts: tuple[SpendingPart, ...]


_WORDLESS = (SupplierBillLine.sort == "expense") & (SupplierBillLine.what == NOT_SORTED)
_LEFT = (
    select(SupplierBillLine.bill_id, func.sum(SupplierBillLine.amount).label("left"))
    .where(_WORDLESS)
    .group_by(SupplierBillLine.bill_id)
    .subquery()
)
_UNSORTED = func.coalesce(_LEFT.c.left, 0)
_BILLS = (
    select(
        SupplierBill.id,
        SupplierBill.day,
        Supplier.name.label("supplier"),
        SupplierBill.reference,
        SupplierBill.total,
        SupplierBill.paid_by,
        SupplierBill.file_id,
        _UNSORTED.label("unsorted"),
    )
    .outerjoin(Supplier, Supplier.id == SupplierBill.supplier_id)
    .outerjoin(_LEFT, _LEFT.c.bill_id == SupplierBill.id)
)


def bill_list(session: Session, page: int = 1) -> Listed[SpendingLine]:
    """List suppliers' bills, those not sorted yet before all others, the newest first."""
    found = session.execute(
        _BILLS.order_by(
            case((_UNSORTED > 0, 0), else_=1), SupplierBill.day.desc(), SupplierBill.id.desc()
        )
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
        .where(SupplierBillLine.bill_id == bill_id, ~_WORDLESS)
        .order_by(SupplierBillLine.id)
    ).mappings()
    return SpendingCard(
        line=SpendingLine(**row), parts=tuple(SpendingPart(**part) for part in parts)
    )


def unsorted_of(session: Session, bill_id: int) -> int:
    """Give what of a supplier's bill no line says yet."""
    left = func.coalesce(func.sum(SupplierBillLine.amount), 0)
    found = select(left).where(SupplierBillLine.bill_id == bill_id, _WORDLESS)
    return int(session.execute(found).scalar_one())


@dataclass(frozen=True, slots=True, kw_only=True)
class StopAlong:
    """A stop, who is said to have come along there, and how often that was said."""

    visit_id: int
    key: str
    farrier_id: int | None
    times_said: int


@dataclass(frozen=True, slots=True, kw_only=True)
class AlongOn:
    """Who came along on a day; nobody, or not ``said`` yet."""

    day: date
    said: bool
    farrier_id: int | None
    name: str | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Along:
    """Who came along on a day, and who did on the last day worked before it."""

    on: AlongOn
    before: AlongOn | None


def _worked() -> ColumnElement[bool]:
    there = select(Work.id).where(Work.visit_id == Visit.id).exists()
    return (Visit.sort == "stop") & there


def _times_said() -> ColumnElement[int]:
    said = select(func.count(Fact.seq)).where(Fact.visit_id == Visit.id, Fact.sort == "along")
    return said.scalar_subquery()


def hold_stops(session: Session, day: date) -> tuple[StopAlong, ...]:
    """Give the stops of a day, and let nobody else say who came along until this is saved."""
    held = session.scalars(
        select(Visit.id).where(Visit.day == day, _worked()).order_by(Visit.id).with_for_update()
    ).all()
    rows = session.execute(
        select(Visit.id, Visit.key, Visit.helper_id, _times_said().label("times"))
        .where(Visit.id.in_(held))
        .order_by(Visit.id)
    )
    return tuple(
        StopAlong(visit_id=row.id, key=row.key, farrier_id=row.helper_id, times_said=row.times)
        for row in rows
    )


def along(session: Session, day: date) -> Along:
    """Say who came along on a day, and who did on the last day worked before it."""
    last = select(Visit.day).where(Visit.day < day, _worked())
    before = session.scalar(last.order_by(Visit.day.desc()).limit(1))
    rows = session.execute(
        select(Visit.day, Visit.helper_id, Farrier.name, _times_said().label("times"))
        .outerjoin(Farrier, Farrier.id == Visit.helper_id)
        .where(Visit.day.in_([day, before or day]), _worked())
        .order_by(Visit.id)
    ).all()

    def on(asked: date) -> AlongOn:
        of_day = [row for row in rows if row.day == asked]
        named = next((row for row in of_day if row.helper_id is not None), None)
        return AlongOn(
            day=asked,
            said=any(row.times for row in of_day),
            farrier_id=named.helper_id if named else None,
            name=named.name if named else None,
        )

    return Along(on=on(day), before=on(before) if before else None)


def pay_standing(session: Session, day: date) -> tuple[DayPaid, ...]:
    """Give the pay owed for a day that nobody took back."""
    undoing = aliased(PayOwed)
    rows = session.execute(
        select(PayOwed.id, PayOwed.farrier_id, PayOwed.amount)
        .outerjoin(undoing, undoing.undoes_id == PayOwed.id)
        .where(PayOwed.day == day, PayOwed.undoes_id.is_(None), undoing.id.is_(None))
        .order_by(PayOwed.id)
    )
    return tuple(DayPaid(**row) for row in rows.mappings())


@dataclass(frozen=True, slots=True, kw_only=True)
class PayLine:
    """What an apprentice is owed for the days he came along; ``unpaid`` of them owe nothing."""

    farrier_id: int
    name: str
    days: int
    unpaid: int
    amount: int


def pay_owed(session: Session, first: date, last: date) -> tuple[PayLine, ...]:
    """Give what each apprentice is owed for the days he came along from one day to another."""
    days = (
        select(Visit.helper_id.label("person"), func.count(Visit.day.distinct()).label("days"))
        .where(Visit.day.between(first, last), Visit.helper_id.is_not(None))
        .group_by(Visit.helper_id)
        .subquery()
    )
    owed = (
        select(
            PayOwed.farrier_id.label("person"),
            func.sum(PayOwed.amount).label("amount"),
            func.sum(case((PayOwed.undoes_id.is_(None), 1), else_=-1)).label("days"),
        )
        .where(PayOwed.day.between(first, last))
        .group_by(PayOwed.farrier_id)
        .subquery()
    )
    rows = session.execute(
        select(
            Farrier.id,
            Farrier.name,
            func.coalesce(days.c.days, 0).label("days"),
            func.coalesce(owed.c.days, 0).label("owed"),
            func.coalesce(owed.c.amount, 0).label("amount"),
        )
        .outerjoin(days, days.c.person == Farrier.id)
        .outerjoin(owed, owed.c.person == Farrier.id)
        .where((days.c.days > 0) | (owed.c.days > 0))
        .order_by(Farrier.id)
    )
    return tuple(
        PayLine(
            farrier_id=row.id,
            name=row.name,
            days=int(row.days),
            unpaid=max(0, int(row.days) - int(row.owed)),
            amount=int(row.amount),
        )
        for row in rows
    )
