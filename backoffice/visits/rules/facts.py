"""What happened at a visit, said in facts? Folding them, in any order of arrival, into its works.

A fact is never edited. Facts may arrive twice, late and out of order; the same facts give the
same works. Within one device its own counter orders them, between devices their arrival does.
"""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from enum import StrEnum
from typing import Any

from backoffice.errors import Refused
from backoffice.units import Foot, FootWork

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
    PAYERS = "payers"
    PAID = "paid"
    GROUND = "ground"
    ALONG = "along"
    TOOL = "tool"
    ODOMETER = "odometer"
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
    """What was planned for a foot, what was done, and with what; None is not known yet.

    ``lost`` says that the shoe had come off before: found and put back, or gone.
    """

    planned: FootWork
    done: FootWork
    shoe: int | None = None
    nail: int | None = None
    nails: int | None = None
    pad: int | None = None
    lost: str | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class WorkState:
    """One horse at a visit, as its facts tell it.

    ``payers`` pay this once, by their parts; nobody named is who pays always. ``finishes`` is the
    work done in part that this one ends.
    """

    subject: str
    place_no: int = 0
    horse_id: int | None = None
    words: str | None = None
    service_id: int | None = None
    booked: int | None = None
    travel: int = 0
    finishes: int | None = None
    outcome: str = "planned"
    told: int | None = None
    travel_told: int | None = None
    payers: tuple[tuple[int, int], ...] = ()
    minutes: int | None = None
    note: str | None = None
    plan: Mapping[Foot, FootState] = field(default_factory=dict)
    feet: Mapping[Foot, FootState] = field(default_factory=dict)


ANSWERED_BY_A_LOOK = ("leaned", "slipped", "fell")


@dataclass(frozen=True, slots=True, kw_only=True)
class ToolSaid:
    """What was said of a tool at a visit, by which fact; no tool, nothing happened to any."""

    id: str
    tool: int | None
    what: str


@dataclass(frozen=True, slots=True, kw_only=True)
class VisitState:
    """A visit as its facts tell it; ``miles`` were driven that day as the odometer says."""

    works: Mapping[str, WorkState]
    ground: str | None = None
    helper: int | None = None
    miles: int | None = None
    tools: tuple[ToolSaid, ...] = ()


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

    What is booked comes first, however late it arrives: the rest is said about it.
    Source: docs/rules/visits.md#folding
    """
    said = standing(in_order(facts))
    works: dict[str, WorkState] = {}
    visit = VisitState(works=works)
    for fact in (fact for fact in said if fact.sort is FactSort.BOOKED):
        works[fact.subject] = _booked(WorkState(subject=fact.subject), fact.data)
    for fact in (fact for fact in said if fact.sort is not FactSort.BOOKED):
        if fact.sort in _OF_A_VISIT:
            visit = _of_visit(visit, fact)
        elif fact.sort is not FactSort.PAID:
            work = works.get(fact.subject, WorkState(subject=fact.subject))
            works[fact.subject] = _apply(work, fact)
    return visit


_OF_A_VISIT = (FactSort.GROUND, FactSort.ALONG, FactSort.TOOL, FactSort.ODOMETER)


def _of_visit(visit: VisitState, fact: Said) -> VisitState:
    match fact.sort:
        case FactSort.GROUND:
            return replace(visit, ground=fact.data["ground"])
        case FactSort.ALONG:
            return replace(visit, helper=fact.data["farrier"])
        case FactSort.ODOMETER:
            driven = fact.data["in"] - fact.data["out"]
            return replace(visit, miles=driven if driven >= 0 else None)
    tool = ToolSaid(id=fact.id, tool=fact.data["tool"], what=fact.data["what"])
    known = any(said.id == fact.id for said in visit.tools)
    return visit if known else replace(visit, tools=(*visit.tools, tool))


def _apply(work: WorkState, fact: Said) -> WorkState:
    match fact.sort:
        case FactSort.AS_PLANNED:
            return replace(work, outcome="done", feet=work.plan)
        case FactSort.FEET:
            return _feet(work, fact.data)
        case FactSort.ABSENT:
            return replace(work, outcome="absent", feet={})
        case FactSort.TOLD:
            told = fact.data.get("say", work.told)
            travel = fact.data.get("travel", work.travel_told)
            return replace(work, told=told, travel_told=travel)
        case FactSort.MINUTES:
            return replace(work, minutes=fact.data["minutes"])
        case FactSort.NOTE:
            return replace(work, note=fact.data["text"])
        case FactSort.PAYERS:
            parts = fact.data["parts"]
            return replace(work, payers=tuple((client, part) for client, part in parts))
    return work


def _booked(work: WorkState, data: Mapping[str, Any]) -> WorkState:
    plan = {Foot(foot): _foot(said) for foot, said in data.get("feet", {}).items()}
    return replace(
        work,
        place_no=data["place_no"],
        horse_id=data.get("horse"),
        words=data.get("words"),
        service_id=data.get("service"),
        booked=data.get("say"),
        travel=data.get("travel", 0),
        finishes=data.get("finishes"),
        plan=plan,
        feet=plan,
    )


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
        lost=said.get("lost"),
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
    for name in ("shoe", "nail", "nails", "pad", "lost"):
        if getattr(state, name) is not None:
            said[name] = getattr(state, name)
    return said
