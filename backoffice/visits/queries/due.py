"""Which horses are due, and what a horse has behind it."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

from sqlalchemy import func, select
from sqlalchemy.orm import Session

from backoffice.clients import queries as clients
from backoffice.clients.models import Horse, Yard
from backoffice.pricing.models import Service
from backoffice.stock.models import Item
from backoffice.units import Foot
from backoffice.visits.models import (
    HorseState,
    NextTime,
    Visit,
    Wears,
    Work,
)
from backoffice.visits.queries.day import MOST_ROWS, WorkFootLine


@dataclass(frozen=True, slots=True, kw_only=True)
class DueHorse:
    """A horse and when it is due."""

    horse_id: int
    name: str | None
    words: str | None
    yard_id: int | None
    yard_name: str | None
    last_day: date | None
    due_day: date | None
    service_name: str | None
    planned_day: date | None = None


def due_list(session: Session, until: date, yard_id: int | None = None) -> tuple[DueHorse, ...]:
    """List the horses due by a day, or all horses of one yard; the longest due first."""
    due = func.coalesce(NextTime.day, HorseState.due_day)
    where = Horse.yard_id == yard_id if yard_id is not None else due <= until
    rows = session.execute(
        select(
            Horse.id,
            Horse.name,
            Horse.words,
            Horse.yard_id,
            Yard.name.label("yard_name"),
            HorseState.last_day,
            due.label("due_day"),
            Service.name.label("service_name"),
        )
        .outerjoin(HorseState, HorseState.horse_id == Horse.id)
        .outerjoin(NextTime, NextTime.horse_id == Horse.id)
        .outerjoin(Service, Service.id == NextTime.service_id)
        .outerjoin(Yard, Yard.id == Horse.yard_id)
        .where(where, Horse.hidden == 0)
        .order_by(due.is_(None), due, Horse.id)
        .limit(MOST_ROWS)
    ).all()
    ids = [row.id for row in rows]
    lives = clients.lives_on(session, ids, until)
    planned = _planned(session, ids)
    return tuple(
        DueHorse(
            horse_id=row.id,
            name=row.name,
            words=row.words,
            yard_id=row.yard_id,
            yard_name=row.yard_name,
            last_day=row.last_day,
            due_day=_as_day(row.due_day),
            service_name=row.service_name,
            planned_day=planned.get(row.id),
        )
        for row in rows
        if lives[row.id] == "active"
    )


def _planned(session: Session, horses: Sequence[int]) -> dict[int | None, date]:
    """Give the last day each of these horses is put on and not done yet."""
    rows = session.execute(
        select(Work.horse_id, func.max(Visit.day, type_=Visit.day.type))
        .join(Visit, Visit.id == Work.visit_id)
        .where(
            Work.horse_id.in_(horses),
            Work.outcome == "planned",
            Work.closing_entry_id.is_(None),
        )
        .group_by(Work.horse_id)
    )
    return dict(rows.all())


def dues_of(session: Session, horses: Sequence[int]) -> dict[int, date | None]:
    """Say when each of these horses is due, as set for next time or else by its cycle."""
    due = func.coalesce(NextTime.day, HorseState.due_day)
    rows = session.execute(
        select(Horse.id, due)
        .outerjoin(HorseState, HorseState.horse_id == Horse.id)
        .outerjoin(NextTime, NextTime.horse_id == Horse.id)
        .where(Horse.id.in_(horses))
    )
    return {horse: _as_day(day) for horse, day in rows}


def _as_day(found: date | str | None) -> date | None:
    return date.fromisoformat(found) if isinstance(found, str) else found


@dataclass(frozen=True, slots=True, kw_only=True)
class PastWork:
    """A line of a horse's past."""

    work_id: int
    day: date
    service_name: str | None
    outcome: str
    closed: bool
    note: str | None


@dataclass(frozen=True, slots=True, kw_only=True)
class HorsePast:
    """What a horse wears, when it is due, and its latest works."""

    wears: tuple[WorkFootLine, ...]
    last_day: date | None
    due_day: date | None
    next_service_id: int | None
    next_service: str | None
    next_note: str | None
    proposed: bool
    works: tuple[PastWork, ...]


def horse_past(session: Session, horse_id: int) -> HorsePast:
    """Give what a horse wears, when it is due and what was done to it lately."""
    worn = session.execute(
        select(
            Wears.foot,
            Wears.shoe_item_id,
            Item.size_text,
            Item.name,
            Wears.nail_item_id,
            Wears.nails,
            Wears.pad_item_id,
            Wears.resets,
        )
        .outerjoin(Item, Item.id == Wears.shoe_item_id)
        .where(Wears.horse_id == horse_id)
    ).all()
    feet = {
        row.foot: WorkFootLine(
            foot=row.foot,
            planned="none",
            done="reset" if row.resets else "new",
            shoe_id=row.shoe_item_id,
            size=row.size_text,
            shoe_name=row.name,
            nail_id=row.nail_item_id,
            nails=row.nails,
            pad_id=row.pad_item_id,
        )
        for row in worn
    }
    state = session.get(HorseState, horse_id)
    coming = session.execute(
        select(NextTime.day, NextTime.note, NextTime.proposed, Service.id, Service.name)
        .outerjoin(Service, Service.id == NextTime.service_id)
        .where(NextTime.horse_id == horse_id)
    ).first()
    works = session.execute(
        select(Work.id, Visit.day, Service.name, Work.outcome, Work.closing_entry_id, Work.note)
        .join(Visit, Visit.id == Work.visit_id)
        .outerjoin(Service, Service.id == Work.service_id)
        .where(Work.horse_id == horse_id)
        .order_by(Visit.day.desc(), Work.id.desc())
        .limit(20)
    )
    return HorsePast(
        wears=tuple(
            feet.get(foot.value, WorkFootLine(foot=foot.value, planned="none", done="none"))
            for foot in Foot
        ),
        last_day=state.last_day if state else None,
        due_day=(coming.day if coming and coming.day else state.due_day if state else None),
        next_service_id=coming.id if coming else None,
        next_service=coming.name if coming else None,
        next_note=coming.note if coming else None,
        proposed=coming.proposed if coming else True,
        works=tuple(
            PastWork(
                work_id=row.id,
                day=row.day,
                service_name=row.name,
                outcome=row.outcome,
                closed=row.closing_entry_id is not None,
                note=row.note,
            )
            for row in works
        ),
    )
