"""Which horses, yards and clients are there: those of the scenario, and those made up by lot."""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date, timedelta
from typing import Any

from backoffice.demo.dice import Dice
from backoffice.demo.told import ClientTold, HorseTold, YardTold
from backoffice.units import Foot

Plan = Mapping[str, Any]
LONE_GAP = timedelta(days=30)
FEET = tuple(Foot)


@dataclass(slots=True, kw_only=True)
class Kept:
    """A horse of the practice as it is, known in full to nobody but the scenario.

    ``status`` is shod, seasonal, trim or foal; ``until`` the last day it may be seen before the
    days that are told one by one begin for it.
    """

    told: HorseTold
    truck: int
    status: str
    full: bool
    special: bool
    padded: bool
    snow: bool
    difficult: bool
    sizes: dict[Foot, str]
    nail: str
    nails: int
    due: date
    until: date | None = None
    shod: tuple[Foot, ...] = ()
    resets: int = 0
    last: date | None = None
    lost: tuple[date, Foot] | None = None
    unfinished: date | None = None

    @property
    def name(self) -> str:
        """The name it goes by."""
        return self.told.name

    def shod_in(self, day: date) -> bool:
        """Whether it is to wear shoes at this time of the year."""
        return self.status == "shod" or (self.status == "seasonal" and 4 <= day.month <= 10)


