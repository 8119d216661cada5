"""The years of an invented practice, day by day, without any books: what is true, not what is told.

``days`` alone is enough to try out a rule or a forecast: it knows how long blades really bear.
"""

import tomllib
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date, timedelta
from typing import Any

from backoffice import folders
from backoffice.demo.dice import Dice
from backoffice.demo.herd import Herd, Kept
from backoffice.demo.purse import Purse
from backoffice.demo.shoeing import Shoeing
from backoffice.demo.shop import Truck
from backoffice.demo.told import DayTold, DeliveryTold, HorseTold, StopTold, ToolTold, WorkTold

Plan = Mapping[str, Any]
ONE = timedelta(days=1)
AHEAD, WINDOW = timedelta(days=3), timedelta(days=12)
BOOKED = timedelta(days=9)
MOST_STOPS = 4


@dataclass(frozen=True, slots=True)
class Scenario:
    """The text of the demo: its last days told one by one, and how the years before run."""

    small: Plan
    years: Plan

    @property
    def last(self) -> date:
        """The last day of the years; the days told one by one come after it."""
        day: date = min(row["day"] for row in self.small["stop"]) - ONE
        return day

    @property
    def today(self) -> date:
        """The day on which the demo stands still."""
        day: date = self.small["today"]
        return day

    def first(self, years: int) -> date:
        """The first day of so many whole years and what there is of the last one."""
        return date(self.last.year - years, 1, 1)


def load() -> Scenario:
    """Read the scenario as it is shipped."""
    small, years = (
        tomllib.loads((folders.demo() / name).read_text(encoding="utf-8"))
        for name in ("practice.toml", "years.toml")
    )
    return Scenario(small, years)


def days(
    scenario: Scenario, *, seed: int, years: int, horses: int, trucks: int = 2
) -> Iterator[DayTold]:
    """Tell so many whole years, and the last one as far as it has come; the same for one seed.

    Days still to come follow, with what is booked for them.
    """
    if years:
        yield from _Years(scenario, seed=seed, years=years, horses=horses, trucks=trucks).run()


@dataclass(slots=True)
class _Day:
    """What a day comes to while it is being made up."""

    day: date
    came: list[HorseTold] = field(default_factory=list)
    left: list[tuple[str, str]] = field(default_factory=list)
    deliveries: list[DeliveryTold] = field(default_factory=list)
    stops: list[StopTold] = field(default_factory=list)
    tools: list[ToolTold] = field(default_factory=list)
    counted: list[tuple[str, str, int]] = field(default_factory=list)


