"""What must hold of stock, recomputed from the raw rows.

Most checks add what two kinds of row say of the same thing, one side with its sign turned: what
does not come to nothing does not agree.
"""

from collections.abc import Callable, Iterator
from typing import Any

from sqlalchemy import Select, and_, case, exists, func, literal, or_, select, union_all
from sqlalchemy.orm import Session, aliased

from backoffice.db import Whole
from backoffice.errors import Broken
from backoffice.stock.models import Lot, LotLeft, OnHand, Shelf, ShortUse, StockMove, StockUse

Rows = Select[*tuple[Any, ...]]
_NOTHING = literal(0, Whole())
_Back = aliased(StockUse)
_UNDONE = exists().where(_Back.undoes_id == StockUse.id)


def check(session: Session) -> Iterator[Broken]:
    """Find what is on a shelf, left of a delivery or owed to a use, and should not be."""
    for code, find in CHECKS:
        for row in session.execute(find()).mappings():
            yield Broken(code, dict(row))


def tallies() -> Rows:
    """Select what work used and waste took of each item at each place since its last count."""
    return (
        select(
            StockUse.item_id,
            StockUse.place_id,
            _sum_of("work").label("used"),
            _sum_of("waste").label("wasted"),
        )
        .join(Shelf, and_(Shelf.item_id == StockUse.item_id, Shelf.place_id == StockUse.place_id))
        .where(
            StockUse.undoes_id.is_(None),
            StockUse.entry_id > func.coalesce(Shelf.counted_entry_id, 0),
            ~_UNDONE,
        )
        .group_by(StockUse.item_id, StockUse.place_id)
    )


def _sum_of(why: str) -> Any:
    return func.sum(case((StockUse.why == why, StockUse.qty), else_=_NOTHING), type_=Whole())


def _disagreeing(*sides: Rows) -> Rows:
    """Select where the sides, each keys then qty and cost, do not come to nothing."""
    both = union_all(*sides).subquery()
    *keys, qty, cost = both.c
    return (
        select(*keys, func.sum(qty).label("qty"), func.sum(cost).label("cost_cents"))
        .group_by(*keys)
        .having(or_(func.sum(qty) != 0, func.sum(cost) != 0))
        .order_by(*keys)
    )


def _on_hand() -> Rows:
    here = StockMove.item_id, StockMove.place_id
    moved = select(*here, func.sum(StockMove.qty).label("qty"), _NOTHING.label("cost"))
    return _disagreeing(
        moved.group_by(*here), select(OnHand.item_id, OnHand.place_id, -OnHand.qty, _NOTHING)
    )


def _lot_left() -> Rows:
    here = StockMove.lot_id, StockMove.place_id
    moved = select(
        *here, func.sum(StockMove.qty).label("qty"), func.sum(StockMove.cost).label("cost")
    )
    return _disagreeing(
        moved.where(StockMove.lot_id.is_not(None)).group_by(*here),
        select(LotLeft.lot_id, LotLeft.place_id, -LotLeft.qty, -LotLeft.cost),
    )


def _received() -> Rows:
    used = select(StockMove.lot_id, func.sum(StockMove.qty), func.sum(StockMove.cost))
    return _disagreeing(
        select(Lot.id.label("lot_id"), Lot.qty.label("qty"), Lot.cost.label("cost")),
        select(LotLeft.lot_id, -LotLeft.qty, -LotLeft.cost),
        used.where(StockMove.lot_id.is_not(None), StockMove.use_id.is_not(None)).group_by(
            StockMove.lot_id
        ),
    )


def _counted_shelf() -> Rows:
    def where_counted(rows: Rows, table: type[OnHand | LotLeft | ShortUse]) -> Rows:
        here = and_(Shelf.item_id == table.item_id, Shelf.place_id == table.place_id)
        return rows.join(Shelf, here).where(Shelf.counted_since.is_not(None))

    held = select(OnHand.item_id, OnHand.place_id, OnHand.qty.label("qty"), _NOTHING.label("cost"))
    left = select(LotLeft.item_id, LotLeft.place_id, -LotLeft.qty, _NOTHING)
    owed = select(ShortUse.item_id, ShortUse.place_id, ShortUse.qty, _NOTHING)
    return _disagreeing(
        where_counted(held, OnHand), where_counted(left, LotLeft), where_counted(owed, ShortUse)
    )


