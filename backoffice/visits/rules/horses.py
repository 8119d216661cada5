"""What follows from the work done: what it took and cost, what a horse wears, when it is due."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, timedelta

from backoffice.money import PPM, half_up, split
from backoffice.pricing.rules import RecipePart
from backoffice.units import THOUSAND, Foot, FootWork
from backoffice.visits.rules.facts import FootState


def due_after(day: date, cycle_days: int | None) -> date | None:
    """Give the day a horse is due again; None while its cycle is not known.

    Units: days. Source: docs/rules/visits.md#due
    """
    return None if cycle_days is None else day + timedelta(days=cycle_days)


def moves_due_day(feet: Iterable[FootState]) -> bool:
    """Whether work on these feet starts the cycle anew: one lost shoe put back does not.

    Common practice of the trade; Source: docs/rules/visits.md#due
    """
    return sum(1 for foot in feet if foot.done.worked) > 1


def touches_no_foot(plan: Iterable[FootWork]) -> bool:
    """Whether what is planned by itself touches no foot: a lost shoe, and nobody said which.

    It cannot be said to be done as planned. Nothing planned at all is not such a plan.
    Source: docs/rules/visits.md#a-lost-shoe
    """
    planned = tuple(plan)
    return bool(planned) and all(work is FootWork.NONE for work in planned)


def ground_in(day: date) -> str:
    """Give the ground to expect in a month where the yard says nothing.

    Common practice and an estimate: mud from November to March, dry from July to September.
    Source: docs/rules/visits.md#ground
    """
    if day.month in (7, 8, 9):
        return "dry"
    return "mud" if day.month in (11, 12, 1, 2, 3) else "ordinary"


def drive_cost(miles: int | None, mile_thousandths: int) -> int:
    """Cost the drive there and back from the miles one way; 0 while they are not known.

    Units: miles, thousandths of a minor unit a mile; an estimate until the odometer says more.
    Rounding: half up.
    Source: docs/rules/visits.md#drive
    """
    return half_up(2 * (miles or 0) * mile_thousandths, THOUSAND)


def minutes_of(
    standard: int, time_factor: int, *, done: int = 1, of: int = 1, saved_ppm: int = 0
) -> int:
    """Give the standard minutes of a service for a kind of horse.

    Of a work done in part only ``done`` feet ``of`` those planned count; an apprentice along
    saves a part of the time.
    Units: minutes, factor in thousandths, saving in parts per million. Rounding: half up, once.
    Source: docs/rules/visits.md#minutes
    """
    return half_up(standard * time_factor * done * (PPM - saved_ppm), THOUSAND * of * PPM)


def driven(miles: int, mile_thousandths: int, homes: Sequence[int | None]) -> tuple[int, ...]:
    """Share what a day's miles cost over its visits, by how far each yard is from home.

    A yard whose distance is not known counts as the mean of the others, so that none is free.
    Units: miles, thousandths of a minor unit a mile, miles one way.
    Rounding: the day's cost half up, its parts as money.split.
    Source: docs/rules/visits.md#drive
    """
    known = [home for home in homes if home]
    usual = half_up(sum(known), len(known)) if known else 1
    return split(half_up(miles * mile_thousandths, THOUSAND), [home or usual for home in homes])


def by_net(whole: int, nets: Sequence[int]) -> tuple[int, ...]:
    """Share a cost of a work over its payers in proportion to what each pays.

    Where nobody pays anything, or a part is below nothing, it is shared evenly.
    Units: minor units or minutes. Rounding: as money.split.
    Source: docs/rules/visits.md#result
    """
    weights = nets if min(nets) >= 0 and sum(nets) > 0 else [1] * len(nets)
    return split(whole, weights)


@dataclass(frozen=True, slots=True, kw_only=True)
class Need:
    """Something a work takes from stock; no item or no quantity is not known yet."""

    foot: Foot | None
    item: int | None
    qty: int | None


def needs(feet: Mapping[Foot, FootState], recipe: Sequence[RecipePart]) -> tuple[Need, ...]:
    """Say what a work takes from stock, foot by foot.

    A new shoe takes a shoe and its nails, a reset its nails only, a trim nothing; a pad goes on
    with a new shoe. Common practice of the trade.
    Units: singles. Source: docs/rules/visits.md#materials
    """
    taken: list[Need] = []
    for foot, state in feet.items():
        if state.done is FootWork.NEW:
            taken.append(Need(foot=foot, item=state.shoe, qty=1))
            if state.pad is not None:
                taken.append(Need(foot=foot, item=state.pad, qty=1))
        if state.done.shod:
            taken.append(Need(foot=foot, item=state.nail, qty=state.nails))
    shod = sum(1 for state in feet.values() if state.done.shod)
    for part in recipe:
        qty = part.qty * (shod if part.per_foot else 1)
        if qty:
            taken.append(Need(foot=None, item=part.item, qty=qty))
    return tuple(taken)


@dataclass(frozen=True, slots=True, kw_only=True)
class PastFoot:
    """A foot of a closed work of a horse, in order of the day it was worked."""

    work_id: int
    day: date
    foot: Foot
    state: FootState


def nailed_on(past: Sequence[PastFoot], feet: Iterable[Foot]) -> date | None:
    """Give since when the shoes of these feet were on, the oldest; None if of one nobody knows.

    A shoe that was put back counts from when it was nailed on first.
    Source: docs/rules/visits.md#wears
    """
    days = {foot.foot: foot.day for foot in past if foot.state.done.shod and not foot.state.lost}
    known = [days.get(foot) for foot in feet]
    return min((day for day in known if day), default=None) if all(known) else None


@dataclass(frozen=True, slots=True, kw_only=True)
class WornNow:
    """What is on a foot now, and which work nailed it on."""

    work_id: int
    state: FootState
    resets: int


@dataclass(frozen=True, slots=True, kw_only=True)
class HorseNow:
    """A horse as its past leaves it; ``unfinished``, some of its feet were not done last time."""

    last_work_id: int | None
    last_day: date | None
    shod: bool
    wears: Mapping[Foot, WornNow]
    unfinished: bool = False


def horse_now(past: Sequence[PastFoot]) -> HorseNow:
    """Fold a horse's past into what it wears and when it was last done.

    What a foot wears is the last shoe nailed on there, so that a horse barefoot over the winter
    gets the same in spring. One foot alone does not count as having been done; feet that were
    left and are done later belong to the time before.
    Source: docs/rules/visits.md#wears
    """
    wears: dict[Foot, WornNow] = {}
    by_work: dict[int, list[PastFoot]] = {}
    for foot in past:
        by_work.setdefault(foot.work_id, []).append(foot)
        if foot.state.done.shod:
            resets = 0
            if foot.state.done is FootWork.RESET and foot.foot in wears:
                resets = wears[foot.foot].resets + 1
            wears[foot.foot] = WornNow(work_id=foot.work_id, state=foot.state, resets=resets)
    last, pending = _last_done(by_work)
    if not last:
        return HorseNow(last_work_id=None, last_day=None, shod=False, wears=wears)
    return HorseNow(
        last_work_id=last[0].work_id,
        last_day=last[0].day,
        shod=any(foot.state.done.shod for foot in last),
        wears=wears,
        unfinished=bool(pending),
    )


def _last_done(by_work: Mapping[int, Sequence[PastFoot]]) -> tuple[list[PastFoot], set[Foot]]:
    """Give the feet of the last time a horse was done, with those finished later, and the rest."""
    last: list[PastFoot] = []
    pending: set[Foot] = set()
    for feet in by_work.values():
        worked = {foot.foot for foot in feet if foot.state.done.worked}
        if worked and worked <= pending:
            pending -= worked
            last += [foot for foot in feet if foot.state.done.worked]
        elif moves_due_day(foot.state for foot in feet):
            pending = {foot.foot for foot in feet if foot.state.done is FootWork.NOT_DONE}
            last = list(feet)
    return last, pending
