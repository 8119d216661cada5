"""What is left of the work done, and for how long a time? Sums first, ratios of sums after."""

from collections.abc import Iterable, Sequence
from dataclasses import astuple, dataclass
from datetime import date, timedelta
from fractions import Fraction

from backoffice.errors import Refused
from backoffice.money import half_up, split
from backoffice.visits.rules import by_net

HOUR = 60
PERIODS = ("last_12_months", "this_year", "this_month", "last_month")


@dataclass(frozen=True, slots=True)
class Sums:
    """What some results come to: minor units and minutes; ``_est`` is the part only estimated."""

    net: int = 0
    material: int = 0
    drive: int = 0
    tool: int = 0
    minutes: int = 0
    minutes_est: int = 0
    drive_est: int = 0
    material_est: int = 0


@dataclass(frozen=True, slots=True, kw_only=True)
class Line:
    """One line of what is left: whose it is, its sums, and what its time cost.

    Source: docs/rules/reports.md#what-is-left
    """

    key: int | None
    sums: Sums
    time: int

    @property
    def after_materials(self) -> int:
        """What is left after shoes, nails and the rest."""
        return self.sums.net - self.sums.material

    @property
    def left(self) -> int:
        """What is left after materials, drive and tools."""
        return self.after_materials - self.sums.drive - self.sums.tool

    @property
    def after_time(self) -> int:
        """What is left once the farrier's own time is paid as well."""
        return self.left - self.time

    @property
    def per_hour(self) -> int | None:
        """What is left for an hour."""
        return per_hour(self.left, self.sums.minutes)


@dataclass(frozen=True, slots=True, kw_only=True)
class Period:
    """From which day to which, both counted."""

    first: date
    last: date


def period(name: str, today: date) -> Period:
    """Give the days of a period that is asked for by its name.

    Source: docs/rules/reports.md#periods
    """
    if name == "this_month":
        return Period(first=today.replace(day=1), last=today)
    if name == "last_month":
        last = today.replace(day=1) - timedelta(days=1)
        return Period(first=last.replace(day=1), last=last)
    if name == "this_year":
        return Period(first=today.replace(month=1, day=1), last=today)
    after = today + timedelta(days=1)
    if (after.month, after.day) == (2, 29):
        after += timedelta(days=1)
    return Period(first=after.replace(year=after.year - 1), last=today)


def between(first: date, last: date) -> Period:
    """Give the days from one to another.

    Raises: Refused if the last comes before the first.
    Source: docs/rules/reports.md#periods
    """
    if last < first:
        raise Refused("reports.backwards", field="until")
    return Period(first=first, last=last)


def add_up(sums: Iterable[Sums]) -> Sums:
    """Add sums up, column by column.

    Source: docs/rules/reports.md#what-is-left
    """
    columns = zip(*(astuple(one) for one in (Sums(), *sums)), strict=True)
    return Sums(*(sum(column) for column in columns))


def time_cost(minutes: int, hour_cents: int) -> int:
    """Cost minutes at what the farrier reckons his hour is worth.

    Units: minutes and minor units. Rounding: half up, once for everything that is looked at.
    Source: docs/rules/reports.md#time
    """
    return half_up(minutes * hour_cents, HOUR)


def share_time(cost: int, minutes: Sequence[int]) -> tuple[int, ...]:
    """Share the cost of the time of many over each of them, by its minutes.

    Units: minor units and minutes. Rounding: as money.split.
    Source: docs/rules/reports.md#time
    """
    return split(cost, minutes) if any(minutes) else (0,) * len(minutes)


def per_hour(left: int, minutes: int) -> int | None:
    """Give what is left for an hour, a ratio of sums; None where no minute is known.

    Units: minor units and minutes. Rounding: half up.
    Source: docs/rules/reports.md#for-an-hour
    """
    return half_up(left * HOUR, minutes) if minutes > 0 else None


def parts_of(part: int, whole: int, per: int = 100) -> int | None:
    """Say how many in a hundred (or in ``per``) a part is of a whole; None of nothing or less.

    Both are sums: the parts of many are never averaged.
    Rounding: half up.
    Source: docs/rules/reports.md#parts-of-a-whole
    """
    return half_up(part * per, whole) if whole > 0 else None


def most(lines: Iterable[Line]) -> Line | None:
    """Give the line that left most; of equals the one named first, and nobody unknown.

    Source: docs/rules/reports.md#who-stands-out
    """
    return max((line for line in lines if line.key), key=lambda line: line.left, default=None)


def least_an_hour(lines: Iterable[Line]) -> Line | None:
    """Give the line that left least for an hour; of equals the one named first, nobody unknown.

    Source: docs/rules/reports.md#who-stands-out
    """
    timed = (line for line in lines if line.key and line.sums.minutes > 0)
    return min(timed, key=lambda line: Fraction(line.left, line.sums.minutes), default=None)


def settled(material: int, estimate: int, nets: Sequence[int]) -> tuple[Sums, ...]:
    """Share what a delivery since changed in the cost of a work over its payers.

    ``material`` is what came on top, ``estimate`` what is no longer estimated (below nothing);
    ``nets`` is what each pays.
    Units: minor units. Rounding: as money.split.
    Source: docs/rules/reports.md#what-came-later
    """
    shares = zip(by_net(material, nets), by_net(estimate, nets), strict=True)
    return tuple(Sums(material=share, material_est=less) for share, less in shares)