def _short_use() -> Rows:
    """Select debts unlike what uses of counted shelves took beyond stock since the first count."""
    here = StockMove.item_id, StockMove.place_id
    beyond = StockMove.lot_id.is_(None)
    opened = (
        select(*here, func.min(StockMove.id).label("opening"))
        .where(beyond, StockMove.sort == "count", StockMove.use_id.is_(None), StockMove.qty > 0)
        .group_by(*here)
        .subquery()
    )
    owing = (
        select(
            StockMove.use_id,
            *here,
            func.min(StockMove.id).label("began"),
            func.sum(StockMove.qty).label("qty"),
            func.sum(StockMove.cost).label("cost"),
        )
        .where(beyond, StockMove.use_id.is_not(None))
        .group_by(StockMove.use_id, *here)
        .having(or_(func.sum(StockMove.qty) != 0, func.sum(StockMove.cost) != 0))
        .subquery()
    )
    place = and_(Shelf.item_id == owing.c.item_id, Shelf.place_id == owing.c.place_id)
    recomputed = (
        select(owing.c.use_id, owing.c.item_id, owing.c.place_id, owing.c.qty, owing.c.cost)
        .join(Shelf, place)
        .outerjoin(
            opened,
            and_(opened.c.item_id == owing.c.item_id, opened.c.place_id == owing.c.place_id),
        )
        .where(Shelf.counted_since.is_not(None), owing.c.began > func.coalesce(opened.c.opening, 0))
    )
    return _disagreeing(
        recomputed,
        select(ShortUse.use_id, ShortUse.item_id, ShortUse.place_id, ShortUse.qty, ShortUse.cost),
    )


def _used() -> Rows:
    kept = select(OnHand.item_id, OnHand.place_id, -OnHand.used, -OnHand.wasted)
    both = _disagreeing(tallies(), kept).subquery()
    return select(
        both.c.item_id, both.c.place_id, both.c.qty.label("used"), both.c.cost_cents.label("wasted")
    )


def _use() -> Rows:
    standing = select(
        StockUse.id.label("use_id"), StockUse.qty.label("qty"), _NOTHING.label("cost")
    )
    moved = select(StockMove.use_id, func.sum(StockMove.qty), _NOTHING)
    return _disagreeing(
        standing.where(StockUse.undoes_id.is_(None), ~_UNDONE),
        moved.where(StockMove.use_id.is_not(None)).group_by(StockMove.use_id),
    )


def _undone() -> Rows:
    left = func.sum(StockMove.cost)
    return (
        select(StockMove.use_id, left.label("cost_cents"))
        .join(_Back, _Back.undoes_id == StockMove.use_id)
        .group_by(StockMove.use_id)
        .having(left != 0)
    )


def _undoing() -> Rows:
    return (
        select(_Back.id.label("use_id"), StockUse.id.label("undoes_id"))
        .join(StockUse, _Back.undoes_id == StockUse.id)
        .where(
            or_(
                StockUse.undoes_id.is_not(None),
                StockUse.item_id != _Back.item_id,
                StockUse.place_id != _Back.place_id,
                StockUse.qty != _Back.qty,
                StockUse.why != _Back.why,
            )
        )
    )


def _last_cost() -> Rows:
    last = (
        select(func.max(StockMove.id).label("id"))
        .where(StockMove.sort.in_(("arrive", "transfer")), StockMove.qty > 0)
        .group_by(StockMove.item_id, StockMove.place_id)
        .subquery()
    )
    arrived = select(StockMove.item_id, StockMove.place_id, StockMove.qty, StockMove.cost)
    return _disagreeing(
        arrived.join(last, last.c.id == StockMove.id),
        select(
            OnHand.item_id,
            OnHand.place_id,
            -func.coalesce(OnHand.last_qty, 0),
            -func.coalesce(OnHand.last_cost, 0),
        ),
    )


CHECKS: tuple[tuple[str, Callable[[], Rows]], ...] = (
    ("broken.on_hand", _on_hand),
    ("broken.lot_left", _lot_left),
    ("broken.lot_received", _received),
    ("broken.counted_shelf", _counted_shelf),
    ("broken.short_use", _short_use),
    ("broken.used", _used),
    ("broken.use_moved", _use),
    ("broken.use_undone", _undone),
    ("broken.undoing", _undoing),
    ("broken.last_cost", _last_cost),
)
