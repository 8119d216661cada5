"""What does stock cost, first in first out, also when the work runs ahead of the deliveries?

Quantities are singles (one shoe, one nail), money is minor units. A move is + for what comes to
a place and - for what leaves it, and its cost carries the same sign.
"""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import groupby

from backoffice.money import PPM, half_up

PATTERNS = ("either", "front", "hind")

Key = tuple[int, int]  # item, place


@dataclass(frozen=True, slots=True, kw_only=True)
class ItemDetails:
    """Something kept in stock, as its edit form shows it; a pack is counted in singles."""

    sort: str
    name: str
    size_text: str = ""
    pattern: str = "either"
    pack: int = 1
    care: str = ""
    supplier_id: int | None = None
    hidden: bool = False
    version: int | None = None


@dataclass(frozen=True, slots=True)
class Left:
    """What is left of a lot at one place."""

    lot_id: int
    qty: int
    cost: int


@dataclass(frozen=True, slots=True)
class Short:
    """The part of a use still drawn beyond stock, at the cost assumed."""

    use_id: int
    qty: int
    cost: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Shelf:
    """One item at one place: what the books hold of it and what they still owe.

    ``used`` and ``wasted`` are what work and waste took since the last count; ``last_qty`` and
    ``last_cost`` are the last arrival, which says what one costs.
    """

    item_id: int
    place_id: int
    nails: bool = False
    counted: bool = False
    counted_entry: int = 0
    qty: int = 0
    last_qty: int | None = None
    last_cost: int | None = None
    used: int = 0
    wasted: int = 0
    lots: tuple[Left, ...] = ()
    shorts: tuple[Short, ...] = ()

    @property
    def key(self) -> Key:
        """Which item where."""
        return self.item_id, self.place_id

    @property
    def in_lots(self) -> int:
        """What is left in deliveries."""
        return sum(left.qty for left in self.lots)


@dataclass(frozen=True, slots=True, kw_only=True)
class Move:
    """One change of quantity and cost at a place; without a lot it was drawn beyond stock."""

    item_id: int
    place_id: int
    lot_id: int | None
    use_id: int | None
    sort: str
    qty: int
    cost: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Use:
    """Singles taken from a place: for work, as the waste that goes with it, or lost."""

    entry_id: int
    item_id: int
    place_id: int
    qty: int
    why: str
    id: int = 0
    draw_no: int = 0

    @property
    def key(self) -> Key:
        """Which item from where."""
        return self.item_id, self.place_id


@dataclass(frozen=True, slots=True)
class Draw:
    """What someone wants to take from a place."""

    item_id: int
    place_id: int
    qty: int
    why: str = "work"


@dataclass(frozen=True, slots=True)
class Taken:
    """A shelf after something was taken, the moves, and how much of it was beyond stock."""

    shelf: Shelf
    moves: tuple[Move, ...]
    short: int
    assumed: int

    @property
    def cost(self) -> int:
        """What was taken costs."""
        return -sum(move.cost for move in self.moves)


Happened = tuple[Shelf, tuple[Move, ...]]


def share(cost: int, left: int, qty: int) -> int:
    """Give the cost of some of what is left: all of it for all, else its share.

    Units: minor units and singles; 0 < qty <= left.
    Rounding: half up; what stays behind keeps the rest, so that no cent is lost.
    Source: docs/rules/stock.md#share
    """
    return cost if qty == left else half_up(cost * qty, left)


def assumed_cost(shelf: Shelf, qty: int) -> int:
    """Give what singles cost by the last arrival, before it is known which delivery they were of.

    Units: minor units; 0 while nothing ever arrived here.
    Rounding: half up.
    Source: docs/rules/stock.md#assumed-cost
    """
    if shelf.last_qty is None or shelf.last_cost is None:
        return 0
    return half_up(shelf.last_cost * qty, shelf.last_qty)


