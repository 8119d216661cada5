"""Putting horses on a day, and writing down what is said about them."""

import json
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from typing import Any

from sqlalchemy import delete, insert, select, update
from sqlalchemy.orm import Session

from backoffice.clients import queries as clients
from backoffice.db import insert_or_nothing
from backoffice.errors import Refused
from backoffice.practice import queries as practice
from backoffice.pricing import queries as pricing
from backoffice.pricing import rules as prices
from backoffice.units import Foot, FootWork
from backoffice.visits import queries, rules
from backoffice.visits.models import Fact, Visit, Work, WorkFoot, WorkPayer
from backoffice.visits.rules import FactSort, FootState, Said, WorkState
from backoffice.visits.service import whole_day


@dataclass(frozen=True, slots=True, kw_only=True)
class NewStop:
    """Horses to put on a farrier's day at a yard; a service of None is what is planned for it."""

    farrier_id: int
    yard_id: int
    day: date
    horses: tuple[int, ...]
    services: Mapping[int, int | None]


def plan_stop(session: Session, new: NewStop, *, today: date, told: Sequence[Said] = ()) -> int:
    """Put horses on a day and write down what is booked for each: service, price to say, travel.

    Until the morning of the day the call-out is shared by all horses booked; a horse added later
    carries none, and nobody's part is changed any more. A stop first made on its own day shares
    it over the horses it is made with. A horse that is there to be finished stays as it is.
    ``told`` is what was said of the stop already.
    Raises: Refused without a horse, or for a horse that is gone.
    """
    if not new.horses:
        raise Refused("visits.no_horse", field="horses")
    lives = clients.lives_on(session, new.horses, new.day)
    if any(lives.get(horse) != "active" for horse in new.horses):
        raise Refused("visits.horse_gone", field="horses")
    visit = visit_for(session, new.farrier_id, new.yard_id, new.day)
    there = queries.works_of(session, visit.id)
    works = [work for work in there if work.finishes_id is None]
    finishing = {work.horse_id for work in there} - {work.horse_id for work in works}
    booked = {
        work.horse_id: work.service_id
        for work in works
        if work.horse_id and work.outcome == "planned" and work.closing_entry_id is None
    }
    added = [horse for horse in new.horses if horse not in booked and horse not in finishing]
    wanted: dict[int, int | None] = dict(new.services)
    if today < new.day:
        wanted = {horse: wanted.get(horse, service) for horse, service in booked.items()} | wanted
        added = [*booked, *added]
    fixed = bool(works) and today >= new.day
    call_out = 0 if fixed else queries.call_out_of(session, new.yard_id)
    say(session, visit.id, [*_bookings(session, visit, added, wanted, call_out), *told])
    return visit.id


def visit_for(session: Session, farrier_id: int, yard_id: int, day: date) -> Visit:
    """Give the visit of a farrier at a yard on a day; made if there is none yet."""
    key = f"{farrier_id}|{yard_id}|{day.isoformat()}|1"
    visit = session.scalars(select(Visit).where(Visit.key == key)).first()
    if visit is not None:
        return visit
    settings = practice.settings(session)
    yard = queries.yard_of(session, yard_id)
    visit = Visit(
        key=key,
        day=day,
        farrier_id=farrier_id,
        place_id=queries.place_of_farrier(session, farrier_id),
        yard_id=yard_id,
        sort="stop",
        ground=yard.ground or rules.ground_in(day),
        place_no=queries.stops_on(session, day) + 1,
        drive=rules.drive_cost(yard.miles, settings["mile_thousandths"]),
        drive_told=False,
    )
    session.add(visit)
    session.flush()
    return visit