class _Years:
    def __init__(
        self, scenario: Scenario, *, seed: int, years: int, horses: int, trucks: int
    ) -> None:
        self.rows = scenario.years
        self.first, self.last = scenario.first(years), scenario.last
        self.today = scenario.today
        self.dice = Dice(f"{seed}|days")
        self.herd = Herd(self.rows, scenario.small, Dice(f"{seed}|herd"), trucks)
        self.services = {
            row["name"]: row for row in (*scenario.small["service"], *self.rows["service"])
        }
        self.shoeing = Shoeing(self.rows, self.services, Dice(f"{seed}|feet"))
        self.purse = Purse(scenario=self.rows, dice=Dice(f"{seed}|money"))
        self.reserved = {row["day"] for name in ("past", "stop") for row in scenario.small[name]}
        packs = {row["key"]: row["pack"] for row in (*scenario.small["item"], *self.rows["item"])}
        self.trucks = [
            Truck(
                scenario=self.rows,
                place=row["name"],
                tools=scenario.small["tool"],
                packs=packs,
                dice=Dice(f"{seed}|truck {number}"),
            )
            for number, row in enumerate(self.rows["truck"][:trucks])
        ]
        self.gone: set[str] = set()
        self.known: set[str] = set()
        self.begin, self.coming = horses, dict[date, list[bool]]()
        self._make_up_coming(horses)

    def _make_up_coming(self, horses: int) -> None:
        """Make up on which days horses come and go, so that the practice ends at its size."""
        herd = self.rows["herd"]
        for year in range(self.first.year, self.last.year):
            turn = year - self.last.year + len(herd["growth"])
            counts = herd["growth"][turn] if turn >= 0 else herd["steady"]
            for comes, count, middle in zip((True, False), counts, (120, 190), strict=True):
                number = count * horses // herd["of"]
                self.begin += -number if comes else number
                for _ in range(number):
                    day = date(year, 1, 1) + ONE * self.dice.within(middle, 80, 5, 355)
                    self.coming.setdefault(day, []).append(comes)

    def run(self) -> Iterator[DayTold]:
        """Tell the days on which anything happened."""
        self.herd.begin(self.first, self.begin)
        day = self.first
        while day <= self.last:
            told = self._day(day)
            if told is not None:
                yield told
            day += ONE
        for day in (self.today + ONE * number for number in range(1, BOOKED.days)):
            told = self._day(day)
            if told is not None and told.stops:
                yield DayTold(day=day, to_come=True, stops=told.stops)

    def _day(self, day: date) -> DayTold | None:
        made = _Day(day)
        if day == self.first:
            made.came = [horse.told for horse in self.herd.horses.values()]
        self._come_and_go(made)
        month_ends = day == _last_weekday(day)
        if day == self.first or day.weekday() == 0:
            self._buy(made)
        out = [number for number in range(len(self.trucks)) if self._out(number, day)]
        for number in out:
            self._drive(made, number, alone=len(out) == 1)
        if month_ends:
            self._month(made)
        if not (made.stops or made.came or made.left or made.deliveries or month_ends):
            return None
        bills = self.purse.bill(made.stops, self.herd, day, month_ends=month_ends)
        fresh = [name for name in self.herd.clients if name not in self.known]
        yards = [name for name in self.herd.yards if name not in self.known]
        self.known |= {*fresh, *yards}
        return DayTold(
            day=day,
            yards=tuple(self.herd.yards[name] for name in yards),
            clients=tuple(self.herd.clients[name] for name in fresh),
            came=tuple(made.came),
            left=tuple(made.left),
            deliveries=tuple(made.deliveries),
            spent=self.purse.spent(day, len(self.trucks)) if month_ends else (),
            stops=tuple(made.stops),
            tools=tuple(made.tools),
            counted=tuple(made.counted),
            bills=bills,
            paid=self.purse.paid(day),
            given_up=self.purse.given_up(day),
        )

    def _come_and_go(self, made: _Day) -> None:
        yards = {row["name"]: row["horses"] for row in self.rows["yard"] if row["horses"] > 1}
        for comes in self.coming.get(made.day, ()):
            if comes:
                name = self.herd.dice.weighted(yards)
                row = next(row for row in self.rows["yard"] if row["name"] == name)
                made.came.append(self.herd.come(made.day, row, fresh=True).told)
            else:
                self._leave(made)
        stud = next(row for row in self.rows["yard"] if row.get("foals"))
        if made.day.month == 4 and made.day.day == 20:
            made.came += [
                self.herd.foal(made.day, stud).told for _ in range(self.rows["foal"]["a_year"])
            ]
        if made.day.month == 12 and made.day.day == 1:
            for horse in self._there():
                if horse.status == "foal":
                    self._go(made, horse, "sold")

    def _there(self) -> list[Kept]:
        return [horse for horse in self.herd.horses.values() if horse.name not in self.gone]

    def _leave(self, made: _Day) -> None:
        alone = {"Cinderford Cottage"}
        may = [
            horse
            for horse in self._there()
            if horse.until is None and horse.status != "foal" and horse.told.yard not in alone
        ]
        horse = may[self.dice.between(0, len(may) - 1)]
        self._go(made, horse, self.dice.weighted(self.rows["herd"]["left"]))

    def _go(self, made: _Day, horse: Kept, state: str) -> None:
        self.gone.add(horse.name)
        made.left.append((horse.name, state))

    def _buy(self, made: _Day) -> None:
        for number, truck in enumerate(self.trucks):
            horses = [horse for horse in self._there() if horse.truck == number]
            delivery = truck.buy(horses, made.day)
            if delivery is not None:
                made.deliveries.append(delivery)

    def _month(self, made: _Day) -> None:
        for truck in self.trucks:
            if made.day.month % 3 == 0:
                truck.lose()
                made.counted.append((truck.place, "rasp", truck.on_hand["rasp"]))
            if made.day.month == 12:
                made.counted += [
                    (truck.place, item, truck.on_hand[item])
                    for item in sorted(truck.on_hand)
                    if item != "rasp"
                ]
            if made.day.year < self.last.year:
                made.tools += [
                    ToolTold(place=truck.place, tool=tool["name"], what="looked_at")
                    for tool in truck.tools
                    if "look_days" in tool
                ]

    def _out(self, number: int, day: date) -> bool:
        row = self.rows["truck"][number]
        weekdays = row["weekdays"] if len(self.trucks) > 1 else range(5)
        month, first, count = row["holiday"]
        begins = date(day.year, month, first)
        year, hurt_month, hurt_day, hurt_days = self.rows["rates"]["kicked"]
        kicked = date(year, hurt_month, hurt_day)
        weather = self.rows["rates"]["weather_days"].get(str(day.month), 0)
        return (
            day.weekday() in weekdays
            and not begins <= day < begins + count * ONE
            and not (number == 0 and kicked <= day < kicked + hurt_days * ONE)
            and (day.month, day.day) != (1, 1)
            and not (day.month == 12 and day.day >= 24)
            and day not in self.reserved
            and not self.dice.hits(weather // 16)
        )

    def _drive(self, made: _Day, number: int, *, alone: bool) -> None:
        day, stops = made.day, dict[str, list[WorkTold]]()
        mine = [
            horse
            for horse in self._there()
            if horse.truck == number and (horse.until is None or day <= horse.until)
        ]
        self._put_back(mine, stops, day)
        due = sorted(
            (horse for horse in mine if horse.due <= day + AHEAD),
            key=lambda horse: (horse.due, horse.name),
        )
        load = max(5, len(mine) * 8 // (45 * len(self.rows["truck"][number]["weekdays"])))
        seen, count = set[str](), 0
        for horse in due:
            yard = horse.told.yard
            if yard in seen:
                continue
            if count >= load or len(stops) >= MOST_STOPS:
                break
            seen.add(yard)
            there = sorted(
                (one for one in mine if one.told.yard == yard and one.due <= day + WINDOW),
                key=lambda one: (one.due, one.name),
            )[: load + 4 - count]
            works = self._at_yard(there, mine, day)
            if works:
                stops.setdefault(yard, []).extend(works)
                count += len(works)
        helper = self._helper(day) if number == 0 and alone else None
        farrier = self.rows["truck"][number]["farrier"]
        told = [
            StopTold(farrier=farrier, yard=yard, works=_once(works), helper=helper)
            for yard, works in stops.items()
        ]
        made.stops += told
        made.tools += self.trucks[number].use(told, self.herd.horses, day)

    def _helper(self, day: date) -> str | None:
        row = self.rows["apprentice"]
        name: str = row["name"]
        return name if day >= row["from"] and not self.dice.hits(120) else None

    def _put_back(self, mine: Sequence[Kept], stops: dict[str, list[WorkTold]], day: date) -> None:
        """Finish what was begun, and put lost shoes back on, in passing or on a trip of its own."""
        for horse in mine:
            yard = horse.told.yard
            if horse.unfinished is not None and horse.unfinished <= day:
                stops.setdefault(yard, []).append(self.shoeing.finish(horse))
            elif horse.lost is not None and horse.lost[0] <= day and horse.due > day + WINDOW:
                late = day - horse.lost[0] > 4 * ONE
                passing = self.dice.hits(self.rows["rates"]["lost_passing"])
                if yard in stops or late or not passing:
                    stops.setdefault(yard, []).append(self.shoeing.lost_shoe(horse))

    def _at_yard(self, there: list[Kept], mine: Sequence[Kept], day: date) -> list[WorkTold]:
        rates = self.rows["rates"]
        if self.dice.hits(rates["owner_moves"]):
            for horse in there:
                horse.due = max(horse.due, day) + ONE * self.dice.between(3, 9)
            return []
        if self.dice.hits(rates["no_show"]):
            return [self._absent(horse, day) for horse in there]
        absent = there.pop() if len(there) > 2 and self.dice.hits(3 * rates["one_absent"]) else None
        works = [self.shoeing.work(horse, day) for horse in there]
        if absent is not None:
            works.append(self._absent(absent, day))
        yard = there[0].told.yard
        more = [
            horse
            for horse in mine
            if horse.told.yard == yard
            and horse not in there
            and horse is not absent
            and horse.due <= day + 3 * WINDOW
            and (horse.until is None or day <= horse.until)
        ]
        if more and self.dice.hits(2 * rates["extra"]):
            works.append(self.shoeing.work(more[0], day, extra=True))
        return works

    def _absent(self, horse: Kept, day: date) -> WorkTold:
        horse.due = day + ONE * self.dice.between(3, 14)
        service = self.shoeing.service(horse, day)
        return WorkTold(horse=horse.name, service=service, outcome="absent", feet={})


def _once(works: Sequence[WorkTold]) -> tuple[WorkTold, ...]:
    """Leave one work for each horse, the last."""
    return tuple({work.horse: work for work in works}.values())


def _last_weekday(day: date) -> date:
    after = date(day.year + day.month // 12, day.month % 12 + 1, 1) - ONE
    return after - ONE * max(0, after.weekday() - 4)
