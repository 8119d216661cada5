"""The paper day sheet typed in: what every entry says is written down, or nothing is."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from itertools import groupby

from sqlalchemy.orm import Session

from backoffice.clients import service as clients
from backoffice.errors import Refused
from backoffice.pricing import queries as pricing
from backoffice.pricing.rules import feet_worked
from backoffice.visits.queries.entering import known_for
from backoffice.visits.queries.sheet import SheetLine, sheets
from backoffice.visits.rules import FactSort, Said
from backoffice.visits.rules.entering import decide, read_all
from backoffice.visits.rules.entries import Pays
from backoffice.visits.rules.onsheet import (
    Fact,
    Handling,
    Helper,
    Known,
    NewHorse,
    Step,
    Taken,
    Wrong,
)
from backoffice.visits.service.adding import extra_horse
from backoffice.visits.service.recording import say


class Unclear(Refused):
    """Some entries were not understood; nothing of what was typed with them was saved."""

    def __init__(self, wrong: tuple[Wrong, ...]) -> None:
        super().__init__("entry.unclear", field="text", entries=len(wrong))
        self.wrong = wrong


class SaidMeanwhile(Refused):
    """Somebody else said something about the same lines meanwhile; nothing was saved."""

    def __init__(self, lines: tuple[int, ...]) -> None:
        super().__init__("entry.said_meanwhile", field="text", entries=len(lines))
        self.lines = lines


@dataclass(frozen=True, slots=True, kw_only=True)
class Typed:
    """What was typed at once for a farrier's day, under the key of its form.

    ``seen`` is the last fact of each visit that whoever typed had before his eyes.
    """

    day: date
    farrier_id: int
    text: str
    key: str
    seen: Mapping[int, int]


@dataclass(frozen=True, slots=True, kw_only=True)
class Entered:
    """What was written down: each entry, the lines it was about, and what is for others to do.

    ``late`` is by visit what was said about what is written up already, ``works`` the horses of
    these lines that are, by their numbers, and ``helpers`` who came along.
    """

    taken: tuple[Taken, ...]
    lines: tuple[int, ...]
    late: Mapping[int, tuple[Said, ...]]
    works: Mapping[int, int]
    helpers: tuple[int | None, ...]


def enter(session: Session, typed: Typed, *, currency: str) -> Entered:
    """Write down all that was typed at once, or nothing of it.

    Raises: Unclear with each entry that was not understood and why; SaidMeanwhile if somebody else
    said something about one of the lines since it was looked at.
    """
    read = read_all(typed.text, currency=currency)
    if not read:
        raise Refused("entry.empty", field="text")
    names = {entry.name for _, entry in read if isinstance(entry, Pays)}
    known = known_for(session, typed.day, typed.farrier_id, names)
    if known is None:
        raise Refused("record.missing")
    taken, wrong = decide(read, known, key=typed.key)
    if wrong:
        raise Unclear(wrong)
    steps = [step for one in taken for step in one.steps]
    about = {(step.visit_id, step.subject) for step in steps if isinstance(step, Fact | Handling)}
    lines = tuple(
        line.number for line in known.lines.values() if (line.visit_id, line.subject) in about
    )
    _nobody_meanwhile(known, typed.seen, about)
    _write(session, typed, steps)
    return Entered(
        taken=taken,
        lines=lines,
        late=_late(steps),
        works={
            number: known.lines[number].work_id for number in lines if known.lines[number].closed
        },
        helpers=tuple(step.farrier_id for step in steps if isinstance(step, Helper)),
    )


def _nobody_meanwhile(known: Known, seen: Mapping[int, int], about: set[tuple[int, str]]) -> None:
    newer = {
        (visit_id, str(fact.data.get("under", fact.subject)))
        for visit_id, facts in known.facts.items()
        for fact in facts
        if visit_id in seen and fact.seq > seen[visit_id]
    }
    lines = tuple(
        line.number
        for line in known.lines.values()
        if (line.visit_id, line.subject) in about & newer
    )
    if lines:
        raise SaidMeanwhile(lines)


def _write(session: Session, typed: Typed, steps: Sequence[Step]) -> None:
    facts = [step for step in steps if isinstance(step, Fact) and not step.closed]
    for visit_id, said in groupby(sorted(facts, key=lambda step: step.visit_id), _visit):
        say(session, visit_id, [step.said for step in said])
    for no, step in enumerate(steps, start=1):
        if isinstance(step, NewHorse):
            _take_on(session, step, f"table-{typed.key}-{no}-extra")
        elif isinstance(step, Handling):
            clients.flag(session, step.horse_id, "other", step.text, typed.day)


def _take_on(session: Session, new: NewHorse, key: str) -> None:
    """Take on a horse that is on the paper; with its service named, that was done.

    Of a lost shoe which foot it was is still to be said.
    """
    subject = extra_horse(
        session,
        new.visit_id,
        new.words,
        service_id=new.service_id,
        say_price=new.say,
        key=key,
    )
    service = pricing.services_by_id(session).get(new.service_id or 0)
    if service is not None and feet_worked(service):
        done = Said(id=f"{key}-done", subject=subject, sort=FactSort.AS_PLANNED)
        say(session, new.visit_id, [done])


def _visit(step: Fact) -> int:
    return step.visit_id


def _late(steps: Sequence[Step]) -> dict[int, tuple[Said, ...]]:
    late: dict[int, list[Said]] = {}
    for step in steps:
        if isinstance(step, Fact) and step.closed:
            late.setdefault(step.visit_id, []).append(step.said)
    return {visit_id: tuple(said) for visit_id, said in late.items()}


def rest_as_planned(session: Session, day: date, farrier_id: int, *, key: str) -> int:
    """Say of every horse of a farrier's day nothing was said about that it was as planned.

    One that lost a shoe stays open: nobody knows yet which, and whether it was found.
    """
    horses = 0
    for sheet in sheets(session, day, farrier_id, paper=False):
        for stop in sheet.stops:
            silent = [
                line
                for line in stop.lines
                if line.outcome == "planned" and not line.closed and not line.lost_shoe
            ]
            if silent:
                say(session, stop.visit_id, [_as_planned(line, key) for line in silent])
            horses += len(silent)
    return horses


def _as_planned(line: SheetLine, key: str) -> Said:
    fact_id = f"table-{line.work_id}-{key}"
    return Said(id=fact_id, subject=line.subject, sort=FactSort.AS_PLANNED)
