"""What is said after a work was closed: taken in as a correction, or dropped."""

from collections.abc import Sequence
from datetime import date
from typing import Any

from sqlalchemy import update
from sqlalchemy.orm import Session

from backoffice.daybook import service as daybook
from backoffice.errors import Refused
from backoffice.units import FootWork
from backoffice.visits import queries, rules
from backoffice.visits.models import Visit, Work
from backoffice.visits.rules import FactSort, Said, WorkState
from backoffice.visits.service import whole_day
from backoffice.visits.service.gathering import gather, minutes_of
from backoffice.visits.service.horses import refresh_horses
from backoffice.visits.service.mending import redraw, reprice_work, wear_again
from backoffice.visits.service.recording import say, work_values, write_feet, write_payers
from backoffice.visits.service.results import write_results, write_results_again

NOBODY: frozenset[int] = frozenset()


def put_right(
    session: Session,
    visit_id: int,
    facts: Sequence[Said],
    *,
    today: date,
    owing: frozenset[int] = NOBODY,
) -> None:
    """Say something about horses of a visit, and take it in at once where they are closed.

    Raises: Refused as ``apply_late`` does.
    """
    say(session, visit_id, facts)
    for subject in dict.fromkeys(fact.subject for fact in facts):
        apply_late(session, visit_id, subject, today=today, owing=owing)


def apply_late(
    session: Session,
    visit_id: int,
    subject: str,
    *,
    today: date,
    owing: frozenset[int] = NOBODY,
) -> None:
    """Take in what was said about a horse, or with "" about the visit, since it was closed.

    Stock and wear follow what was done, the price what was said of it; each only if it changed.
    Raises: Refused if the price of something on a bill would change, or nothing is said any more.
    """
    if not subject:
        _apply_to_visit(session, visit_id, today=today)
        return
    session.get(Visit, visit_id, with_for_update=True)
    work = queries.work_of(session, visit_id, subject)
    if work is None or work.closing_entry_id is None:
        return
    state = rules.fold(queries.facts_of(session, visit_id)).works.get(subject)
    if state is None or state.outcome == "planned":
        raise Refused("visits.say_what_was_done")
    drawn, priced = _changes(session, work, state)
    _write_state(session, work, state)
    day = queries.visits_of(session, [visit_id])[visit_id].day
    if drawn:
        redraw(session, work.id, today=today)
    else:
        known = gather(session, [work.id], day)
        minutes = minutes_of(known, known.works[0])
        session.execute(update(Work).where(Work.id == work.id).values(minutes=minutes))
        if not priced:
            write_results(session, known, queries.costs_of(session, [work.id]))
    if priced:
        reprice_work(session, work.id, told=state.told, today=today, owing=owing)
    if work.horse_id is not None and work.horse_id != state.horse_id:
        refresh_horses(session, [work.horse_id])


def _changes(session: Session, work: queries.WorkRow, state: WorkState) -> tuple[bool, bool]:
    """Whether stock and wear change by what is said now, and whether the price does."""
    feet = queries.feet_of(session, [work.id])[work.id]
    payers = queries.payers_once(session, [work.id]).get(work.id, ())
    done = (work.outcome, work.service_id, work.horse_id)
    says = (state.outcome, state.service_id, state.horse_id)
    drawn = dict(state.feet) != feet or done != says
    by_feet = "part" in (work.outcome, state.outcome) or any(
        foot.lost for foot in (*feet.values(), *state.feet.values())
    )
    cost = (*done[:2], work.told, work.travel_told, work.booked, payers)
    costs = (*says[:2], state.told, state.travel_told, state.booked, state.payers)
    return drawn, cost != costs or (by_feet and drawn)


def _write_state(session: Session, work: queries.WorkRow, state: WorkState) -> None:
    type_id = None
    if state.horse_id is not None:
        type_id = queries.horse_facts(session, [state.horse_id])[state.horse_id].type_id
    values: dict[str, Any] = work_values(state, type_id)
    values["closed_seq"] = queries.last_said(session, work.visit_id, work.subject)
    session.execute(update(Work).where(Work.id == work.id).values(**values))
    write_feet(session, work.id, state.feet, standing=True)
    write_payers(session, work.id, state.payers, standing=True)


