"""Horses as the rules of visits take them: what is known, worn and done."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date

from sqlalchemy import case, func, or_, select
from sqlalchemy.orm import Session, aliased

from backoffice.clients.models import Horse, HorseType
from backoffice.pricing.models import Service
from backoffice.stock.models import Item
from backoffice.units import Foot, FootWork
from backoffice.visits.models import (
    NextTime,
    Visit,
    Wears,
    Work,
    WorkFoot,
)
from backoffice.visits.rules import FootState, PastFoot

MOST_OPEN = 20


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
            WorkFoot.lost,
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
    for found, work_id, day, foot, done, shoe, nail, nails, pad, lost in rows:
        state = FootState(
            planned=FootWork(done),
            done=FootWork(done),
            shoe=shoe,
            nail=nail,
            nails=nails,
            pad=pad,
            lost=lost,
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
            Work.finishes_id.is_(None),
            Work.closing_entry_id.is_not(None) | (Visit.sort == "history"),
        )
        .order_by(Visit.day, Work.id)
    )
    done: dict[int, list[int]] = {horse: [] for horse in horses}
    for found, service in rows:
        done[found or 0].append(service or 0)
    return done


@dataclass(frozen=True, slots=True, kw_only=True)
class FootNow:
    """A foot as it stands: the last shoe nailed on and when; ``bare``, it came off since.

    ``nailed_on`` is when the shoe was last nailed on at its time, not put back after it was lost.
    """

    foot: str
    bare: bool
    done: str
    size: str | None = None
    shoe_name: str | None = None
    nail_name: str | None = None
    nails: int | None = None
    pad_id: int | None = None
    nailed_on: date | None = None


def feet_now(session: Session, horse_id: int) -> tuple[FootNow, ...]:
    """Give the feet of a horse as its closed and brought-in works leave them; unknown ones not."""
    shod = WorkFoot.done.in_((FootWork.NEW.value, FootWork.RESET.value))
    how = case(
        (shod & WorkFoot.lost.is_not(None), "put_back"),
        (shod, "nailed"),
        else_="bare",
    )
    ranked = (
        select(
            WorkFoot.foot,
            WorkFoot.done,
            WorkFoot.shoe_item_id,
            WorkFoot.nail_item_id,
            WorkFoot.nails,
            WorkFoot.pad_item_id,
            WorkFoot.work_id,
            Visit.day,
            how.label("how"),
        )
        .join(Work, Work.id == WorkFoot.work_id)
        .join(Visit, Visit.id == Work.visit_id)
        .where(
            Work.horse_id == horse_id,
            WorkFoot.done.not_in((FootWork.NONE.value, FootWork.NOT_DONE.value)),
            Work.closing_entry_id.is_not(None) | (Visit.sort == "history"),
        )
        .subquery()
    )
    place = func.row_number().over(
        partition_by=(ranked.c.foot, ranked.c.how),
        order_by=(ranked.c.day.desc(), ranked.c.work_id.desc()),
    )
    latest = select(ranked, place.label("place")).subquery()
    nail = aliased(Item)
    rows = session.execute(
        select(latest, Item.size_text, Item.name, nail.name.label("nail_name"))
        .outerjoin(Item, Item.id == latest.c.shoe_item_id)
        .outerjoin(nail, nail.id == latest.c.nail_item_id)
        .where(latest.c.place == 1)
        .order_by(latest.c.day, latest.c.work_id)
    )
    found: dict[str, FootNow] = {}
    for row in rows:
        before = found.get(row.foot)
        if row.how == "bare":
            stands = before or FootNow(foot=row.foot, bare=True, done=row.done)
            found[row.foot] = replace(stands, bare=True, done=row.done)
            continue
        kept = before.nailed_on if before and row.how == "put_back" else None
        found[row.foot] = FootNow(
            foot=row.foot,
            bare=False,
            done=row.done,
            size=row.size_text,
            shoe_name=row.name,
            nail_name=row.nail_name,
            nails=row.nails,
            pad_id=row.pad_item_id,
            nailed_on=kept or row.day,
        )
    return tuple(found[foot.value] for foot in Foot if foot.value in found)


@dataclass(frozen=True, slots=True, kw_only=True)
class Lost:
    """How many shoes were lost: by a horse, and by all horses at its yard."""

    horse: int
    yard: int


def lost_shoes(session: Session, horse_id: int, yard_id: int | None, since: date) -> Lost:
    """Count the shoes a horse lost since a day, and those lost at a yard."""
    own = Work.horse_id == horse_id
    there = Visit.yard_id == yard_id if yard_id is not None else own
    row = session.execute(
        select(
            func.coalesce(func.sum(case((own, 1), else_=0)), 0).label("horse"),
            func.coalesce(func.sum(case((there, 1), else_=0)), 0).label("yard"),
        )
        .select_from(WorkFoot)
        .join(Work, Work.id == WorkFoot.work_id)
        .join(Visit, Visit.id == Work.visit_id)
        .where(WorkFoot.lost.is_not(None), Visit.day >= since, or_(own, there))
    ).one()
    return Lost(horse=int(row.horse), yard=int(row.yard))


@dataclass(frozen=True, slots=True, kw_only=True)
class OpenWork:
    """A day a horse is on that is not written up yet."""

    work_id: int
    visit_id: int
    day: date
    service_name: str | None
    outcome: str


def open_works(session: Session, horse_id: int) -> tuple[OpenWork, ...]:
    """Give the days a horse is on that are not written up yet, the next first."""
    rows = session.execute(
        select(
            Work.id.label("work_id"),
            Work.visit_id,
            Visit.day,
            Service.name.label("service_name"),
            Work.outcome,
        )
        .join(Visit, Visit.id == Work.visit_id)
        .outerjoin(Service, Service.id == Work.service_id)
        .where(Work.horse_id == horse_id, Work.closing_entry_id.is_(None), Visit.sort == "stop")
        .order_by(Visit.day, Work.id)
        .limit(MOST_OPEN)
    )
    return tuple(OpenWork(**row) for row in rows.mappings())
