"""What horses wear, when they are due, and what comes next."""

from collections.abc import Mapping, Sequence
from datetime import date
from typing import Any

from sqlalchemy import delete, insert, select, update
from sqlalchemy.orm import Session

from backoffice.pricing import queries as pricing
from backoffice.pricing import rules as prices
from backoffice.visits import queries, rules
from backoffice.visits.models import (
    HorseState,
    NextTime,
    Wears,
)
from backoffice.visits.service.gathering import due_of


def refresh_horses(session: Session, horses: Sequence[int]) -> None:
    """Work out again what horses wear, when they were last done and when they are due.

    Called after a closing or a correction, and after a horse's own cycle or kind was edited.
    What the farrier set for next time himself stays.
    """
    past = queries.past_of(session, horses)
    now = {horse: rules.horse_now(feet) for horse, feet in past.items()}
    facts = queries.horse_facts(session, horses)
    session.execute(delete(Wears).where(Wears.horse_id.in_(horses)))
    session.execute(delete(HorseState).where(HorseState.horse_id.in_(horses)))
    wears = [
        {
            "horse_id": horse,
            "foot": foot.value,
            "work_id": worn.work_id,
            "shoe_item_id": worn.state.shoe,
            "nail_item_id": worn.state.nail,
            "nails": worn.state.nails,
            "pad_item_id": worn.state.pad,
            "resets": worn.resets,
        }
        for horse, standing in now.items()
        for foot, worn in standing.wears.items()
    ]
    states: list[dict[str, Any]] = [
        {
            "horse_id": horse,
            "last_work_id": standing.last_work_id,
            "last_day": standing.last_day,
            "due_day": due_of(facts[horse], standing),
        }
        for horse, standing in now.items()
        if standing.last_work_id is not None
    ]
    if wears:
        session.execute(insert(Wears), wears)
    if states:
        session.execute(insert(HorseState), states)
    _propose(session, horses, {row["horse_id"]: row["due_day"] for row in states})


def _propose(session: Session, horses: Sequence[int], due: Mapping[int, date | None]) -> None:
    """Propose what comes next and when, where the farrier has not set it himself.

    Where he set only the day, what comes is proposed beside it.
    """
    set_by_hand = {
        row.horse_id: row.service_id
        for row in session.execute(
            select(NextTime.horse_id, NextTime.service_id).where(
                NextTime.horse_id.in_(horses), NextTime.proposed == 0
            )
        )
    }
    done = queries.services_done(session, horses)
    services = pricing.services_by_id(session)
    comes = {h: prices.propose_next(done[h], services) for h in horses if done[h]}
    session.execute(delete(NextTime).where(NextTime.horse_id.in_(horses), NextTime.proposed == 1))
    for horse, service in set_by_hand.items():
        if service is None and comes.get(horse) is not None:
            filled = update(NextTime).where(NextTime.horse_id == horse)
            session.execute(filled.values(service_id=comes[horse]))
    rows = [
        {
            "horse_id": horse,
            "service_id": service,
            "day": due.get(horse),
            "note": None,
            "proposed": True,
        }
        for horse, service in comes.items()
        if horse not in set_by_hand
    ]
    if rows:
        session.execute(insert(NextTime), rows)


def set_next_time(
    session: Session, horse_id: int, service_id: int | None, day: date | None, note: str | None
) -> None:
    """Set what a horse gets next time and when, in place of what was proposed."""
    row = session.get(NextTime, horse_id)
    if row is None:
        row = NextTime(horse_id=horse_id, proposed=False)
        session.add(row)
    row.service_id, row.day, row.note, row.proposed = service_id, day, note, False
    session.flush()


def forget_next_time(session: Session, horses: Sequence[int | None], day: date) -> None:
    """Let what was set for next time go once it has been done; a later day stands."""
    gone = update(NextTime).where(
        NextTime.horse_id.in_(horses), NextTime.day.is_(None) | (NextTime.day <= day)
    )
    session.execute(gone.values(proposed=True))