@dataclass(slots=True)
class Herd:
    """All horses there are, and the names that are left for more."""

    scenario: Plan
    small: Plan
    dice: Dice
    trucks: int
    horses: dict[str, Kept] = field(default_factory=dict)
    yards: dict[str, YardTold] = field(default_factory=dict)
    clients: dict[str, ClientTold] = field(default_factory=dict)
    habits: dict[str, Plan] = field(default_factory=dict)
    _names: Iterator[str] = field(default_factory=lambda: iter(()))
    _people: Iterator[str] = field(default_factory=lambda: iter(()))
    _payers: dict[str, list[str]] = field(default_factory=dict)
    _kinds: list[tuple[str, str]] = field(default_factory=list)

    def begin(self, day: date, horses: int) -> None:
        """Fill the yards with so many horses for the first day of the scenario."""
        words = self.scenario["names"]
        taken = {row["name"] for row in self.small["horse"]}
        plain = [name for name in words["horse"] if name not in taken]
        self._names = _names(self.dice, plain, words["before"])
        self._people = _people(self.dice, words["given"], words["family"])
        for row in self.small["yard"]:
            self._yard(row)
        for row in self.small["client"]:
            self._known_client(row)
        for row in self.small["horse"]:
            self._known_horse(row, day)
        for row in self.scenario["yard"]:
            self._yard(row)
        for yard in self._places(max(0, horses - len(self.horses))):
            self.come(day, yard, fresh=False)

    def _yard(self, row: Plan) -> None:
        if row["name"] in self.yards:
            return
        self.yards[row["name"]] = YardTold(
            name=row["name"],
            address=row.get("address", ""),
            gate_note=row.get("gate_note"),
            ground=row.get("ground"),
            miles=row["miles"],
            call_out=row.get("call_out"),
        )

    def _known_client(self, row: Plan) -> None:
        self.habits[row["name"]] = {"name": "prompt", "days": 5, "never": 0}
        self.clients[row["name"]] = ClientTold(
            name=row["name"],
            sort=row.get("sort", "private"),
            bill_when=row.get("bill_when", "tonight"),
            bill_how=row.get("bill_how", "paper"),
            phone=row["phone"],
        )

    def _known_horse(self, row: Plan, day: date) -> None:
        name, wears = row["name"], row.get("wears")
        kind = self._kind(row["type"])
        days = [past["day"] for past in self._rows("past") if name in past["horses"]]
        days += [stop["day"] for stop in self._rows("stop") if name in stop["horses"]]
        sizes = {}
        if wears:
            hind = wears.get("hind", wears["front"])
            sizes = {foot: wears["front"] if foot.front else hind for foot in FEET}
        self.horses[name] = Kept(
            told=HorseTold(
                name=name,
                kind=row["type"],
                yard=row["yard"],
                payers=tuple((client, parts) for client, parts in row["payers"]),
                cycle=row.get("cycle"),
                flag=None,
            ),
            truck=0,
            status="shod" if wears else "trim",
            full=bool(wears and "hind" in wears),
            special=False,
            padded=False,
            snow=False,
            difficult=bool(row.get("flags")),
            sizes=sizes,
            nail=wears["nail"] if wears else kind.get("nail", "5 city"),
            nails=wears["nails"] if wears else kind["nails"],
            due=day + timedelta(days=self.dice.between(0, 50)),
            until=min(days) - LONE_GAP,
        )

    def _rows(self, name: str) -> Sequence[Plan]:
        rows: Sequence[Plan] = self.small[name]
        return rows

    def _kind(self, name: str) -> Plan:
        kind: Plan = next(row for row in self.scenario["kind"] if row["name"] == name)
        return kind

    def _places(self, count: int) -> list[Plan]:
        """Give the yards of so many horses, each by how many of the scenario's stand there."""
        yards: Sequence[Plan] = self.scenario["yard"]
        whole = sum(row["horses"] for row in yards)
        ends, places, before = 0, list[Plan](), 0
        for row in yards:
            ends += row["horses"]
            after = ends * count // whole
            places += [row] * (after - before)
            before = after
        return places

    def come(self, day: date, row: Plan, *, fresh: bool) -> Kept:
        """Take on a horse at a yard, with its payer, who may be new too."""
        kind_name, status = self._next_kind(row)
        kind = self._kind(kind_name)
        odd = self.dice.weighted(kind["sizes"])
        smaller = list(kind["sizes"])
        hind = smaller[max(0, smaller.index(odd) - (1 if self.dice.hits(450) else 0))]
        shod = status != "trim"
        mean, _, least, most = kind["days"]
        own = fresh is False and self.dice.hits(self.scenario["herd"]["in_own_cycle"])
        horse = Kept(
            told=HorseTold(
                name=next(self._names),
                kind=kind_name,
                yard=row["name"],
                payers=self._payers_at(row, fresh=fresh),
                cycle=self.dice.within(mean, 4, least, most) if own and shod else None,
                flag=self._flag(),
            ),
            truck=self._truck(row),
            status=status,
            full=shod and self.dice.hits(kind["full"]),
            special=shod
            and f"bar {odd}" in self.scenario["cost"]
            and self.dice.hits(kind["special"]),
            padded=shod and self.dice.hits(self.scenario["rates"]["padded"]),
            snow=shod and self.dice.hits(self.scenario["rates"]["snow"]),
            difficult=False,
            sizes={foot: odd if foot.front else hind for foot in FEET},
            nail=kind.get("nail", "5 city"),
            nails=kind["nails"],
            due=day + timedelta(days=self.dice.between(0, 6 if fresh else 52)),
        )
        horse.difficult = horse.told.flag is not None
        self.horses[horse.name] = horse
        return horse

    def foal(self, day: date, row: Plan) -> Kept:
        """Take on a foal of the stud."""
        horse = Kept(
            told=HorseTold(
                name=next(self._names), kind="foal", yard=row["name"],
                payers=((row["payer"], 1),), cycle=None, flag=None,
            ),
            truck=self._truck(row), status="foal", full=False, special=False,
            padded=False, snow=False, difficult=False, sizes={}, nail="5 city", nails=4,
            due=day + timedelta(days=self.dice.between(7, 28)),
        )  # fmt: skip
        self.horses[horse.name] = horse
        return horse

    def _truck(self, row: Plan) -> int:
        """Say whose truck comes to a yard; with more trucks than two they take turns."""
        if row["name"] in {yard["name"] for yard in self.small["yard"]}:
            return 0
        if self.trucks > 2:
            names = [yard["name"] for yard in self.scenario["yard"]]
            return names.index(row["name"]) % self.trucks
        turn: int = row["truck"]
        return turn % self.trucks

    def _next_kind(self, row: Plan) -> tuple[str, str]:
        """Draw a kind and how it is shod so that all of them together are the scenario's."""
        if not self._kinds:
            self._kinds = [
                (kind["name"], status)
                for kind in self.scenario["kind"]
                for status, count in zip(("shod", "seasonal", "trim"), kind["shod"], strict=True)
                for _ in range(count)
            ]
            order = self.dice.shuffled([str(n) for n in range(len(self._kinds))])
            self._kinds = [self._kinds[int(n)] for n in order]
        wanted = row.get("kinds", ())
        found = next((one for one in self._kinds if one[0] in wanted), self._kinds[0])
        self._kinds.remove(found)
        return found

    def _flag(self) -> tuple[str, str] | None:
        if not self.dice.hits(self.scenario["herd"]["difficult"]):
            return None
        kinds = {"kicks": 4, "leans": 3, "head_shy": 2, "do_not_tie": 1}
        return self.dice.weighted(kinds), ""

    def _payers_at(self, row: Plan, *, fresh: bool) -> tuple[tuple[str, int], ...]:
        if "payer" in row:
            if row["payer"] not in self.clients:
                self._client(row["payer"], "business", monthly=row.get("monthly", False))
            return ((row["payer"], 1),)
        there = self._payers.setdefault(row["name"], [])
        held = sum(1 for horse in self.horses.values() if horse.told.yard == row["name"])
        new = self.dice.hits(self.scenario["herd"]["new_client"])
        if not there or (new if fresh else held >= row["per_client"] * len(there)):
            there.append(self._client(next(self._people), "private", monthly=False))
        if len(there) > 2 and self.dice.hits(60):
            return ((there[-1], 1), (there[-2], 1))
        if fresh:
            return ((there[self.dice.between(0, len(there) - 1)], 1),)
        return ((there[-1], 1),)

    def _client(self, name: str, sort: str, *, monthly: bool) -> str:
        pays = self.scenario["pays"]
        habit = self.dice.weighted({row["name"]: row["share"] for row in pays})
        self.habits[name] = next(row for row in pays if row["name"] == habit)
        monthly = monthly or habit == "monthly"
        if monthly:
            self.habits[name] = next(row for row in pays if row["name"] == "monthly")
        self.clients[name] = ClientTold(
            name=name,
            sort=sort,
            bill_when="monthly" if monthly else "tonight",
            bill_how=self.dice.weighted({"paper": 4, "text": 4, "email": 2}),
            phone=f"555 0{200 + len(self.clients)}",
        )
        return name


def _names(dice: Dice, plain: Sequence[str], before: Sequence[str]) -> Iterator[str]:
    """Give names of horses, each once: plain ones first."""
    yield from dice.shuffled(plain)
    yield from dice.shuffled([f"{word} {name}" for word in before for name in plain])
    for word in before:
        yield from dice.shuffled([f"{word} {other} {name}" for other in before for name in plain])


def _people(dice: Dice, given: Sequence[str], family: Sequence[str]) -> Iterator[str]:
    """Give names of people, each once, family names in turn."""
    families = dice.shuffled(family)
    names = dice.shuffled(given)
    for turn in range(len(names)):
        for place, last in enumerate(families):
            yield f"{names[(turn + place) % len(names)]} {last}"
