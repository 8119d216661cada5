"""The sheets of the shelf, the tools and the money that went out."""

from collections import defaultdict
from collections.abc import Iterator

from sqlalchemy import func, select
from sqlalchemy.orm import Session, aliased

from backoffice.books.models import PayOwed, SupplierBill, SupplierBillLine
from backoffice.books.rules import NOT_SORTED
from backoffice.interchange.document.sheets import Column, Sheet
from backoffice.interchange.queries.names import Names
from backoffice.stock.models import ITEM_KINDS, Item, Lot, LotLeft, OnHand, Shelf
from backoffice.tools.models import TOOL_KINDS, Tool, ToolState

Row = tuple[object, ...]


def shelf(session: Session, names: Names) -> Sheet:
    """What is kept at each place, in single pieces, and what those left of deliveries cost."""
    say = names.say
    return Sheet(
        say("taken.shelf"),
        (
            Column(say("taken.kind"), width=12),
            Column(say("taken.what"), width=30),
            Column(say("taken.size"), width=10),
            Column(say("taken.fits"), width=14),
            Column(say("taken.where"), width=18),
            Column(say("taken.on_hand"), "count"),
            Column(say("taken.worth"), "amount"),
            Column(say("taken.pack"), "count"),
            Column(say("taken.supplier")),
            Column(say("taken.counted"), "day"),
        ),
        _shelf(session, names),
    )


def _shelf(session: Session, names: Names) -> Iterator[Row]:
    worth = (
        select(LotLeft.item_id, LotLeft.place_id, func.sum(LotLeft.cost).label("cost"))
        .group_by(LotLeft.item_id, LotLeft.place_id)
        .subquery()
    )
    rows = session.execute(
        select(Item, OnHand.place_id, OnHand.qty, Shelf.counted_since, worth.c.cost)
        .outerjoin(OnHand, OnHand.item_id == Item.id)
        .outerjoin(Shelf, (Shelf.item_id == OnHand.item_id) & (Shelf.place_id == OnHand.place_id))
        .outerjoin(
            worth, (worth.c.item_id == OnHand.item_id) & (worth.c.place_id == OnHand.place_id)
        )
        .order_by(Item.id, OnHand.place_id)
    ).all()
    for item, place_id, qty, counted_since, cost in sorted(
        rows, key=lambda row: (ITEM_KINDS.index(row[0].sort), row[0].size_key)
    ):
        yield (
            names.word("item_sort", item.sort),
            item.name,
            item.size_text,
            names.word("pattern", item.pattern) if item.sort == "shoe" else None,
            names.places.get(place_id),
            qty if counted_since else None,
            None if cost is None else int(cost),
            item.pack,
            names.suppliers.get(item.supplier_id),
            counted_since,
        )


def tools(session: Session, names: Names) -> Sheet:
    """Every tool with the work it has done, in ordinary horses."""
    say = names.say
    return Sheet(
        say("taken.tools"),
        (
            Column(say("taken.tool"), width=16),
            Column(say("taken.which"), width=26),
            Column(say("taken.where"), width=18),
            Column(say("taken.bought"), "day"),
            Column(say("taken.cost"), "amount"),
            Column(say("taken.since"), "horses"),
            Column(say("taken.in_all"), "horses"),
            Column(say("taken.looked_at"), "day"),
            Column(say("taken.state")),
        ),
        _tools(session, names),
    )


def _tools(session: Session, names: Names) -> Iterator[Row]:
    rows = session.execute(
        select(Tool, ToolState).outerjoin(ToolState, ToolState.tool_id == Tool.id).order_by(Tool.id)
    ).all()
    for tool, state in sorted(rows, key=lambda row: TOOL_KINDS.index(row[0].sort)):
        trouble = state.trouble if state else None
        yield (
            names.word("tool", tool.sort),
            tool.name,
            names.places.get(tool.place_id),
            tool.bought,
            tool.price,
            state.since if state else None,
            state.total if state else None,
            state.look_day if state else None,
            names.say("taken.put_away") if tool.hidden else names.word("taken", trouble),
        )


def spending(session: Session, names: Names) -> Sheet:
    """All money that went out or is owed, line by line of each bill, and each day along."""
    say = names.say
    return Sheet(
        say("taken.spending"),
        (
            Column(say("taken.date"), "day"),
            Column(say("taken.paid_to"), width=26),
            Column(say("taken.for"), width=34),
            Column(say("taken.amount"), "amount"),
            Column(say("taken.method"), width=16),
            Column(say("taken.reference"), width=18),
            Column(say("taken.kept"), width=14),
        ),
        _spending(session, names),
    )


def _spending(session: Session, names: Names) -> Iterator[Row]:
    unsorted = (SupplierBillLine.sort == "expense") & (SupplierBillLine.what == NOT_SORTED)
    rest: dict[int, int] = dict(
        session.execute(
            select(SupplierBillLine.bill_id, func.sum(SupplierBillLine.amount))
            .where(unsorted)
            .group_by(SupplierBillLine.bill_id)
        ).all()
    )
    lines: dict[int, list[tuple[str | None, int]]] = defaultdict(list)
    for bill_id, said, item_id, amount in session.execute(
        select(
            SupplierBillLine.bill_id, SupplierBillLine.what, Lot.item_id, SupplierBillLine.amount
        )
        .outerjoin(Lot, Lot.id == SupplierBillLine.lot_id)
        .where(~unsorted)
        .order_by(SupplierBillLine.id)
    ):
        lines[bill_id].append((names.items.get(item_id) or said, amount))
    for bill in session.scalars(select(SupplierBill).order_by(SupplierBill.day, SupplierBill.id)):
        if left := int(rest.get(bill.id, 0)):
            lines[bill.id].append((names.say("taken.not_sorted"), left))
        for what, amount in lines[bill.id]:
            yield (
                bill.day,
                names.suppliers.get(bill.supplier_id),
                what,
                amount,
                names.word("paid_by", bill.paid_by),
                bill.reference,
                names.say("taken.no" if bill.file_id is None else "taken.yes"),
            )
    undoing = aliased(PayOwed)
    owed = session.scalars(
        select(PayOwed)
        .outerjoin(undoing, undoing.undoes_id == PayOwed.id)
        .where(PayOwed.undoes_id.is_(None), undoing.id.is_(None))
        .order_by(PayOwed.day, PayOwed.id)
    )
    for pay in owed:
        yield (
            pay.day,
            names.farriers.get(pay.farrier_id),
            names.say("taken.day_along"),
            pay.amount,
            names.word("paid_by", "unpaid"),
            None,
            names.say("taken.no"),
        )