def waste_due(used: int, wasted: int, waste_ppm: int) -> int:
    """Give the nails that count as wasted by now and are not booked yet.

    Units: nails; the rate in parts per million (6 % is 60,000) of those used since the count.
    Rounding: the whole since the last count is rounded down, never one horse's part.
    Source: docs/rules/stock.md#nail-waste
    """
    return max(0, used * waste_ppm // PPM - wasted)


def uses_of(
    entry_id: int, draws: Sequence[Draw], shelves: Mapping[Key, Shelf], waste_ppm: int
) -> tuple[Use, ...]:
    """List what is taken: each draw, followed by the waste of nails that ticked over at it.

    Units: singles.
    Source: docs/rules/stock.md#nail-waste
    """
    uses = []
    tally = {key: (shelf.used, shelf.wasted) for key, shelf in shelves.items()}
    for draw_no, draw in enumerate(draws):
        use = Use(
            entry_id=entry_id,
            item_id=draw.item_id,
            place_id=draw.place_id,
            qty=draw.qty,
            why=draw.why,
            draw_no=draw_no,
        )
        uses.append(use)
        shelf = shelves[use.key]
        if draw.why != "work" or not shelf.nails or not _since_count(shelf, use):
            continue
        used, wasted = tally[use.key]
        used += draw.qty
        more = waste_due(used, wasted, waste_ppm)
        tally[use.key] = used, wasted + more
        if more:
            uses.append(replace(use, qty=more, why="waste"))
    return tuple(uses)


def _since_count(shelf: Shelf, use: Use) -> bool:
    return use.entry_id > shelf.counted_entry


def _tallied(shelf: Shelf, use: Use, sign: int) -> Shelf:
    if not _since_count(shelf, use):
        return shelf
    if use.why == "work":
        return replace(shelf, used=shelf.used + sign * use.qty)
    if use.why == "waste":
        return replace(shelf, wasted=shelf.wasted + sign * use.qty)
    return shelf


def _out_of_lots(lots: Sequence[Left], qty: int) -> tuple[tuple[Left, ...], tuple[Left, ...]]:
    """Give what is picked, oldest first, and what stays."""
    picked, stays = [], []
    for left in lots:
        some = min(qty, left.qty)
        qty -= some
        cost = share(left.cost, left.qty, some) if some else 0
        if some:
            picked.append(Left(left.lot_id, some, cost))
        if some < left.qty:
            stays.append(Left(left.lot_id, left.qty - some, left.cost - cost))
    return tuple(picked), tuple(stays)


def take(shelf: Shelf, use: Use) -> Taken:
    """Take from a shelf, first in first out; what it does not hold is taken beyond stock.

    Beyond stock the last known cost is assumed. A counted shelf remembers that part until
    something arrives; a shelf never counted may well have held it, so nothing is owed there.

    Units: singles and minor units.
    Rounding: as ``share`` and ``assumed_cost``.
    Source: docs/rules/stock.md#first-in-first-out
    """
    picked, stays = _out_of_lots(shelf.lots, use.qty)
    short = use.qty - sum(part.qty for part in picked)
    assumed = assumed_cost(shelf, short)
    sort = "count" if use.why == "loss" else "draw"
    moves = [_move(shelf, sort, part, -1, use.id) for part in picked]
    if short:
        moves.append(_move(shelf, sort, Left(0, short, assumed), -1, use.id))
    owed = (Short(use.id, short, assumed),) if short and shelf.counted else ()
    after = replace(shelf, lots=stays, shorts=shelf.shorts + owed, qty=shelf.qty - use.qty)
    return Taken(_tallied(after, use, +1), tuple(moves), short, assumed)


def _move(shelf: Shelf, sort: str, part: Left, sign: int, use_id: int | None = None) -> Move:
    return Move(
        item_id=shelf.item_id,
        place_id=shelf.place_id,
        lot_id=part.lot_id or None,
        use_id=use_id,
        sort=sort,
        qty=sign * part.qty,
        cost=sign * part.cost,
    )


def arrive(shelf: Shelf, part: Left, sort: str, use_id: int | None = None) -> Happened:
    """Put something on a shelf; it first covers what was taken there beyond stock, oldest first.

    Each use so covered gets two moves: its assumed cost back, and the real cost out.

    Units: singles and minor units.
    Rounding: as ``share``, of what is left of the arrival and of what the use still owes.
    Source: docs/rules/stock.md#true-up
    """
    moves = [_move(shelf, sort, part, +1, use_id)]
    lots = _merged(shelf.lots, part)
    shorts = []
    for short in shelf.shorts:
        picked, lots = _out_of_lots(lots, short.qty)
        covered = sum(out.qty for out in picked)
        back = share(short.cost, short.qty, covered) if covered else 0
        if covered:
            moves.append(_move(shelf, "true_up", Left(0, covered, back), +1, short.use_id))
            moves += [_move(shelf, "true_up", out, -1, short.use_id) for out in picked]
        if covered < short.qty:
            shorts.append(Short(short.use_id, short.qty - covered, short.cost - back))
    after = replace(shelf, lots=lots, shorts=tuple(shorts), qty=shelf.qty + part.qty)
    if sort in ("arrive", "transfer"):
        after = replace(after, last_qty=part.qty, last_cost=part.cost)
    return after, tuple(moves)


def _merged(lots: Sequence[Left], part: Left) -> tuple[Left, ...]:
    """Put something back among the lots, which stay in the order they arrived."""
    found = sorted([*lots, part], key=lambda left: left.lot_id)
    return tuple(
        Left(lot_id, sum(left.qty for left in same), sum(left.cost for left in same))
        for lot_id, group in groupby(found, key=lambda left: left.lot_id)
        for same in [list(group)]
    )


def carry(here: Shelf, there: Shelf, qty: int) -> tuple[Shelf, Shelf, tuple[Move, ...]]:
    """Carry singles to another place, lot by lot with the same cents; qty is what lots hold.

    Units: singles and minor units.
    Rounding: as ``share``.
    Source: docs/rules/stock.md#carrying
    """
    picked, stays = _out_of_lots(here.lots, qty)
    moves = [_move(here, "transfer", part, -1) for part in picked]
    for part in picked:
        there, more = arrive(there, part, "transfer")
        moves += more
    return replace(here, lots=stays, qty=here.qty - qty), there, tuple(moves)


def net(moves: Iterable[Move]) -> tuple[Left, ...]:
    """Give what a use took in the end, by lot, oldest first; lot 0 is what was beyond stock."""
    total: dict[int, tuple[int, int]] = {}
    for move in moves:
        qty, cost = total.get(move.lot_id or 0, (0, 0))
        total[move.lot_id or 0] = qty - move.qty, cost - move.cost
    return tuple(Left(lot, qty, cost) for lot, (qty, cost) in sorted(total.items()) if qty or cost)


def before_first_count(shelf: Shelf, use: Use, parts: Sequence[Left]) -> Left | None:
    """Give the part a use took beyond stock while the shelf, counted since, was still uncounted."""
    owed = any(short.use_id == use.id for short in shelf.shorts)
    if not shelf.counted or owed:
        return None
    return next((part for part in parts if part.lot_id == 0), None)


def forget(shelf: Shelf, use_ids: Iterable[int]) -> Shelf:
    """Let a shelf owe nothing to uses that are taken back."""
    gone = set(use_ids)
    return replace(shelf, shorts=tuple(s for s in shelf.shorts if s.use_id not in gone))


def give_back(shelf: Shelf, use: Use, parts: Sequence[Left], lot_id: int | None) -> Happened:
    """Take a use back: the same singles and the same cents to the lots they came from.

    What was taken before the first count has no lot to go back to; it becomes one of its own,
    ``lot_id``. What comes back covers what others took beyond stock, as any arrival does.

    Units: singles and minor units; nothing is rounded.
    Source: docs/rules/stock.md#taking-back
    """
    shelf = _tallied(shelf, use, -1)
    moves: tuple[Move, ...] = ()
    for part in parts:
        if part.lot_id:
            shelf, more = arrive(shelf, part, "undo", use.id)
            moves += more
            continue
        moves += (_move(shelf, "undo", part, +1, use.id),)
        if lot_id is None:
            shelf = replace(shelf, qty=shelf.qty + part.qty)
            continue
        moves += (_move(shelf, "count", part, -1),)
        shelf, more = arrive(shelf, Left(lot_id, part.qty, part.cost), "count")
        moves += more
    return shelf, moves


def open_shelf(shelf: Shelf, beyond_cost: int) -> Happened:
    """Begin counting a shelf: what was taken beyond its deliveries must have been on it before.

    Units: singles and minor units, at the cost that was assumed.
    Source: docs/rules/stock.md#counting
    """
    opened = replace(shelf, counted=True)
    beyond = shelf.in_lots - shelf.qty
    if not beyond:
        return opened, ()
    move = _move(shelf, "count", Left(0, beyond, beyond_cost), +1)
    return replace(opened, qty=shelf.in_lots), (move,)


def in_packs(qty: int, pack: int, sort: str) -> tuple[str, dict[str, object]]:
    """Say a quantity as people count it: shoes in pairs, nails in boxes, the rest in packs.

    Units: singles; a box or pack holds ``pack`` of them.
    Rounding: nails to the nearest half box, with the nails beside; nothing else is rounded.
    Source: docs/rules/stock.md#pairs-and-boxes
    """
    code, facts = _counted(abs(qty), 2 if sort == "shoe" else pack, sort)
    return (f"stock.short.{code}" if qty < 0 else f"stock.count.{code}"), facts


def _counted(qty: int, pack: int, sort: str) -> tuple[str, dict[str, object]]:
    if sort == "nail":
        halves = half_up(2 * qty, pack)
        if pack == 1 or not halves:
            return "nails", {"qty": qty}
        whole, half = divmod(halves, 2)
        exact = halves * pack == 2 * qty
        boxes = f"{whole or ''}{'½' if half else ''}"
        many = 1 if halves <= 2 else 2
        return ("boxes" if exact else "about_boxes"), {"boxes": boxes, "many": many, "qty": qty}
    packs, rest = divmod(qty, pack)
    word = "pairs" if sort == "shoe" else "packs"
    if pack == 1 or not packs:
        return ("shoes" if sort == "shoe" and qty else "singles"), {"qty": qty}
    return (f"{word}_and" if rest else word), {"packs": packs, "rest": rest}
