"""Taking from stock and putting into it, carrying it about and counting it.

Each use case reads what it needs in a fixed number of statements, decides in ``rules``, and
writes its rows together. Shelves are locked in the order of their items before anything else is
read, so what was read still holds when it is written.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date

from sqlalchemy import func, insert, select
from sqlalchemy.orm import Session

from backoffice.db import insert_numbered
from backoffice.errors import Refused
from backoffice.practice.rules import amount, choice, line, needed, note, whole
from backoffice.practice.service import save_record
from backoffice.stock import rules
from backoffice.stock.checks import tallies
from backoffice.stock.models import ITEM_KINDS, Item, Lot, Shelf, StockMove, StockUse
from backoffice.stock.rules import Draw, ItemDetails, Key, Left, Move, Use
from backoffice.stock.service.shelves import (
    Shelves,
    lock,
    open_shelves,
    with_debts,
    write,
)
from backoffice.units import size_key

__all__ = [
    "Arrival",
    "Counted",
    "Draw",
    "Drawn",
    "ItemDetails",
    "count",
    "draw",
    "first_count",
    "open_shelves",
    "receive",
    "save_item",
    "transfer",
    "undo",
]


@dataclass(frozen=True, slots=True)
class Drawn:
    """What was taken for one draw, or the waste that ticked over at it.

    ``short`` singles of it were beyond stock, and ``assumed`` of its cost rests on them.
    """

    draw_no: int
    use_id: int
    item_id: int
    qty: int
    cost: int
    short: int
    waste: bool
    assumed: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Arrival:
    """Singles of an item delivered to a place, and what all of them cost."""

    item_id: int
    place_id: int
    qty: int
    cost: int
    supplier_id: int | None = None
    expires: date | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Counted:
    """What a count changed; ``first`` began the counting, ``unpriced`` is what never had a cost."""

    found: int
    more: int
    less: int
    first: bool
    unpriced: bool


def save_item(session: Session, details: ItemDetails, item_id: int | None = None) -> int:
    """Save something that is kept in stock."""
    size = line(details.size_text, "size_text") or ""
    return save_record(
        session,
        Item,
        item_id,
        details.version,
        sort=choice(details.sort, ITEM_KINDS, "sort"),
        name=needed(details.name, "name"),
        size_text=size,
        size_key=size_key(size),
        pattern=choice(details.pattern, rules.PATTERNS, "pattern"),
        pack=whole(details.pack, "pack", least=1),
        care=note(details.care, "care") or "",
        supplier_id=details.supplier_id,
        hidden=details.hidden,
    )


def _arrive(shelves: Shelves, key: Key, part: Left, sort: str) -> tuple[Move, ...]:
    shelves[key], moves = rules.arrive(shelves[key], part, sort)
    return moves


def _new_uses(session: Session, uses: Sequence[Use]) -> list[Use]:
    ids = insert_numbered(
        session,
        StockUse,
        [
            {
                "entry_id": use.entry_id,
                "item_id": use.item_id,
                "place_id": use.place_id,
                "qty": use.qty,
                "why": use.why,
                "undoes_id": None,
            }
            for use in uses
        ],
    )
    return [replace(use, id=use_id) for use, use_id in zip(uses, ids, strict=True)]


def _new_lots(session: Session, entry_id: int, arrivals: Sequence[Arrival]) -> tuple[int, ...]:
    if not arrivals:
        return ()
    found = insert_numbered(
        session,
        Lot,
        [
            {
                "entry_id": entry_id,
                "item_id": arrival.item_id,
                "supplier_id": arrival.supplier_id,
                "qty": arrival.qty,
                "cost": arrival.cost,
                "expires": arrival.expires,
            }
            for arrival in arrivals
        ],
    )
    return tuple(found)


def draw(
    session: Session, entry_id: int, draws: Sequence[Draw], *, waste_ppm: int = 0
) -> tuple[Drawn, ...]:
    """Take things from their places, first in first out, with the waste of nails that goes with it.

    Nothing is refused: what the books do not hold is taken beyond stock.
    """
    if not draws:
        return ()
    before = lock(session, ((one.item_id, one.place_id) for one in draws))
    uses = _new_uses(session, rules.uses_of(entry_id, draws, before, waste_ppm))
    after, moves, drawn = dict(before), list[Move](), []
    for use in uses:
        taken = rules.take(after[use.key], use)
        after[use.key] = taken.shelf
        moves += taken.moves
        drawn.append(
            Drawn(
                draw_no=use.draw_no,
                use_id=use.id,
                item_id=use.item_id,
                qty=use.qty,
                cost=taken.cost,
                short=taken.short,
                waste=use.why == "waste",
                assumed=taken.assumed,
            )
        )
    write(session, entry_id, before, after, moves)
    return tuple(drawn)


def undo(session: Session, entry_id: int, use_ids: Sequence[int]) -> None:
    """Take uses back: the same singles with the same cents to where they came from.

    Raises: Refused for a use that was taken back before, and one there is not.
    """
    if not use_ids:
        return
    uses = _uses(session, use_ids)
    before = with_debts(session, lock(session, (use.key for use in uses)))
    twice = select(StockUse.id).where(StockUse.undoes_id.in_(use_ids)).limit(1)
    if len(set(use_ids)) < len(use_ids) or session.scalar(twice) is not None:
        raise Refused("stock.already_undone")
    taken = _net_of(session, use_ids)
    unopened = [
        (use.id, part)
        for use in uses
        for part in [rules.before_first_count(before[use.key], use, taken[use.id])]
        if part is not None
    ]
    by_id = {use.id: use for use in uses}
    lots = _new_lots(
        session,
        entry_id,
        [
            Arrival(
                item_id=by_id[use_id].item_id,
                place_id=by_id[use_id].place_id,
                qty=part.qty,
                cost=part.cost,
            )
            for use_id, part in unopened
        ],
    )
    lot_of = {use_id: lot_id for (use_id, _), lot_id in zip(unopened, lots, strict=True)}
    after = {key: rules.forget(shelf, use_ids) for key, shelf in before.items()}
    moves: list[Move] = []
    for use in uses:
        given = rules.give_back(after[use.key], use, taken[use.id], lot_of.get(use.id))
        after[use.key] = given[0]
        moves += given[1]
    session.connection().execute(
        insert(StockUse),
        [
            {
                "entry_id": entry_id,
                "item_id": use.item_id,
                "place_id": use.place_id,
                "qty": use.qty,
                "why": use.why,
                "undoes_id": use.id,
            }
            for use in uses
        ],
    )
    write(session, entry_id, before, after, moves)


def _uses(session: Session, use_ids: Sequence[int]) -> list[Use]:
    rows = session.execute(
        select(
            StockUse.id,
            StockUse.entry_id,
            StockUse.item_id,
            StockUse.place_id,
            StockUse.qty,
            StockUse.why,
        )
        .where(StockUse.id.in_(use_ids), StockUse.undoes_id.is_(None))
        .order_by(StockUse.id)
    )
    uses = [Use(**row) for row in rows.mappings()]
    if len(uses) < len(set(use_ids)):
        raise Refused("record.missing")
    return uses


def _net_of(session: Session, use_ids: Sequence[int]) -> dict[int, tuple[Left, ...]]:
    """Read what uses took in the end, true-ups included."""
    rows = session.execute(
        select(
            StockMove.item_id,
            StockMove.place_id,
            StockMove.lot_id,
            StockMove.use_id,
            StockMove.sort,
            StockMove.qty,
            StockMove.cost,
        ).where(StockMove.use_id.in_(use_ids))
    )
    moves: dict[int, list[Move]] = {use_id: [] for use_id in use_ids}
    for row in rows.mappings():
        moves[row["use_id"]].append(Move(**row))
    return {use_id: rules.net(own) for use_id, own in moves.items()}


def receive(session: Session, entry_id: int, arrivals: Sequence[Arrival]) -> tuple[int, ...]:
    """Put deliveries on their shelves; give the number each delivery got.

    Raises: Refused for a quantity or a cost that cannot be meant.
    """
    for arrival in arrivals:
        whole(arrival.qty, "qty", least=1)
        amount(arrival.cost, "cost")
    if not arrivals:
        return ()
    keys = [(arrival.item_id, arrival.place_id) for arrival in arrivals]
    before = with_debts(session, lock(session, keys))
    lots = _new_lots(session, entry_id, arrivals)
    after, moves = dict(before), list[Move]()
    for lot_id, key, arrival in zip(lots, keys, arrivals, strict=True):
        moves += _arrive(after, key, Left(lot_id, arrival.qty, arrival.cost), "arrive")
    write(session, entry_id, before, after, moves)
    return lots


def transfer(
    session: Session, entry_id: int, item_id: int, from_place: int, to_place: int, qty: int
) -> None:
    """Carry singles from one place to another, with the same cents.

    Raises: Refused for more than the books hold there, and from a place to itself.
    """
    whole(qty, "qty", least=1)
    if from_place == to_place:
        raise Refused("stock.same_place", field="to_place")
    here, there = (item_id, from_place), (item_id, to_place)
    before = with_debts(session, lock(session, (here, there)))
    held = before[here].in_lots
    if qty > held:
        raise Refused("stock.not_so_many", field="qty", have=held)
    left, arrived, moves = rules.carry(before[here], before[there], qty)
    write(session, entry_id, before, {here: left, there: arrived}, moves)


def count(
    session: Session, entry_id: int, item_id: int, place_id: int, found: int, day: date
) -> Counted:
    """Say what was counted on a shelf on a day; the books follow.

    Raises: Refused for less than nothing.
    """
    whole(found, "found")
    key = (item_id, place_id)
    before = with_debts(session, lock(session, (key,)))
    shelf, moves = before[key], list[Move]()
    first = not shelf.counted
    if first:
        shelf, opening = rules.open_shelf(shelf, _beyond_cost(session, key))
        moves += opening
    difference = found - shelf.qty
    cost = 0
    if difference < 0:
        loss = Use(
            entry_id=entry_id, item_id=item_id, place_id=place_id, qty=-difference, why="loss"
        )
        taken = rules.take(shelf, _new_uses(session, (loss,))[0])
        shelf = taken.shelf
        moves += taken.moves
    elif difference > 0:
        cost = rules.assumed_cost(shelf, difference)
        gain = Arrival(item_id=item_id, place_id=place_id, qty=difference, cost=cost)
        (lot_id,) = _new_lots(session, entry_id, (gain,))
        shelf, arrived = rules.arrive(shelf, Left(lot_id, difference, cost), "count")
        moves += arrived
    used, wasted = _count_shelf(session, key, entry_id, day)
    write(session, entry_id, before, {key: replace(shelf, used=used, wasted=wasted)}, moves)
    return Counted(
        found=found,
        more=max(0, difference),
        less=max(0, -difference),
        first=first,
        unpriced=difference > 0 and shelf.last_qty is None,
    )


def first_count(
    session: Session, entry_id: int, first: Arrival, day: date, *, priced: bool = True
) -> bool:
    """Begin a shelf with what was found on it and what that cost; tell whether it was begun.

    A shelf counted before stays as it is. What the books hold of it already, or what nobody knows
    the cost of, is counted as always, at the cost last known.
    Raises: Refused for a quantity or a cost that cannot be meant.
    """
    key = (first.item_id, first.place_id)
    shelf = lock(session, (key,))[key]
    if shelf.counted:
        return False
    if not priced or shelf.lots or first.qty == 0:
        count(session, entry_id, *key, first.qty, day)
    else:
        count(session, entry_id, *key, 0, day)
        receive(session, entry_id, [first])
    return True


def _beyond_cost(session: Session, key: Key) -> int:
    """Give the cost assumed for all that a shelf gave beyond its deliveries."""
    total = select(func.coalesce(-func.sum(StockMove.cost), 0)).where(
        StockMove.item_id == key[0], StockMove.place_id == key[1], StockMove.lot_id.is_(None)
    )
    return int(session.execute(total).scalar_one())


def _count_shelf(session: Session, key: Key, entry_id: int, day: date) -> tuple[int, int]:
    """Note when a shelf was counted; give what later entries used and wasted already."""
    shelf = session.scalars(
        select(Shelf)
        .where(Shelf.item_id == key[0], Shelf.place_id == key[1])
        .execution_options(populate_existing=True)
    ).one()
    shelf.counted_since, shelf.counted_entry_id = day, entry_id
    session.flush()
    later = tallies().where(StockUse.item_id == key[0], StockUse.place_id == key[1])
    row = session.execute(later).first()
    return (0, 0) if row is None else (int(row.used), int(row.wasted))
