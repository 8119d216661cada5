"""What does an entry say of the day it was typed for? Found on the sheet, and made a fact."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any

from backoffice.errors import Refused
from backoffice.pricing.rules import ServiceLine
from backoffice.visits.rules.entered_feet import feet_said, one_end
from backoffice.visits.rules.entries import (
    AsPlanned,
    CameAlong,
    Entry,
    Extra,
    GroundWas,
    HandedOver,
    KnifeDull,
    Lost,
    Miles,
    Missed,
    OneEnd,
    Otherwise,
    Pays,
    PriceTold,
    StandMet,
    TakenBack,
    Took,
    Written,
)
from backoffice.visits.rules.entry import apart, read_entry
from backoffice.visits.rules.facts import (
    FactSort,
    Said,
    WorkState,
    fold,
    in_order,
    standing,
)
from backoffice.visits.rules.horses import touches_no_foot
from backoffice.visits.rules.onsheet import (
    Fact,
    Handling,
    Helper,
    Known,
    NewHorse,
    OnLine,
    Step,
    Taken,
    Wrong,
    holding,
    one_of,
)


def read_all(text: str, *, currency: str) -> tuple[tuple[str, Entry | Refused], ...]:
    """Read all that was typed at once, keeping beside each entry what was typed for it.

    Source: docs/rules/entry.md#reading
    """
    return tuple((typed, _read(typed, currency)) for typed in apart(text))


def _read(typed: str, currency: str) -> Entry | Refused:
    try:
        return read_entry(typed, currency=currency)
    except Refused as refused:
        return refused


def decide(
    read: Sequence[tuple[str, Entry | Refused]], known: Known, *, key: str
) -> tuple[tuple[Taken, ...], tuple[Wrong, ...]]:
    """Find each entry on the sheet and say what is to be written down, or what is wrong with it.

    Entries are taken in the order typed, each knowing what those before it said. The numbers of
    facts are made of the key, so that one press writes each once however often it arrives.
    Source: docs/rules/entry.md#written-down
    """
    taken: list[Taken] = []
    wrong: list[Wrong] = []
    facts = {visit_id: list(said) for visit_id, said in known.facts.items()}
    for no, (typed, entry) in enumerate(read, start=1):
        if isinstance(entry, Refused):
            wrong.append(Wrong(typed=typed, refused=entry))
            continue
        try:
            found = _steps(
                _Turn(entry=entry, typed=typed, id=f"table-{key}-{no}", known=known), facts
            )
        except Refused as refused:
            wrong.append(Wrong(typed=typed, refused=refused))
            continue
        for step in found:
            if isinstance(step, Fact):
                visit = facts.setdefault(step.visit_id, [])
                latest = max((said.seq for said in visit), default=0)
                visit.append(replace(step.said, seq=latest + 1))
        taken.append(Taken(entry=entry, steps=tuple(found)))
    return tuple(taken), tuple(wrong)


@dataclass(frozen=True, slots=True, kw_only=True)
class _Turn:
    entry: Entry
    typed: str
    id: str
    known: Known

    def line(self, number: int) -> OnLine:
        found = self.known.lines.get(number)
        if found is None:
            last = max(self.known.lines, default=0)
            raise Refused("entry.no_line", typed=self.typed, number=number, last=last)
        return found

    def stop(self, letter: str) -> int:
        visit_id = self.known.stops.get(letter)
        if visit_id is None:
            raise Refused("entry.no_stop", letter=letter, letters=", ".join(self.known.stops))
        return visit_id

    @property
    def first_stop(self) -> int:
        return next(iter(self.known.stops.values()))


Facts = Mapping[int, Sequence[Said]]


def _steps(turn: _Turn, facts: Facts) -> list[Step]:
    match turn.entry:
        case Extra() as extra:
            return _extra(turn, extra)
        case GroundWas(letter=letter, ground=ground):
            return [_of_visit(turn, turn.stop(letter), FactSort.GROUND, ground=ground)]
        case Miles(out=out, back=back):
            odometer = {"out": out, "in": back}
            return [_of_visit(turn, turn.first_stop, FactSort.ODOMETER, **odometer)]
        case KnifeDull(name=name):
            return _knife(turn, name, facts)
        case CameAlong(came=came, name=name):
            return [Helper(farrier_id=_apprentice(turn.known, name) if came else None)]
        case entry:
            line = turn.line(entry.number)
            said = tuple(standing(in_order(facts.get(line.visit_id, ()))))
            return _of_line(turn, line, said)


def _of_line(turn: _Turn, line: OnLine, said: Sequence[Said]) -> list[Step]:
    match turn.entry:
        case TakenBack():
            return _taken_back(turn, line, said)
        case HandedOver() as paid:
            data = {"client": None, "amount": paid.amount, "tip": paid.tip,
                    "method": paid.method, "receipt": paid.receipt}  # fmt: skip
            twice = any(f.sort is FactSort.PAID and f.subject == line.subject and f.data == data
                        for f in said)  # fmt: skip
            return [] if twice else [_fact(turn, line, FactSort.PAID, **data)]
        case StandMet(what=what):
            if turn.known.stand is None:
                raise Refused("entry.no_stand", typed=turn.typed)
            of = {"tool": turn.known.stand, "what": what, "under": line.subject}
            return [_of_visit(turn, line.visit_id, FactSort.TOOL, **of)]
        case Written(text=text, warning=True) if text in line.warnings:
            return []
        case Written(text=text, warning=True):
            if line.horse_id is None:
                raise Refused("entry.flag_unnamed", typed=turn.typed, number=line.number)
            return [
                Handling(
                    visit_id=line.visit_id,
                    subject=line.subject,
                    horse_id=line.horse_id,
                    text=text,
                )
            ]
    work = fold(said).works.get(line.subject, WorkState(subject=line.subject))
    return [_fact(turn, line, sort, **data) for sort, data in _said(turn, line, work)]


def _said(turn: _Turn, line: OnLine, work: WorkState) -> list[tuple[FactSort, dict[str, Any]]]:
    match turn.entry:
        case AsPlanned():
            if touches_no_foot(state.done for state in work.plan.values()):
                raise Refused("entry.which_lost", typed=turn.typed, number=line.number)
            return [(FactSort.AS_PLANNED, {})]
        case Missed(note=note):
            noted = [(FactSort.NOTE, _note(work, note))] if note else []
            return [(FactSort.ABSENT, {}), *noted]
        case OneEnd(fronts=fronts):
            return [(FactSort.FEET, one_end(work, fronts=fronts))]
        case Otherwise() | Lost() as done:
            return [(FactSort.FEET, feet_said(done, line, work, turn.known.shoes))]
        case PriceTold(say=say, travel=travel):
            told = {} if say is None else {"say": say}
            return [(FactSort.TOLD, told if travel is None else told | {"travel": travel})]
        case Took(minutes=minutes):
            return [(FactSort.MINUTES, {"minutes": minutes})]
        case Written(text=text):
            return [(FactSort.NOTE, _note(work, text))]
    return [(FactSort.PAYERS, {"parts": [[_payer(turn, line), 1]]})]


def _payer(turn: _Turn, line: OnLine) -> int:
    if isinstance(turn.entry, Pays):
        name = turn.entry.name
        return one_of(turn.known.clients.get(name, ()), name, "client")
    if line.owner_id is None:
        raise Refused("entry.no_owner", typed=turn.typed, number=line.number)
    return line.owner_id


def _fact(turn: _Turn, line: OnLine, sort: FactSort, **data: object) -> Fact:
    said = Said(id=f"{turn.id}-{sort}", subject=line.subject, sort=sort, data=data)
    return Fact(visit_id=line.visit_id, subject=line.subject, said=said, closed=line.closed)


def _of_visit(turn: _Turn, visit_id: int, sort: FactSort, **data: object) -> Fact:
    said = Said(id=f"{turn.id}-{sort}", subject="", sort=sort, data=data)
    under = str(data.get("under", ""))
    return Fact(visit_id=visit_id, subject=under, said=said, closed=turn.known.closed(visit_id))


def _withdrawn(turn: _Turn, visit_id: int, fact: Said) -> Fact:
    said = Said(
        id=f"{fact.id}|withdrawn",
        subject=fact.subject,
        sort=FactSort.WITHDRAWN,
        corrects=fact.id,
    )
    closed = not fact.subject and turn.known.closed(visit_id)
    return Fact(visit_id=visit_id, subject=fact.subject, said=said, closed=closed)


def _taken_back(turn: _Turn, line: OnLine, said: Sequence[Said]) -> list[Step]:
    if line.closed:
        raise Refused("entry.undo_closed", typed=turn.typed, number=line.number)
    own = [
        fact
        for fact in said
        if (fact.subject == line.subject and fact.sort is not FactSort.BOOKED)
        or fact.data.get("under") == line.subject
    ]
    return [_withdrawn(turn, line.visit_id, fact) for fact in own]


def _note(work: WorkState, text: str) -> dict[str, object]:
    """Write a note under what was noted before; the same words twice are one note."""
    before = (work.note or "").splitlines()
    return {"text": "\n".join([*before, text] if text not in before else before)}


def _extra(turn: _Turn, extra: Extra) -> list[Step]:
    visit_id = turn.stop(extra.letter)
    already = [
        line
        for line in turn.known.lines.values()
        if line.visit_id == visit_id and line.words.casefold() == extra.words.casefold()
    ]
    if already:
        raise Refused("entry.extra_twice", typed=turn.typed, number=already[0].number)
    service = _service(turn.known.services, extra.service) if extra.service else None
    return [NewHorse(visit_id=visit_id, words=extra.words, service_id=service, say=extra.say)]


def _service(services: Sequence[ServiceLine], typed: str) -> int:
    offered = tuple((service.id, service.name) for service in services if not service.hidden)
    begins = tuple(
        (number, name) for number, name in offered if name.casefold().startswith(typed.casefold())
    )
    return one_of(begins, typed, "service", offered)


def _knife(turn: _Turn, name: str | None, facts: Facts) -> list[Step]:
    knives = turn.known.knives
    if name is not None and not knives:
        raise Refused("entry.no_knives")
    tool = None if name is None else one_of(holding(knives, name), name, "knife", knives)
    said = [
        (visit_id, fact)
        for visit_id in turn.known.stops.values()
        for fact in standing(in_order(facts.get(visit_id, ())))
        if fact.sort is FactSort.TOOL and fact.data["what"] in ("went_dull", "none")
    ]
    if tool is not None and any(fact.data["tool"] == tool for _, fact in said):
        return []
    steps: list[Step] = [
        _withdrawn(turn, visit_id, fact)
        for visit_id, fact in said
        if tool is None or fact.data["what"] == "none"
    ]
    what = "none" if tool is None else "went_dull"
    return [*steps, _of_visit(turn, turn.first_stop, FactSort.TOOL, tool=tool, what=what)]


def _apprentice(known: Known, name: str | None) -> int:
    if not known.apprentices:
        raise Refused("entry.no_apprentices")
    found = holding(known.apprentices, name) if name else known.apprentices
    return one_of(found, name or "", "apprentice", known.apprentices)
