"""What happened at a visit, said in facts? Folding them, in any order of arrival, into its works.

A fact is never edited. Facts may arrive twice, late and out of order; the same facts give the
same works. Within one device its own counter orders them, between devices their arrival does.
"""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import date, timedelta
from enum import StrEnum
from typing import Any

from backoffice.errors import Refused
from backoffice.money import half_up, split
from backoffice.pricing.rules import RecipePart
from backoffice.units import THOUSAND, Foot, FootWork

MOST_NAILS = 16


class FactSort(StrEnum):
    """The kinds of fact there are."""

    BOOKED = "booked"
    AS_PLANNED = "as_planned"
    FEET = "feet"
    ABSENT = "absent"
    TOLD = "told"
    MINUTES = "minutes"
    NOTE = "note"
    GROUND = "ground"
    WITHDRAWN = "withdrawn"


@dataclass(frozen=True, slots=True, kw_only=True)
class Said:
    """One fact as it was recorded. ``subject`` names the horse; "" is the visit itself."""

    id: str
    subject: str
    sort: FactSort
    data: Mapping[str, Any] = field(default_factory=dict)
    seq: int = 0
    device: str = "table"
    counter: int = 0
    corrects: str | None = None
    v: int = 1


@dataclass(frozen=True, slots=True, kw_only=True)
class FootState:
    """What was planned for a foot, what was done, and with what; None is not known yet."""

    planned: FootWork
    done: FootWork
    shoe: int | None = None
    nail: int | None = None
    nails: int | None = None
    pad: int | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class WorkState:
    """One horse at a visit, as its facts tell it."""

    subject: str
    place_no: int = 0
    horse_id: int | None = None
    words: str | None = None
    service_id: int | None = None
    booked: int | None = None
    travel: int = 0
    outcome: str = "planned"
    told: int | None = None
    minutes: int | None = None
    note: str | None = None
    plan: Mapping[Foot, FootState] = field(default_factory=dict)
    feet: Mapping[Foot, FootState] = field(default_factory=dict)


@dataclass(frozen=True, slots=True, kw_only=True)
class VisitState:
    """A visit as its facts tell it."""

    works: Mapping[str, WorkState]
    ground: str | None


def in_order(facts: Iterable[Said]) -> tuple[Said, ...]:
    """Order facts by arrival, but each device's own by its own counter.

    Source: docs/rules/visits.md#order-of-facts
    """
    arrived = sorted(facts, key=lambda fact: fact.seq)
    own: dict[str, list[Said]] = {}
    for fact in sorted(arrived, key=lambda fact: (fact.counter, fact.seq)):
        own.setdefault(fact.device, []).append(fact)
    turns = {device: iter(said) for device, said in own.items()}
    return tuple(next(turns[fact.device]) for fact in arrived)


def standing(facts: Sequence[Said]) -> tuple[Said, ...]:
    """Leave out every fact that a later standing fact corrects or takes back.

    Source: docs/rules/visits.md#corrections
    """
    dropped: set[str] = set()
    kept: list[Said] = []
    for fact in reversed(facts):
        if fact.id in dropped:
            continue
        if fact.corrects:
            dropped.add(fact.corrects)
        if fact.sort is not FactSort.WITHDRAWN:
            kept.append(fact)
    return tuple(reversed(kept))


def fold(facts: Iterable[Said]) -> VisitState:
    """Turn the facts of a visit into its works.

    Source: docs/rules/visits.md#folding
    """
    works: dict[str, WorkState] = {}
    ground: str | None = None
    for fact in standing(in_order(facts)):
        if fact.sort is FactSort.GROUND:
            ground = fact.data["ground"]
            continue
        work = works.get(fact.subject, WorkState(subject=fact.subject))
        works[fact.subject] = _apply(work, fact)
    return VisitState(works=works, ground=ground)


def _apply(work: WorkState, fact: Said) -> WorkState:
    match fact.sort:
        case FactSort.BOOKED:
            return _booked(work, fact.data)
        case FactSort.AS_PLANNED:
            return replace(work, outcome="done", feet=work.plan)
        case FactSort.FEET:
            return _feet(work, fact.data)
        case FactSort.ABSENT:
            return replace(work, outcome="absent", feet={})
        case FactSort.TOLD:
            return replace(work, told=fact.data["say"])
        case FactSort.MINUTES:
            return replace(work, minutes=fact.data["minutes"])
        case FactSort.NOTE:
            return replace(work, note=fact.data["text"])
    return work


