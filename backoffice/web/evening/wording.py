"""What was said of each line so far, in words: the exceptions, and nothing twice."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any

from backoffice.units import Foot, FootWork
from backoffice.visits.queries import SheetLine
from backoffice.visits.queries.said import FactLine, NamesSaid
from backoffice.visits.rules import (
    FactSort,
    FootState,
    Said,
    WorkState,
    foot_facts,
    in_order,
    standing,
)
from backoffice.web import said
from backoffice.web.caller import caller

_DONE = (FactSort.AS_PLANNED, FactSort.ABSENT, FactSort.FEET)
_ONE = (FactSort.TOLD, FactSort.MINUTES, FactSort.NOTE, FactSort.PAYERS)
_FIRST = tuple(FactSort)


@dataclass(frozen=True, slots=True, kw_only=True)
class Told:
    """What a day's facts say: those that stand, and the words and names for them."""

    standing: Mapping[int, tuple[Said, ...]]
    lines: Mapping[str, FactLine]
    names: NamesSaid

    def of_line(self, visit_id: int, subject: str, work: WorkState) -> tuple[str, ...]:
        """Word what is otherwise about a line than was planned; nothing if it is as planned."""
        own = [
            fact
            for fact in self.standing.get(visit_id, ())
            if fact.data.get("under", fact.subject) == subject and fact.sort is not FactSort.BOOKED
        ]
        kept = sorted(_kept(own, work), key=lambda fact: _FIRST.index(fact.sort))
        words = (said.worded(replace(self.lines[f.id], data=f.data), self.names) for f in kept)
        return tuple(f"{word[:1].upper()}{word[1:]}" for word in words)

    def of_visits(self, visit_ids: Iterable[int], sort: FactSort) -> tuple[str, ...]:
        """Word what was said of visits as a whole, without what is said of a line."""
        return tuple(
            dict.fromkeys(
                said.worded(self.lines[fact.id], self.names) for fact in self.facts(visit_ids, sort)
            )
        )

    def facts(self, visit_ids: Iterable[int], sort: FactSort) -> list[Said]:
        """Give what was said of visits as a whole, without what is said of a line."""
        return [
            fact
            for visit_id in visit_ids
            for fact in self.standing.get(visit_id, ())
            if fact.sort is sort and "under" not in fact.data
        ]

    def since(self, visit_id: int, subject: str, seq: int) -> str:
        """Word what was said about a line after a fact."""
        newer = [
            line
            for line in self.lines.values()
            if line.visit_id == visit_id
            and line.data.get("under", line.subject) == subject
            and line.seq > seq
        ]
        return said.told(newer, self.names)


def which_lost(line: SheetLine) -> str:
    """Ask which shoe was lost, where that is still to be said; else nothing."""
    if not line.lost_shoe or line.outcome != "planned" or line.closed:
        return ""
    return caller().speech.say("evening.which_lost", number=line.number)


def stand(facts: Mapping[int, tuple[Said, ...]]) -> dict[int, tuple[Said, ...]]:
    """Give the facts of visits that stand."""
    return {visit_id: standing(in_order(said_there)) for visit_id, said_there in facts.items()}


def _kept(own: Sequence[Said], work: WorkState) -> list[Said]:
    last: dict[FactSort, Said] = {}
    kept: list[Said] = []
    for fact in own:
        if fact.sort in _DONE or fact.sort in _ONE:
            last[fact.sort] = fact
        else:
            kept.append(fact)
    if work.outcome == "absent" and FactSort.ABSENT in last:
        kept.append(last[FactSort.ABSENT])
    elif FactSort.FEET in last and (feet := _otherwise(work)):
        kept.append(replace(last[FactSort.FEET], data={"feet": feet}))
    if FactSort.TOLD in last:
        told = {"say": work.told, "travel": work.travel_told}
        kept.append(replace(last[FactSort.TOLD], data=told))
    return [*kept, *(last[sort] for sort in _ONE[1:] if sort in last)]


def _otherwise(work: WorkState) -> dict[str, dict[str, Any]]:
    nothing = FootState(planned=FootWork.NONE, done=FootWork.NONE)
    return {
        foot.value: foot_facts(work.feet[foot])
        for foot in Foot
        if foot in work.feet
        and foot_facts(work.feet[foot]) != foot_facts(work.plan.get(foot, nothing))
    }
