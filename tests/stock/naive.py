"""A stock room kept the plain way, and histories to try it with: the measure of the real one."""

from dataclasses import dataclass, field, replace
from decimal import ROUND_HALF_UP, Decimal
from random import Random

from hypothesis import strategies as st

from backoffice.stock import rules
from backoffice.stock.rules import Draw, Left, Move, Shelf, Use

ITEM = 1
PLACES = (1, 2)
WASTE_PPM = 60_000
VERBS = ("receive", "draw", "draw", "draw", "both", "undo", "undo_two", "transfer", "count")

Step = tuple[str, int, int, int]  # what, where, how many, cents or which

histories = st.lists(
    st.tuples(
        st.sampled_from(VERBS), st.sampled_from(PLACES), st.integers(1, 40), st.integers(0, 999)
    ),
    max_size=20,
)


def random_history(seed: int) -> list[Step]:
    dice = Random(seed)
    return [
        (dice.choice(VERBS), dice.choice(PLACES), dice.randint(1, 40), dice.randint(0, 999))
        for _ in range(dice.randint(4, 24))
    ]


def part_of(cents: int, whole: int, some: int) -> int:
    return int((Decimal(cents) * some / whole).quantize(Decimal(1), ROUND_HALF_UP))


@dataclass
class Taken:
    """A use as the plain stock room remembers it: what it took of which lot, 0 for beyond."""

    id: int
    place: int
    qty: int
    why: str
    count_no: int
    parts: dict[int, list[int]] = field(default_factory=dict)
    owes: bool = False
    undone: bool = False

    def add(self, lot: int, qty: int, cents: int) -> None:
        part = self.parts.setdefault(lot, [0, 0])
        part[0] += qty
        part[1] += cents

    @property
    def beyond(self) -> int:
        return self.parts.get(0, [0, 0])[0]

    @property
    def cost(self) -> int:
        return 0 if self.undone else sum(cents for _, cents in self.parts.values())