def _booked(work: WorkState, data: Mapping[str, Any]) -> WorkState:
    plan = {Foot(foot): _foot(said) for foot, said in data.get("feet", {}).items()}
    booked = replace(
        work,
        place_no=data["place_no"],
        horse_id=data.get("horse"),
        words=data.get("words"),
        service_id=data.get("service"),
        booked=data.get("say"),
        travel=data.get("travel", 0),
        plan=plan,
    )
    return replace(booked, feet=plan) if work.outcome == "planned" else booked


def _foot(said: Mapping[str, Any], planned: FootWork | None = None) -> FootState:
    done = FootWork(said["done"])
    state = FootState(planned=planned or done, done=done)
    if not done.shod:
        return state
    nails = said.get("nails")
    return replace(
        state,
        shoe=said.get("shoe"),
        nail=said.get("nail"),
        nails=nails if nails is not None and 1 <= nails <= MOST_NAILS else None,
        pad=said.get("pad"),
    )


def _feet(work: WorkState, data: Mapping[str, Any]) -> WorkState:
    feet = dict(work.feet or work.plan)
    for name, said in data["feet"].items():
        foot = Foot(name)
        planned = work.plan[foot].planned if foot in work.plan else FootWork.NONE
        feet[foot] = _foot(said, planned)
    left = any(state.done is FootWork.NOT_DONE for state in feet.values())
    service = data.get("service", work.service_id)
    return replace(
        work,
        outcome="part" if left else "done",
        feet=feet,
        service_id=service,
        booked=work.booked if service == work.service_id else None,
    )


def sayable_nails(nails: int) -> int:
    """Give the count back if that many nails go into a shoe.

    Raises: Refused with the likelier count, 26 asked back as 6. Common practice: 4 to 8 nails
    hold a shoe, and no shoe is punched for more than 16.
    """
    if 1 <= nails <= MOST_NAILS:
        return nails
    guess = nails % 10 or 6
    raise Refused("visits.nails_asked_back", field="nails", nails=nails, guess=guess)


def foot_facts(state: FootState) -> dict[str, Any]:
    """Write a foot the way facts carry it."""
    said: dict[str, Any] = {"done": state.done.value}
    for name in ("shoe", "nail", "nails", "pad"):
        if getattr(state, name) is not None:
            said[name] = getattr(state, name)
    return said


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


def minutes_of(standard: int, time_factor: int) -> int:
    """Give the standard minutes of a service for a kind of horse.

    Units: minutes, factor in thousandths. Rounding: half up.
    Source: docs/rules/visits.md#minutes
    """
    return half_up(standard * time_factor, THOUSAND)


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


@dataclass(frozen=True, slots=True, kw_only=True)
class WornNow:
    """What is on a foot now, and which work nailed it on."""

    work_id: int
    state: FootState
    resets: int


@dataclass(frozen=True, slots=True, kw_only=True)
class HorseNow:
    """A horse as its past leaves it."""

    last_work_id: int | None
    last_day: date | None
    shod: bool
    wears: Mapping[Foot, WornNow]


def horse_now(past: Sequence[PastFoot]) -> HorseNow:
    """Fold a horse's past into what it wears and when it was last done.

    A trim leaves what the foot wears, a pulled shoe is worn no more, and one foot alone does not
    count as having been done.
    Source: docs/rules/visits.md#wears
    """
    wears: dict[Foot, WornNow] = {}
    by_work: dict[int, list[PastFoot]] = {}
    for foot in past:
        by_work.setdefault(foot.work_id, []).append(foot)
        if foot.state.done is FootWork.PULLED:
            wears.pop(foot.foot, None)
        elif foot.state.done.shod:
            resets = 0
            if foot.state.done is FootWork.RESET and foot.foot in wears:
                resets = wears[foot.foot].resets + 1
            wears[foot.foot] = WornNow(work_id=foot.work_id, state=foot.state, resets=resets)
    counted = [
        (work_id, feet)
        for work_id, feet in by_work.items()
        if moves_due_day(foot.state for foot in feet)
    ]
    if not counted:
        return HorseNow(last_work_id=None, last_day=None, shod=False, wears=wears)
    work_id, feet = counted[-1]
    return HorseNow(
        last_work_id=work_id,
        last_day=feet[0].day,
        shod=any(foot.state.done.shod for foot in feet),
        wears=wears,
    )
