"""Jobs done before this program was used: kept for reading, and for when horses are due."""

from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date

from sqlalchemy import insert, select
from sqlalchemy.orm import Session

from backoffice.days import sensible
from backoffice.db import insert_numbered
from backoffice.errors import Refused
from backoffice.practice.rules import amount, note
from backoffice.pricing import queries as pricing
from backoffice.pricing import rules as prices
from backoffice.units import Foot
from backoffice.visits import queries, rules
from backoffice.visits.models import Visit, Work, WorkFoot
from backoffice.visits.queries import Worn
from backoffice.visits.service.horses import refresh_horses
from backoffice.visits.service.recording import foot_values, work_values, worn_state


@dataclass(frozen=True, slots=True, kw_only=True)
class PastJob:
    """A horse done before; ``wears`` is what it wears now, ``words`` are what was written of it."""

    farrier_id: int
    yard_id: int | None
    day: date
    horse_id: int
    service_id: int | None
    price: int | None = None
    words: str = ""
    wears: Mapping[Foot, Worn] = field(default_factory=dict)


def record_history(session: Session, jobs: Sequence[PastJob], *, today: date) -> int:
    """Keep past jobs as done: one visit for each farrier, yard and day; give how many were new.

    Nothing is priced, drawn from stock, worn, billed or counted among what pays. A horse of which
    a day has a job for the same service in the same words is left as it is. What a horse wears is
    what its last shoeing nailed on; what went on before that is not known.
    Raises: Refused for a day to come.
    """
    for job in jobs:
        if sensible(job.day) > today:
            raise Refused("visits.history_to_come", on_day=job.day)
    horses = sorted({job.horse_id for job in jobs})
    known = queries.history_keys(session, horses)
    new: dict[queries.HistoryKey, PastJob] = {}
    for job in sorted(jobs, key=lambda job: job.day):
        key = queries.history_key(job.horse_id, job.day, job.service_id, _words(job))
        if key not in known:
            new.setdefault(key, job)
    if not new:
        return 0
    added = list(new.values())
    visits = _visits(session, added)
    ids = insert_numbered(session, Work, _works(session, added, visits))
    feet = _feet(session, added, ids)
    if feet:
        session.execute(insert(WorkFoot), feet)
    refresh_horses(session, sorted({job.horse_id for job in added}))
    return len(added)


def _words(job: PastJob) -> str | None:
    return note(job.words, "note")


def _key(job: PastJob) -> str:
    return f"{job.farrier_id}|{job.yard_id or 0}|{job.day.isoformat()}|history"


def _visits(session: Session, jobs: Sequence[PastJob]) -> dict[str, int]:
    """Give the visits of past jobs by their keys; made where there are none yet."""
    wanted = {_key(job): job for job in jobs}
    there = select(Visit.key, Visit.id).where(Visit.key.in_(wanted))
    found: dict[str, int] = dict(session.execute(there).all())
    places = {
        farrier: queries.place_of_farrier(session, farrier)
        for farrier in {job.farrier_id for job in jobs}
    }
    missing = [key for key in wanted if key not in found]
    rows = [
        {
            "key": key,
            "day": wanted[key].day,
            "farrier_id": wanted[key].farrier_id,
            "place_id": places[wanted[key].farrier_id],
            "yard_id": wanted[key].yard_id,
            "sort": "history",
            "ground": rules.ground_in(wanted[key].day),
            "place_no": 1,
            "drive": 0,
            "drive_told": False,
            "helper_id": None,
            "closed_seq": None,
            "version": 1,
        }
        for key in missing
    ]
    return found | dict(zip(missing, insert_numbered(session, Visit, rows), strict=True))


def _works(
    session: Session, jobs: Sequence[PastJob], visits: Mapping[str, int]
) -> list[dict[str, object]]:
    facts = queries.horse_facts(session, [job.horse_id for job in jobs])
    taken = queries.subjects_of(session, set(visits.values()))
    lines = Counter(visit_id for visit_id, _ in taken)
    rows: list[dict[str, object]] = []
    for job in jobs:
        visit_id = visits[_key(job)]
        subject, again = str(job.horse_id), 2
        while (visit_id, subject) in taken:
            subject, again = f"{job.horse_id}-{again}", again + 1
        taken.add((visit_id, subject))
        lines[visit_id] += 1
        work = rules.WorkState(
            subject=subject,
            place_no=lines[visit_id],
            horse_id=job.horse_id,
            service_id=job.service_id,
            outcome="done",
            booked=None if job.price is None else amount(job.price, "price"),
            note=_words(job),
        )
        rows.append({"visit_id": visit_id, **work_values(work, facts[job.horse_id].type_id)})
    return rows


def _feet(
    session: Session, jobs: Sequence[PastJob], work_ids: Sequence[int]
) -> list[dict[str, object]]:
    """Give the feet of past jobs as their services do them, with what the last shoeing nailed on.

    The jobs stand in order of their days.
    """
    services = pricing.services_by_id(session)
    shod: dict[tuple[int, Foot], date] = {
        (horse, foot.foot): foot.day
        for horse, past in queries.past_of(session, [job.horse_id for job in jobs]).items()
        for foot in past
        if foot.state.done.shod and foot.state.shoe is not None
    }
    rows: list[dict[str, object]] = []
    for job, work_id in reversed(list(zip(jobs, work_ids, strict=True))):
        service = services.get(job.service_id or 0)
        plan = prices.planned_feet(service.front, service.hind) if service else {}
        for foot, done in plan.items():
            last = done.shod and shod.get((job.horse_id, foot), date.min) < job.day
            state = worn_state(done, job.wears.get(foot) if last else None, None)
            if last:
                shod[job.horse_id, foot] = job.day
            rows.append(foot_values(work_id, foot, state))
    return rows
