"""Locking and reading shelves, and writing what a use case decided about them."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import replace
from typing import Any

from sqlalchemy import and_, bindparam, delete, insert, select, update
from sqlalchemy.dialects import postgresql, sqlite
from sqlalchemy.orm import Session

from backoffice.db import Base
from backoffice.stock import rules
from backoffice.stock.models import Item, LotLeft, OnHand, Shelf, ShortUse, StockMove
from backoffice.stock.rules import Key, Left, Move, Short

Shelves = dict[Key, rules.Shelf]


def open_shelves(session: Session, keys: Iterable[Key]) -> None:
    """Make the shelves of items at places that have none yet; nothing is known of them."""
    pairs = [{"item_id": item, "place_id": place} for item, place in sorted(set(keys))]
    empty = {"qty": 0, "used": 0, "wasted": 0}
    connection = session.connection()
    connection.execute(_insert(session, Shelf).on_conflict_do_nothing(), pairs)
    connection.execute(
        _insert(session, OnHand).on_conflict_do_nothing(), [pair | empty for pair in pairs]
    )


def _insert(session: Session, model: type[Base]) -> postgresql.Insert | sqlite.Insert:
    postgres = session.get_bind().dialect.name == "postgresql"
    return postgresql.insert(model) if postgres else sqlite.insert(model)


def lock(session: Session, keys: Iterable[Key]) -> Shelves:
    """Lock shelves and read them, with the deliveries they still hold."""
    wanted = set(keys)
    shelves = _locked(session, wanted)
    if wanted - shelves.keys():
        open_shelves(session, wanted - shelves.keys())
        shelves = _locked(session, wanted)
    held: dict[Key, list[Left]] = {key: [] for key in wanted}
    for item_id, place_id, *left in session.execute(
        select(LotLeft.item_id, LotLeft.place_id, LotLeft.lot_id, LotLeft.qty, LotLeft.cost)
        .where(
            LotLeft.item_id.in_({item for item, _ in wanted}),
            LotLeft.place_id.in_({place for _, place in wanted}),
            LotLeft.qty > 0,
        )
        .order_by(LotLeft.lot_id)
    ):
        if (item_id, place_id) in held:
            held[item_id, place_id].append(Left(*left))
    return {key: replace(shelf, lots=tuple(held[key])) for key, shelf in shelves.items()}


def _locked(session: Session, wanted: set[Key]) -> Shelves:
    rows = session.execute(
        select(
            OnHand.item_id,
            OnHand.place_id,
            OnHand.qty,
            OnHand.last_qty,
            OnHand.last_cost,
            OnHand.used,
            OnHand.wasted,
            Shelf.counted_since,
            Shelf.counted_entry_id,
            Item.sort,
        )
        .join(Item, Item.id == OnHand.item_id)
        .join(Shelf, and_(Shelf.item_id == OnHand.item_id, Shelf.place_id == OnHand.place_id))
        .where(
            OnHand.item_id.in_({item for item, _ in wanted}),
            OnHand.place_id.in_({place for _, place in wanted}),
        )
        .order_by(OnHand.item_id, OnHand.place_id)
        .with_for_update(of=[OnHand, Shelf])
    )
    return {
        (row.item_id, row.place_id): rules.Shelf(
            item_id=row.item_id,
            place_id=row.place_id,
            nails=row.sort == "nail",
            counted=row.counted_since is not None,
            counted_entry=row.counted_entry_id or 0,
            qty=row.qty,
            last_qty=row.last_qty,
            last_cost=row.last_cost,
            used=row.used,
            wasted=row.wasted,
        )
        for row in rows
        if (row.item_id, row.place_id) in wanted
    }


def with_debts(session: Session, shelves: Shelves) -> Shelves:
    """Read what locked shelves owe to uses beyond stock, oldest first."""
    owed: dict[Key, list[Short]] = {key: [] for key in shelves}
    for item_id, place_id, *short in session.execute(
        select(ShortUse.item_id, ShortUse.place_id, ShortUse.use_id, ShortUse.qty, ShortUse.cost)
        .where(
            ShortUse.item_id.in_({item for item, _ in shelves}),
            ShortUse.place_id.in_({place for _, place in shelves}),
        )
        .order_by(ShortUse.use_id)
    ):
        if (item_id, place_id) in owed:
            owed[item_id, place_id].append(Short(*short))
    return {key: replace(shelf, shorts=tuple(owed[key])) for key, shelf in shelves.items()}


def write(
    session: Session,
    entry_id: int,
    before: Mapping[Key, rules.Shelf],
    after: Mapping[Key, rules.Shelf],
    moves: Sequence[Move],
) -> None:
    """Write moves, and bring what is kept ready for quick reading in line with them."""
    if moves:
        session.connection().execute(
            insert(StockMove), [{"entry_id": entry_id} | _values(move) for move in moves]
        )
        _write_lots(session, moves)
    _write_on_hand(session, before, after)
    _write_shorts(session, before, after)


def _values(move: Move) -> dict[str, Any]:
    return {
        "item_id": move.item_id,
        "place_id": move.place_id,
        "lot_id": move.lot_id,
        "use_id": move.use_id,
        "sort": move.sort,
        "qty": move.qty,
        "cost": move.cost,
    }


def _write_lots(session: Session, moves: Sequence[Move]) -> None:
    change: dict[tuple[int, int, int], tuple[int, int]] = {}
    for move in moves:
        if move.lot_id is not None:
            key = (move.lot_id, move.place_id, move.item_id)
            qty, cost = change.get(key, (0, 0))
            change[key] = qty + move.qty, cost + move.cost
    comes = [(*key, *by) for key, by in sorted(change.items()) if by[0] > 0]
    goes = [(*key, *by) for key, by in sorted(change.items()) if by[0] < 0]
    connection = session.connection()
    if comes:
        new = _insert(session, LotLeft)
        new = new.on_conflict_do_update(
            index_elements=["lot_id", "place_id"],
            set_={"qty": LotLeft.qty + new.excluded.qty, "cost": LotLeft.cost + new.excluded.cost},
        )
        names = ("lot_id", "place_id", "item_id", "qty", "cost")
        connection.execute(new, [dict(zip(names, row, strict=True)) for row in comes])
    if goes:
        connection.execute(
            update(LotLeft)
            .where(LotLeft.lot_id == bindparam("lot"), LotLeft.place_id == bindparam("place"))
            .values(qty=LotLeft.qty + bindparam("more"), cost=LotLeft.cost + bindparam("cents")),
            [
                {"lot": lot, "place": place, "more": qty, "cents": cost}
                for lot, place, _, qty, cost in goes
            ],
        )


def _write_on_hand(
    session: Session, before: Mapping[Key, rules.Shelf], after: Mapping[Key, rules.Shelf]
) -> None:
    session.connection().execute(
        update(OnHand)
        .where(OnHand.item_id == bindparam("item"), OnHand.place_id == bindparam("place"))
        .values(
            qty=OnHand.qty + bindparam("more"),
            used=OnHand.used + bindparam("more_used"),
            wasted=OnHand.wasted + bindparam("more_wasted"),
            last_qty=bindparam("arrived"),
            last_cost=bindparam("arrived_cost"),
        ),
        [
            {
                "item": shelf.item_id,
                "place": shelf.place_id,
                "more": shelf.qty - before[key].qty,
                "more_used": shelf.used - before[key].used,
                "more_wasted": shelf.wasted - before[key].wasted,
                "arrived": shelf.last_qty,
                "arrived_cost": shelf.last_cost,
            }
            for key, shelf in sorted(after.items())
        ],
    )


def _write_shorts(
    session: Session, before: Mapping[Key, rules.Shelf], after: Mapping[Key, rules.Shelf]
) -> None:
    old = {s.use_id: s for shelf in before.values() for s in shelf.shorts}
    now = {s.use_id: (key, s) for key, shelf in after.items() for s in shelf.shorts}
    connection = session.connection()
    new = [
        {"use_id": s.use_id, "item_id": key[0], "place_id": key[1], "qty": s.qty, "cost": s.cost}
        for key, s in now.values()
        if s.use_id not in old
    ]
    gone = old.keys() - now.keys()
    changed = [
        {"use": s.use_id, "less": old[s.use_id].qty - s.qty, "cents": old[s.use_id].cost - s.cost}
        for _, s in now.values()
        if s.use_id in old and old[s.use_id] != s
    ]
    if new:
        connection.execute(insert(ShortUse), new)
    if gone:
        connection.execute(delete(ShortUse).where(ShortUse.use_id.in_(gone)))
    if changed:
        connection.execute(
            update(ShortUse)
            .where(ShortUse.use_id == bindparam("use"))
            .values(qty=ShortUse.qty - bindparam("less"), cost=ShortUse.cost - bindparam("cents")),
            changed,
        )