@dataclass
class Naive:
    """Piles of one kind of nail at two places."""

    piles: dict[int, dict[int, list[int]]] = field(default_factory=lambda: {p: {} for p in PLACES})
    lots: list[tuple[int, int]] = field(default_factory=list)
    uses: list[Taken] = field(default_factory=list)
    counts: dict[int, int] = field(default_factory=lambda: dict.fromkeys(PLACES, 0))
    last: dict[int, tuple[int, int]] = field(default_factory=dict)

    def do(self, step: Step) -> None:
        verb, place, qty, cents = step
        if verb == "receive":
            self.last[place] = (qty, cents)
            self.put(place, self.new_lot(qty, cents), qty, cents)
        elif verb == "draw":
            self.work(place, qty)
        elif verb == "both":
            self.work(place, qty)
            self.work(3 - place, qty + 1)
        elif verb in ("undo", "undo_two"):
            self.undo(picked(self.standing(), cents, 2 if verb == "undo_two" else 1))
        elif verb == "transfer":
            self.carry(place, min(qty, self.held(place)))
        else:
            self.count(place, qty - 1)

    def standing(self) -> list[int]:
        return [use.id for use in self.uses if not use.undone]

    def held(self, place: int) -> int:
        return sum(qty for qty, _ in self.piles[place].values())

    def on_hand(self, place: int) -> int:
        beyond = sum(
            use.beyond
            for use in self.uses
            if use.place == place and not use.undone and (use.owes or not self.counts[place])
        )
        return self.held(place) - beyond

    def new_lot(self, qty: int, cents: int) -> int:
        self.lots.append((qty, cents))
        return len(self.lots)

    def assumed(self, place: int, qty: int) -> int:
        whole, cents = self.last.get(place, (1, 0))
        return part_of(cents, whole, qty)

    def pull(self, place: int, qty: int) -> list[tuple[int, int, int]]:
        pulled = []
        for lot in sorted(self.piles[place]):
            pile = self.piles[place][lot]
            some = min(qty, pile[0])
            if some == 0:
                continue
            cents = pile[1] if some == pile[0] else part_of(pile[1], pile[0], some)
            pile[0] -= some
            pile[1] -= cents
            qty -= some
            pulled.append((lot, some, cents))
        return pulled

    def put(self, place: int, lot: int, qty: int, cents: int) -> None:
        pile = self.piles[place].setdefault(lot, [0, 0])
        pile[0] += qty
        pile[1] += cents
        for use in self.uses:
            if use.place != place or not use.owes or use.undone:
                continue
            owed = use.parts[0]
            for from_lot, some, real in self.pull(place, owed[0]):
                use.add(from_lot, some, real)
                back = owed[1] if some == owed[0] else part_of(owed[1], owed[0], some)
                owed[0] -= some
                owed[1] -= back
            use.owes = owed[0] > 0

    def take(self, place: int, qty: int, why: str) -> None:
        use = Taken(len(self.uses) + 1, place, qty, why, self.counts[place])
        for part in self.pull(place, qty):
            use.add(*part)
        short = qty - sum(part[0] for part in use.parts.values())
        if short:
            use.add(0, short, self.assumed(place, short))
            use.owes = self.counts[place] > 0
        self.uses.append(use)

    def tally(self, place: int, why: str) -> int:
        return sum(
            use.qty
            for use in self.uses
            if use.place == place
            and use.why == why
            and not use.undone
            and use.count_no == self.counts[place]
        )

    def work(self, place: int, qty: int) -> None:
        self.take(place, qty, "work")
        wasted = self.tally(place, "work") * 6 // 100 - self.tally(place, "waste")
        if wasted > 0:
            self.take(place, wasted, "waste")

    def undo(self, ids: list[int]) -> None:
        uses = [self.uses[number - 1] for number in ids]
        owed = [use.owes for use in uses]
        for use in uses:
            use.undone = True
        for use, owes in zip(uses, owed, strict=True):
            for lot, (qty, cents) in sorted(use.parts.items()):
                if qty and lot:
                    self.put(use.place, lot, qty, cents)
                elif qty and self.counts[use.place] and not owes:
                    self.put(use.place, self.new_lot(qty, cents), qty, cents)

    def carry(self, place: int, qty: int) -> None:
        for lot, some, cents in self.pull(place, qty):
            self.last[3 - place] = (some, cents)
            self.put(3 - place, lot, some, cents)

    def count(self, place: int, found: int) -> None:
        self.counts[place] += 1
        have = self.on_hand(place)
        if found < have:
            self.take(place, have - found, "loss")
        elif found > have:
            cents = self.assumed(place, found - have)
            self.put(place, self.new_lot(found - have, cents), found - have, cents)

    def state(self) -> dict[str, object]:
        return {
            "on hand": {place: self.on_hand(place) for place in PLACES},
            "left": {
                (lot, place): tuple(pile)
                for place in PLACES
                for lot, pile in self.piles[place].items()
                if pile[0]
            },
            "owed": {
                use.id: tuple(use.parts[0]) for use in self.uses if use.owes and not use.undone
            },
            "costs": {use.id: use.cost for use in self.uses},
            "used": {place: self.tally(place, "work") for place in PLACES},
            "wasted": {place: self.tally(place, "waste") for place in PLACES},
        }


def picked(numbers: list[int], which: int, many: int) -> list[int]:
    """Choose uses to take back, in the order they were made."""
    first = which % len(numbers) if numbers else 0
    return numbers[first : first + many]