def _bookings(
    session: Session,
    visit: Visit,
    horses: Sequence[int],
    services: Mapping[int, int | None],
    call_out: int,
) -> list[Said]:
    plans = plans_for(session, horses, services, visit.day)
    parts = prices.travel_parts(call_out, len(horses))
    known = {work.horse_id: work for work in queries.works_of(session, visit.id)}
    free = queries.last_line_no(session, visit.farrier_id, visit.day)
    booked = []
    for horse, part in zip(horses, parts, strict=True):
        plan = plans[horse]
        if horse not in known:
            free += 1
        number = known[horse].place_no if horse in known else free
        count = queries.bookings_of(session, visit.id, str(horse))
        booked.append(
            Said(
                id=f"{visit.key}|booked|{horse}|{count + 1}",
                subject=str(horse),
                sort=FactSort.BOOKED,
                data={
                    "place_no": number,
                    "horse": horse,
                    "service": plan.service_id,
                    "say": plan.price,
                    "travel": part,
                    "feet": {f.value: rules.foot_facts(state) for f, state in plan.feet.items()},
                },
            )
        )
    return booked


@dataclass(frozen=True, slots=True, kw_only=True)
class Plan:
    """What a horse gets next: its service, the price to say, and what goes on each foot."""

    service_id: int | None
    price: int | None
    feet: Mapping[Foot, FootState]


def plans_for(
    session: Session, horses: Sequence[int], services: Mapping[int, int | None], day: date
) -> dict[int, Plan]:
    """Plan each horse: its next time unless told otherwise, with what it wears on each foot."""
    facts = queries.horse_facts(session, horses)
    wears = queries.wears_of(session, horses)
    book = pricing.price_book(session, day)
    payers = clients.payers_on(session, horses, day)
    plans = {}
    for horse in horses:
        service_id = services.get(horse) or facts[horse].next_service_id
        service = book.services.get(service_id) if service_id else None
        feet = {
            foot: worn_state(done, wears.get((horse, foot)), facts[horse].nails)
            for foot, done in (
                prices.planned_feet(service.front, service.hind).items() if service else ()
            )
        }
        paying = tuple(client for client, _ in payers[horse] if client is not None)
        price = (
            book.price_of(service.id, facts[horse].type_id, paying) if service is not None else None
        )
        plans[horse] = Plan(service_id=service_id, price=price.amount if price else None, feet=feet)
    return plans


def worn_state(done: FootWork, worn: queries.Worn | None, nails: int | None) -> FootState:
    """Give what goes on a foot: what it wears, else as many nails as its kind takes."""
    if not done.shod:
        return FootState(planned=done, done=done)
    if worn is None:
        return FootState(planned=done, done=done, nails=nails)
    return FootState(
        planned=done,
        done=done,
        shoe=worn.shoe,
        nail=worn.nail,
        nails=worn.nails or nails,
        pad=worn.pad,
    )


def say(session: Session, visit_id: int, facts: Sequence[Said]) -> None:
    """Write facts down, each once however often it arrives, and fold the visit anew.

    Whoever says something at the same time waits, and then finds what was said before him.
    Raises: Refused for a visit from before this program was used.
    """
    visit = session.get(Visit, visit_id, with_for_update=True)
    if visit is None:
        raise Refused("record.missing")
    if visit.sort == "history":
        raise Refused("visits.from_before")
    for fact in facts:
        insert_or_nothing(
            session,
            Fact,
            id=fact.id,
            visit_id=visit_id,
            subject=fact.subject,
            sort=fact.sort.value,
            v=fact.v,
            device=fact.device,
            counter=fact.counter,
            recorded_at=session.info["at"],
            user_id=session.info["by"],
            corrects=fact.corrects,
            data=json.dumps(dict(fact.data), sort_keys=True),
        )
    refold(session, visit_id)


def take_off(session: Session, horse_id: int, from_day: date) -> None:
    """Take a horse off every day it is still planned for, from a day on."""
    for visit_id, subject in queries.plans_of(session, horse_id, from_day):
        take_off_visit(session, visit_id, subject)


def take_off_visit(session: Session, visit_id: int, subject: str) -> None:
    """Take a horse off one visit it is planned for."""
    _take_back(session, visit_id, queries.facts_of(session, visit_id), subject)


def unsay(session: Session, visit_id: int, subject: str) -> None:
    """Take back all that was said about a horse since it was booked."""
    facts = [f for f in queries.facts_of(session, visit_id) if f.sort is not FactSort.BOOKED]
    _take_back(session, visit_id, facts, subject)