def _apply_to_visit(session: Session, visit_id: int, *, today: date) -> None:
    if whole_day.closed_seq(session, visit_id) is None:
        return
    before = queries.visits_of(session, [visit_id])[visit_id]
    whole_day.set_state(session, visit_id, rules.fold(queries.facts_of(session, visit_id)))
    entry_id = daybook.record(session, "correction", today)
    driven = whole_day.take_in(session, [visit_id], entry_id=entry_id)
    after = queries.visits_of(session, [visit_id])[visit_id]
    closed = queries.closed_works(session, [visit_id])
    if before.ground != after.ground:
        for work_id in closed:
            wear_again(session, work_id, entry_id=entry_id)
    if before.helper_id != after.helper_id:
        known = gather(session, closed, after.day)
        session.execute(
            update(Work),
            [{"id": work.id, "minutes": minutes_of(known, work)} for work in known.works],
        )
    touched = queries.closed_works(session, driven | {visit_id})
    write_results_again(session, touched, after.day)


def drop_late(session: Session, visit_id: int, subject: str) -> None:
    """Take back what was said since a horse, or with "" the visit, was closed; nothing changes."""
    work = queries.work_of(session, visit_id, subject) if subject else None
    since = work.closed_seq if work else whole_day.closed_seq(session, visit_id)
    if since is None:
        raise Refused("visits.not_closed")
    late = [
        fact
        for fact in queries.facts_of(session, visit_id)
        if fact.subject == subject and fact.seq > since and fact.sort is not FactSort.WITHDRAWN
    ]
    taken = [
        Said(id=f"{fact.id}|withdrawn", subject=subject, sort=FactSort.WITHDRAWN, corrects=fact.id)
        for fact in late
    ]
    say(session, visit_id, taken)
    seq = queries.last_said(session, visit_id, subject)
    if work:
        session.execute(update(Work).where(Work.id == work.id).values(closed_seq=seq))
    else:
        session.execute(update(Visit).where(Visit.id == visit_id).values(closed_seq=seq))


def which_horse(session: Session, work_id: int, horse_id: int) -> tuple[FactSort, dict[str, Any]]:
    """Give what is to be said so that a horse known in words only is a horse of its own.

    Once it is said, what was done counts as that horse's.
    Raises: Refused if it is a horse already, or stands on that visit by itself.
    """
    work = queries.work_row(session, work_id)
    if work.horse_id is not None:
        raise Refused("visits.named_already")
    if horse_id in {other.horse_id for other in queries.works_of(session, work.visit_id)}:
        raise Refused("visits.there_already", field="horse")
    booked = next(
        fact
        for fact in reversed(queries.facts_of(session, work.visit_id))
        if fact.subject == work.subject and fact.sort is FactSort.BOOKED
    )
    return FactSort.BOOKED, {**booked.data, "horse": horse_id}


def leave_unfinished(session: Session, work_id: int) -> None:
    """Say that the feet which were left stay as they are: the horse is done.

    What was charged counts as told, and nothing is left to finish.
    Raises: Refused if nothing was left.
    """
    work = queries.work_row(session, work_id)
    feet = queries.feet_of(session, [work_id])[work_id]
    left = [foot for foot, state in feet.items() if state.done is FootWork.NOT_DONE]
    if not left:
        raise Refused("visits.nothing_left")
    key = f"{work_id}|left|{queries.last_said(session, work.visit_id, work.subject)}"
    done = {"feet": {foot.value: {"done": FootWork.NONE.value} for foot in left}}
    said = [Said(id=key, subject=work.subject, sort=FactSort.FEET, data=done)]
    charged = queries.work_charged(session, work_id)
    if charged is not None:
        told = {"say": charged}
        said.append(Said(id=f"{key}|told", subject=work.subject, sort=FactSort.TOLD, data=told))
    say(session, work.visit_id, said)
    if work.closing_entry_id is not None:
        state = rules.fold(queries.facts_of(session, work.visit_id)).works[work.subject]
        _write_state(session, work, state)
        session.execute(update(Work).where(Work.id == work_id).values(minutes=work.minutes))
        refresh_horses(session, [work.horse_id] if work.horse_id else [])
