"""Horses as the rules of visits take them: what is known, worn and done."""

from collections.abc import Sequence
from dataclasses import dataclass

from sqlalchemy import select
from sqlalchemy.orm import Session

from backoffice.clients.models import Horse, HorseType
from backoffice.units import Foot, FootWork
from backoffice.visits.models import (
    NextTime,
    Visit,
    Wears,
    Work,
    WorkFoot,
)
from backoffice.visits.rules import FootState, PastFoot


@dataclass(frozen=True, slots=True, kw_only=True)
class HorseFacts:
    """What rules need to know of a horse; None is not known yet."""

    type_id: int | None
    nails: int | None
    wear_factor: int
    time_factor: int
    own_cycle: int | None
    shod_days: int | None
    trim_days: int | None
    next_service_id: int | None


UNKNOWN_HORSE = HorseFacts(
    type_id=None,
    nails=None,
    wear_factor=1000,
    time_factor=1000,
    own_cycle=None,
    shod_days=None,
    trim_days=None,
    next_service_id=None,
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Worn:
    """What a horse wears on one foot."""

    shoe: int | None
    nail: int | None
    nails: int | None
    pad: int | None
    resets: int


def horse_facts(session: Session, horses: Sequence[int]) -> dict[int, HorseFacts]:
    """Give what is known of horses, their kind and their next time."""
    rows = session.execute(
        select(
            Horse.id,
            Horse.type_id,
            Horse.cycle_days,
            HorseType.nails,
            HorseType.wear_factor,
            HorseType.time_factor,
            HorseType.shod_days,
            HorseType.trim_days,
            NextTime.service_id,
        )
        .outerjoin(HorseType, HorseType.id == Horse.type_id)
        .outerjoin(NextTime, NextTime.horse_id == Horse.id)
        .where(Horse.id.in_(horses))
    )
    return {
        row.id: HorseFacts(
            type_id=row.type_id,
            nails=row.nails,
            wear_factor=row.wear_factor or 1000,
            time_factor=row.time_factor or 1000,
            own_cycle=row.cycle_days,
            shod_days=row.shod_days,
            trim_days=row.trim_days,
            next_service_id=row.service_id,
        )
        for row in rows
    }


def wears_of(session: Session, horses: Sequence[int]) -> dict[tuple[int, Foot], Worn]:
    """Give what horses wear, foot by foot."""
    rows = session.execute(
        select(
            Wears.horse_id,
            Wears.foot,
            Wears.shoe_item_id,
            Wears.nail_item_id,
            Wears.nails,
            Wears.pad_item_id,
            Wears.resets,
        ).where(Wears.horse_id.in_(horses))
    )
    return {
        (row.horse_id, Foot(row.foot)): Worn(
            shoe=row.shoe_item_id,
            nail=row.nail_item_id,
            nails=row.nails,
            pad=row.pad_item_id,
            resets=row.resets,
        )
        for row in rows
    }


def past_of(session: Session, horses: Sequence[int]) -> dict[int, list[PastFoot]]:
    """Give every foot of the closed and brought-in works of horses, oldest day first."""
    rows = session.execute(
        select(
            Work.horse_id,
            Work.id,
            Visit.day,
            WorkFoot.foot,
            WorkFoot.done,
            WorkFoot.shoe_item_id,
            WorkFoot.nail_item_id,
            WorkFoot.nails,
            WorkFoot.pad_item_id,
        )
        .join(Visit, Visit.id == Work.visit_id)
        .join(WorkFoot, WorkFoot.work_id == Work.id)
        .where(
            Work.horse_id.in_(horses),
            Work.closing_entry_id.is_not(None) | (Visit.sort == "history"),
        )
        .order_by(Visit.day, Work.id, WorkFoot.id)
    )
    past: dict[int, list[PastFoot]] = {horse: [] for horse in horses}
    for found, work_id, day, foot, done, shoe, nail, nails, pad in rows:
        state = FootState(
            planned=FootWork(done), done=FootWork(done), shoe=shoe, nail=nail, nails=nails, pad=pad
        )
        past[found or 0].append(PastFoot(work_id=work_id, day=day, foot=Foot(foot), state=state))
    return past


def services_done(session: Session, horses: Sequence[int]) -> dict[int, list[int]]:
    """Give the services done on horses, oldest first."""
    rows = session.execute(
        select(Work.horse_id, Work.service_id)
        .join(Visit, Visit.id == Work.visit_id)
        .where(
            Work.horse_id.in_(horses),
            Work.outcome.in_(("done", "part")),
            Work.service_id.is_not(None),
            Work.closing_entry_id.is_not(None) | (Visit.sort == "history"),
        )
        .order_by(Visit.day, Work.id)
    )
    done: dict[int, list[int]] = {horse: [] for horse in horses}
    for found, service in rows:
        done[found or 0].append(service or 0)
    return done
