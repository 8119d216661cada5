"""What must be on the truck for a day, when does a yard come round, is a lost shoe still free?

Quantities are singles (one shoe, one nail).
"""

from collections import Counter
from collections.abc import Collection, Iterable, Mapping
from dataclasses import dataclass
from datetime import date, timedelta

from backoffice.money import PPM
from backoffice.pricing.rules import Guarantee, RecipePart, ServiceLine, feet_worked
from backoffice.units import Foot, FootWork
from backoffice.visits.rules import FootState, needs

OWN_WAY_DAYS = 10


@dataclass(frozen=True, slots=True, kw_only=True)
class Booked:
    """A horse of a day: what is planned for each foot, and what its service takes besides."""

    work_id: int
    feet: Mapping[Foot, FootState]
    recipe: tuple[RecipePart, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Held:
    """What the books hold of an item at a place; None where it was never counted."""

    item_id: int
    place_id: int
    qty: int | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Load:
    """An item to have along: how many the day takes, what is there, and where others are."""

    item_id: int
    need: int
    here: int | None
    elsewhere: tuple[Held, ...] = ()

    @property
    def short(self) -> int | None:
        """How many are missing; None where the shelf was never counted."""
        return None if self.here is None else max(0, self.need - max(0, self.here))


def day_takes(
    booked: Iterable[Booked], nails: Collection[int], waste_ppm: int
) -> Mapping[int, int]:
    """Add up what the horses of a day take from stock, by item; what is not known is not in it.

    A horse put back into shoes takes shoes like any other: its plan says new ones. Of ``nails``
    the usual waste is added.
    Units: singles; the rate in parts per million of the nails driven.
    Rounding: waste up, once for the whole day.
    Source: docs/rules/planning.md#what-a-day-takes
    """
    taken: Counter[int] = Counter()
    for horse in booked:
        for need in needs(horse.feet, horse.recipe):
            if need.item is not None:
                taken[need.item] += need.qty or 0
    return {
        item: qty - (-qty * waste_ppm // PPM) if item in nails else qty
        for item, qty in taken.items()
        if qty
    }


def not_known(booked: Booked) -> str | None:
    """Say what is not known yet of what a horse takes; None if all of it is.

    The word is ``plan`` (no service), ``foot`` (a lost shoe: which foot is not said), ``size``,
    ``nails`` or ``size_nails``.
    Source: docs/rules/planning.md#not-known-yet
    """
    feet = booked.feet.values()
    if not feet:
        return "plan"
    if all(state.done is FootWork.NONE for state in feet):
        return "foot"
    size = any(state.done is FootWork.NEW and state.shoe is None for state in feet)
    nails = any(state.done.shod and None in (state.nail, state.nails) for state in feet)
    words = [word for word, unknown in (("size", size), ("nails", nails)) if unknown]
    return "_".join(words) or None


def load(takes: Mapping[int, int], held: Iterable[Held], here: int) -> tuple[Load, ...]:
    """Set what a day takes against what is at a place, and say where there are others.

    Units: singles; what was used beyond stock counts as none, not as fewer than none.
    Source: docs/rules/planning.md#short
    """
    by_item: dict[int, list[Held]] = {}
    for one in held:
        by_item.setdefault(one.item_id, []).append(one)
    found = []
    for item, need in takes.items():
        places = by_item.get(item, [])
        own = next((one.qty for one in places if one.place_id == here), None)
        others = tuple(one for one in places if one.place_id != here and (one.qty or 0) > 0)
        found.append(Load(item_id=item, need=need, here=own, elsewhere=others))
    return tuple(found)


def odd_ones(held: Iterable[Held], shoes: Collection[int], here: int) -> tuple[Held, ...]:
    """Give the shoes of which a place holds an odd number: one goes on without breaking a pair.

    Units: singles.
    Source: docs/rules/planning.md#odd-ones
    """
    return tuple(
        one
        for one in held
        if one.item_id in shoes and one.place_id == here and one.qty and one.qty > 0 and one.qty % 2
    )


def none_along(worn: Iterable[int], held: Iterable[Held], here: int) -> tuple[Load, ...]:
    """Give the shoes the horses of a day wear of which a place holds not a single one.

    Units: singles; a shelf never counted says nothing.
    Source: docs/rules/planning.md#odd-ones
    """
    one_each = load(dict.fromkeys(worn, 1), held, here)
    return tuple(one for one in one_each if one.short)


def usual_days(cycles: Iterable[int | None]) -> int | None:
    """Give the number of days most horses of a yard come round in; of two, the shorter.

    Units: days; None while none is known.
    Source: docs/rules/planning.md#next-date-for-a-yard
    """
    counted = Counter(days for days in cycles if days is not None)
    return min(counted, key=lambda days: (-counted[days], days), default=None)


def comes_along(outcome: str, own_days: int | None, days: int) -> bool:
    """Whether a horse gets the yard's next date: not one missed, part done, or on its own cycle.

    Its own cycle is one set for this horse that is more than 10 days off the yard's, as that of
    a racehorse is.
    Units: days.
    Source: docs/rules/planning.md#next-date-for-a-yard
    """
    if outcome in ("absent", "part"):
        return False
    return own_days is None or abs(own_days - days) <= OWN_WAY_DAYS


def own_next_day(day: date, own_days: int | None, usual: int | None) -> date | None:
    """Give the day a horse comes round by itself: by its own cycle, else that of its kind.

    Units: days; None while neither is known.
    Source: docs/rules/planning.md#next-date-for-a-yard
    """
    days = own_days or usual
    return None if days is None else day + timedelta(days=days)


def if_lost(
    nailed_on: date | None,
    today: date,
    *,
    due_day: date | None,
    owing_since: date | None,
    days: int,
    owed_days: int,
) -> Guarantee:
    """Say how the guarantee would stand for a shoe lost today.

    Units: days since it was nailed on, of the guarantee, and since the oldest open bill was due.
    Source: docs/rules/planning.md#if-a-shoe-is-lost
    """
    return Guarantee(
        day=None if nailed_on is None else (today - nailed_on).days,
        of=days,
        on_schedule=due_day is None or today <= due_day,
        owing=owing_since is not None and owing_since < today - timedelta(days=owed_days),
    )


def lost_shoe_service(services: Iterable[ServiceLine]) -> int | None:
    """Give the service of a lost shoe: the first that by itself works on no foot.

    Source: docs/rules/planning.md#if-a-shoe-is-lost
    """
    return next((one.id for one in services if not feet_worked(one)), None)