def _take_back(session: Session, visit_id: int, facts: Sequence[Said], subject: str) -> None:
    taken = [
        Said(
            id=f"{fact.id}|withdrawn",
            subject=subject,
            sort=FactSort.WITHDRAWN,
            corrects=fact.id,
        )
        for fact in facts
        if fact.subject == subject and fact.sort is not FactSort.WITHDRAWN
    ]
    say(session, visit_id, taken)


def refold(session: Session, visit_id: int) -> None:
    """Make the works of a visit from its facts again, leaving closed ones as they are."""
    state = rules.fold(queries.facts_of(session, visit_id))
    if whole_day.closed_seq(session, visit_id) is None:
        whole_day.set_state(session, visit_id, state)
    standing = {work.subject: work for work in queries.works_of(session, visit_id)}
    types = queries.horse_facts(
        session, [work.horse_id for work in state.works.values() if work.horse_id is not None]
    )
    gone = [
        work.id
        for subject, work in standing.items()
        if subject not in state.works and work.closing_entry_id is None
    ]
    if gone:
        session.execute(delete(WorkFoot).where(WorkFoot.work_id.in_(gone)))
        session.execute(delete(WorkPayer).where(WorkPayer.work_id.in_(gone)))
        session.execute(delete(Work).where(Work.id.in_(gone)))
    for subject, work in state.works.items():
        before = standing.get(subject)
        if before is not None and before.closing_entry_id is not None:
            continue
        known = types.get(work.horse_id) if work.horse_id is not None else None
        values = work_values(work, known.type_id if known else None)
        if before is None:
            made = insert(Work).values(visit_id=visit_id, **values).returning(Work.id)
            work_id = session.scalars(made).one()
        else:
            work_id = before.id
            session.execute(update(Work).where(Work.id == work_id).values(**values))
        write_feet(session, work_id, work.feet, standing=before is not None)
        write_payers(session, work_id, work.payers, standing=before is not None)


def work_values(work: WorkState, type_id: int | None) -> dict[str, Any]:
    """Give the columns of a work as its facts tell it."""
    return {
        "subject": work.subject,
        "place_no": work.place_no,
        "horse_id": work.horse_id,
        "words": work.words,
        "note": work.note,
        "type_id": type_id,
        "service_id": work.service_id,
        "outcome": work.outcome,
        "booked": work.booked,
        "told": work.told,
        "travel": work.travel,
        "travel_told": work.travel_told,
        "finishes_id": work.finishes,
        "minutes": work.minutes or 0,
        "minutes_told": work.minutes is not None,
    }


def write_feet(
    session: Session, work_id: int, feet: Mapping[Foot, FootState], *, standing: bool
) -> None:
    """Write the feet of a work anew."""
    if standing:
        session.execute(delete(WorkFoot).where(WorkFoot.work_id == work_id))
    rows = [foot_values(work_id, foot, state) for foot, state in feet.items()]
    if rows:
        session.execute(insert(WorkFoot), rows)


def foot_values(work_id: int, foot: Foot, state: FootState) -> dict[str, Any]:
    """Give the columns of a foot of a work."""
    return {
        "work_id": work_id,
        "foot": foot.value,
        "planned": state.planned.value,
        "done": state.done.value,
        "shoe_item_id": state.shoe,
        "nail_item_id": state.nail,
        "nails": state.nails,
        "pad_item_id": state.pad,
        "lost": state.lost,
    }


def write_payers(
    session: Session, work_id: int, parts: Sequence[tuple[int, int]], *, standing: bool
) -> None:
    """Write who pays for a work this once; nobody named is who pays always."""
    if standing:
        session.execute(delete(WorkPayer).where(WorkPayer.work_id == work_id))
    rows = [
        {"work_id": work_id, "place_no": place, "client_id": client, "parts": part}
        for place, (client, part) in enumerate(parts)
    ]
    if rows:
        session.execute(insert(WorkPayer), rows)
