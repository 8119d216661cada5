"""Horses nobody had booked, and coming back for the feet that were left."""

from datetime import date

from sqlalchemy.orm import Session

from backoffice.errors import Refused
from backoffice.practice.rules import needed
from backoffice.pricing import queries as pricing
from backoffice.pricing import rules as prices
from backoffice.units import FootWork
from backoffice.visits import queries, rules
from backoffice.visits.rules import FactSort, FootState, Said
from backoffice.visits.service.recording import say, visit_for, worn_state


def extra_horse(
    session: Session,
    visit_id: int,
    words: str,
    *,
    service_id: int | None = None,
    say_price: int | None = None,
    key: str | None = None,
) -> str:
    """Take on a horse nobody had booked, known in words only; give the name it goes by there.

    Its part of the call-out is nothing: that was fixed in the morning. ``key`` names the press it
    came with, so that it is taken on once.
    """
    fact_id = key or f"{visit_id}|extra|{queries.extras_of(session, visit_id) + 1}"
    for fact in queries.facts_of(session, visit_id):
        if fact.id == fact_id:
            return fact.subject
    visit = queries.visits_of(session, [visit_id])[visit_id]
    subject = f"x{queries.extras_of(session, visit_id) + 1}"
    service = pricing.services_by_id(session).get(service_id or 0)
    plan = prices.planned_feet(service.front, service.hind) if service else {}
    booked = Said(
        id=fact_id,
        subject=subject,
        sort=FactSort.BOOKED,
        data={
            "place_no": queries.last_line_no(session, visit.farrier_id, visit.day) + 1,
            "words": needed(words, "words"),
            "service": service_id,
            "feet": {
                foot.value: rules.foot_facts(FootState(planned=done, done=done))
                for foot, done in plan.items()
            },
        },
    )
    said = [booked]
    if say_price is not None:
        told = {"say": say_price}
        said.append(Said(id=f"{fact_id}|told", subject=subject, sort=FactSort.TOLD, data=told))
    say(session, visit_id, said)
    return subject


def plan_finish(session: Session, work_id: int, day: date, *, today: date) -> int:
    """Put a horse done in part on a day for the feet that were left; give the visit.

    It costs what is left of the price that was booked, without a call-out.
    Raises: Refused if nothing was left, its own day is not written up or this one has passed, or
    the horse is on that stop already.
    """
    work = queries.work_row(session, work_id)
    feet = queries.feet_of(session, [work_id])[work_id]
    left = {foot: state for foot, state in feet.items() if state.done is FootWork.NOT_DONE}
    if not left:
        raise Refused("visits.nothing_left")
    if work.closing_entry_id is None:
        raise Refused("visits.close_first")
    if day < today:
        raise Refused("visits.day_passed", field="day")
    first = queries.visits_of(session, [work.visit_id])[work.visit_id]
    if first.yard_id is None:
        raise Refused("visits.no_yard")
    visit = visit_for(session, first.farrier_id, first.yard_id, day)
    if work.subject in {other.subject for other in queries.works_of(session, visit.id)}:
        raise Refused("visits.there_already", field="day")
    worn = queries.wears_of(session, [work.horse_id] if work.horse_id else [])
    count = queries.bookings_of(session, visit.id, work.subject)
    say(
        session,
        visit.id,
        [
            Said(
                id=f"{visit.key}|finish|{work_id}|{count + 1}",
                subject=work.subject,
                sort=FactSort.BOOKED,
                data={
                    "place_no": queries.last_line_no(session, visit.farrier_id, day) + 1,
                    "horse": work.horse_id,
                    "words": work.words,
                    "service": work.service_id,
                    "say": _rest_of_price(session, work),
                    "finishes": work_id,
                    "feet": {
                        foot.value: rules.foot_facts(
                            worn_state(state.planned, worn.get((work.horse_id or 0, foot)), None)
                        )
                        for foot, state in left.items()
                    },
                },
            )
        ],
    )
    return visit.id


def _rest_of_price(session: Session, work: queries.WorkRow) -> int | None:
    charged = queries.work_charged(session, work.id)
    if work.booked is None or charged is None:
        return None
    return max(work.booked - charged, 0)