class Books:
    """The rules, run in memory as the service runs them on rows."""

    def __init__(self) -> None:
        self.shelves = {
            (ITEM, place): Shelf(item_id=ITEM, place_id=place, nails=True) for place in PLACES
        }
        self.moves: list[Move] = []
        self.uses: list[Use] = []
        self.undone: set[int] = set()
        self.lots: list[Left] = []
        self.entry = 0

    def new_lot(self, qty: int, cost: int) -> Left:
        self.lots.append(Left(len(self.lots) + 1, qty, cost))
        return self.lots[-1]

    def arrive(self, place: int, part: Left, sort: str) -> None:
        self.shelves[ITEM, place], moves = rules.arrive(self.shelves[ITEM, place], part, sort)
        self.moves += moves

    def take(self, wanted: Use) -> None:
        use = replace(wanted, id=len(self.uses) + 1)
        taken = rules.take(self.shelves[use.key], use)
        self.shelves[use.key] = taken.shelf
        self.moves += taken.moves
        self.uses.append(use)

    def do(self, step: Step) -> None:
        verb, place, qty, cents = step
        self.entry += 1
        if verb == "receive":
            self.arrive(place, self.new_lot(qty, cents), "arrive")
        elif verb in ("draw", "both"):
            draws = [Draw(ITEM, place, qty), Draw(ITEM, 3 - place, qty + 1)]
            wanted = draws if verb == "both" else draws[:1]
            for use in rules.uses_of(self.entry, wanted, self.shelves, WASTE_PPM):
                self.take(use)
        elif verb in ("undo", "undo_two"):
            standing = [use.id for use in self.uses if use.id not in self.undone]
            self.undo(picked(standing, cents, 2 if verb == "undo_two" else 1))
        elif verb == "transfer":
            here, there = self.shelves[ITEM, place], self.shelves[ITEM, 3 - place]
            here, there, moves = rules.carry(here, there, min(qty, here.in_lots))
            self.shelves |= {here.key: here, there.key: there}
            self.moves += moves
        else:
            self.count(place, qty - 1)

    def undo(self, ids: list[int]) -> None:
        uses = [use for use in self.uses if use.id in ids]
        self.undone |= set(ids)
        before = dict(self.shelves)
        self.shelves = {key: rules.forget(shelf, ids) for key, shelf in before.items()}
        for use in uses:
            parts = rules.net(move for move in self.moves if move.use_id == use.id)
            unopened = rules.before_first_count(before[use.key], use, parts)
            lot = self.new_lot(unopened.qty, unopened.cost).lot_id if unopened else None
            shelf, moves = rules.give_back(self.shelves[use.key], use, parts, lot)
            self.shelves[use.key] = shelf
            self.moves += moves

    def count(self, place: int, found: int) -> None:
        shelf = self.shelves[ITEM, place]
        if not shelf.counted:
            beyond = sum(
                move.cost for move in self.moves if move.place_id == place and not move.lot_id
            )
            shelf, moves = rules.open_shelf(shelf, -beyond)
            self.moves += moves
        self.shelves[ITEM, place] = shelf
        difference = found - shelf.qty
        if difference < 0:
            loss = Use(
                entry_id=self.entry, item_id=ITEM, place_id=place, qty=-difference, why="loss"
            )
            self.take(loss)
        elif difference > 0:
            cost = rules.assumed_cost(shelf, difference)
            self.arrive(place, self.new_lot(difference, cost), "count")
        self.shelves[ITEM, place] = replace(
            self.shelves[ITEM, place], used=0, wasted=0, counted_entry=self.entry
        )

    def state(self) -> dict[str, object]:
        shelves = {place: self.shelves[ITEM, place] for place in PLACES}
        costs = {use.id: 0 for use in self.uses}
        for move in self.moves:
            if move.use_id:
                costs[move.use_id] -= move.cost
        return {
            "on hand": {place: shelf.qty for place, shelf in shelves.items()},
            "left": {
                (left.lot_id, place): (left.qty, left.cost)
                for place, shelf in shelves.items()
                for left in shelf.lots
            },
            "owed": {
                short.use_id: (short.qty, short.cost)
                for shelf in shelves.values()
                for short in shelf.shorts
            },
            "costs": costs,
            "used": {place: shelf.used for place, shelf in shelves.items()},
            "wasted": {place: shelf.wasted for place, shelf in shelves.items()},
        }

    def holds(self) -> None:
        """Assert what must hold of any stock, without the plain stock room to compare with."""
        for place in PLACES:
            shelf = self.shelves[ITEM, place]
            moved = [move for move in self.moves if move.place_id == place]
            beyond = sum(move.qty for move in moved if move.lot_id is None)
            assert all(left.qty > 0 and left.cost >= 0 for left in shelf.lots)
            assert shelf.qty == sum(move.qty for move in moved) == shelf.in_lots + beyond
            if shelf.counted:
                assert -beyond == sum(short.qty for short in shelf.shorts)
                assert not (shelf.lots and shelf.shorts)
            else:
                assert not shelf.shorts
        for lot in self.lots:
            used = [move for move in self.moves if move.lot_id == lot.lot_id and move.use_id]
            left = [p for s in self.shelves.values() for p in s.lots if p.lot_id == lot.lot_id]
            assert lot.qty == sum(p.qty for p in left) - sum(move.qty for move in used)
            assert lot.cost == sum(p.cost for p in left) - sum(move.cost for move in used)
        for use in self.uses:
            own = [move for move in self.moves if move.use_id == use.id]
            assert sum(move.qty for move in own) == (0 if use.id in self.undone else -use.qty)
            assert use.id not in self.undone or sum(move.cost for move in own) == 0
        assert all(
            -sum(m.cost for m in self.moves if m.use_id == short.use_id and m.lot_id is None)
            == short.cost
            for shelf in self.shelves.values()
            for short in shelf.shorts
        )
