"""Rows of visits as the rules take them."""

import json
from collections.abc import Collection
from dataclasses import dataclass
from datetime import date

from sqlalchemy import ColumnElement, func, select, true
from sqlalchemy.orm import Session

from backoffice.clients.models import Yard
from backoffice.practice.models import Farrier
from backoffice.units import Foot, FootWork
from backoffice.visits.models import (
    Fact,
    Material,
    PriceLine,
    PriceShare,
    Pricing,
    Result,
    Visit,
    Work,
    WorkFoot,
    WorkTool,
)
from backoffice.visits.rules import FactSort, FootState, Said


@dataclass(frozen=True, slots=True, kw_only=True)
class WorkRow:
    """A work as it stands."""

    id: int
    visit_id: int
    subject: str
    place_no: int
    horse_id: int | None
    words: str | None
    type_id: int | None
    service_id: int | None
    outcome: str
    booked: int | None
    told: int | None
    travel: int
    travel_told: int | None
    finishes_id: int | None
    note: str | None
    minutes: int
    minutes_told: bool
    closing_entry_id: int | None
    closed_seq: int | None
    pricing_no: int | None


@dataclass(frozen=True, slots=True, kw_only=True)
class VisitRow:
    """A visit as closing needs it."""

    id: int
    day: date
    farrier_id: int
    place_id: int
    yard_id: int | None
    ground: str
    drive: int
    drive_told: bool
    helper_id: int | None
    closed_seq: int | None


def _work_row(work: Work) -> WorkRow:
    return WorkRow(**{name: getattr(work, name) for name in WorkRow.__dataclass_fields__})


def works_of(session: Session, visit_id: int) -> tuple[WorkRow, ...]:
    """Give the works of a visit in sheet order."""
    rows = session.scalars(
        select(Work)
        .where(Work.visit_id == visit_id)
        .order_by(Work.place_no, Work.id)
        .execution_options(populate_existing=True)
    )
    return tuple(_work_row(work) for work in rows)


def works_by_id(session: Session, ids: Collection[int]) -> tuple[WorkRow, ...]:
    """Give works by their numbers, in order of number."""
    rows = session.scalars(
        select(Work)
        .where(Work.id.in_(ids))
        .order_by(Work.id)
        .execution_options(populate_existing=True)
    )
    return tuple(_work_row(work) for work in rows)


def closable(session: Session, day: date, farrier_id: int | None = None) -> tuple[int, ...]:
    """Give the works of a day, or of one farrier's day, worked or missed and not closed yet.

    Whoever closes or says something about them at the same time waits for this unit to end.
    """
    his = Visit.farrier_id == farrier_id if farrier_id is not None else true()
    that_day = (Visit.day == day, his, Visit.sort == "stop")
    session.execute(select(Visit.id).where(*that_day).order_by(Visit.id).with_for_update())
    return tuple(
        session.scalars(
            select(Work.id)
            .join(Visit, Visit.id == Work.visit_id)
            .where(
                *that_day,
                Work.closing_entry_id.is_(None),
                Work.outcome != "planned",
            )
            .order_by(Visit.place_no, Work.place_no, Work.id)
        )
    )


def visits_of(session: Session, ids: Collection[int]) -> dict[int, VisitRow]:
    """Give visits by their numbers."""
    rows = session.execute(
        select(
            Visit.id,
            Visit.day,
            Visit.farrier_id,
            Visit.place_id,
            Visit.yard_id,
            Visit.ground,
            Visit.drive,
            Visit.drive_told,
            Visit.helper_id,
            Visit.closed_seq,
        ).where(Visit.id.in_(ids))
    )
    return {row.id: VisitRow(**row._mapping) for row in rows}  # noqa: SLF001 (a row's own mapping)


def feet_of(session: Session, work_ids: Collection[int]) -> dict[int, dict[Foot, FootState]]:
    """Give the feet of works."""
    feet: dict[int, dict[Foot, FootState]] = {work_id: {} for work_id in work_ids}
    rows = session.execute(
        select(
            WorkFoot.work_id,
            WorkFoot.foot,
            WorkFoot.planned,
            WorkFoot.done,
            WorkFoot.shoe_item_id,
            WorkFoot.nail_item_id,
            WorkFoot.nails,
            WorkFoot.pad_item_id,
            WorkFoot.lost,
        ).where(WorkFoot.work_id.in_(work_ids))
    )
    for row in rows:
        feet[row.work_id][Foot(row.foot)] = FootState(
            planned=FootWork(row.planned),
            done=FootWork(row.done),
            shoe=row.shoe_item_id,
            nail=row.nail_item_id,
            nails=row.nails,
            pad=row.pad_item_id,
            lost=row.lost,
        )
    return {
        work_id: {foot: done[foot] for foot in Foot if foot in done}
        for work_id, done in feet.items()
    }


def facts_of(session: Session, visit_id: int) -> tuple[Said, ...]:
    """Give the facts of a visit in order of arrival."""
    return tuple(fact for _, fact in facts_where(session, Fact.visit_id == visit_id))


def facts_where(session: Session, *where: ColumnElement[bool]) -> tuple[tuple[int, Said], ...]:
    """Give facts, each with its visit, in order of arrival."""
    rows = session.execute(
        select(
            Fact.visit_id,
            Fact.id,
            Fact.subject,
            Fact.sort,
            Fact.data,
            Fact.seq,
            Fact.device,
            Fact.counter,
            Fact.corrects,
            Fact.v,
        )
        .where(*where)
        .order_by(Fact.seq)
    )
    return tuple(
        (
            row.visit_id,
            Said(
                id=row.id,
                subject=row.subject,
                sort=FactSort(row.sort),
                data=json.loads(row.data) if row.data else {},
                seq=row.seq,
                device=row.device,
                counter=row.counter,
                corrects=row.corrects,
                v=row.v,
            ),
        )
        for row in rows
    )


def plans_of(session: Session, horse_id: int, from_day: date) -> tuple[tuple[int, str], ...]:
    """Give the visits, and the name it goes by there, that a horse is planned for from a day on."""
    rows = session.execute(
        select(Work.visit_id, Work.subject)
        .join(Visit, Visit.id == Work.visit_id)
        .where(
            Work.horse_id == horse_id,
            Work.outcome == "planned",
            Work.closing_entry_id.is_(None),
            Visit.day >= from_day,
        )
        .order_by(Visit.day)
    )
    return tuple(rows.all())


def bookings_of(session: Session, visit_id: int, subject: str) -> int:
    """Count how often a horse was booked on a visit."""
    found = select(func.count()).where(
        Fact.visit_id == visit_id, Fact.subject == subject, Fact.sort == "booked"
    )
    return session.scalars(found).one()


@dataclass(frozen=True, slots=True, kw_only=True)
class YardFacts:
    """What planning needs to know of a yard."""

    ground: str | None
    miles: int | None
    call_out: int | None


def yard_of(session: Session, yard_id: int) -> YardFacts:
    """Give what planning needs to know of a yard."""
    found = select(Yard.ground, Yard.miles, Yard.call_out).where(Yard.id == yard_id)
    row = session.execute(found).one()
    return YardFacts(ground=row.ground, miles=row.miles, call_out=row.call_out)


def call_out_of(session: Session, yard_id: int) -> int:
    """Give the call-out of a yard; none set is nothing."""
    return yard_of(session, yard_id).call_out or 0


def place_of_farrier(session: Session, farrier_id: int) -> int:
    """Give the truck a farrier drives."""
    return session.scalars(select(Farrier.place_id).where(Farrier.id == farrier_id)).one()


def stops_on(session: Session, day: date) -> int:
    """Count the stops of a day."""
    return session.scalars(select(func.count(Visit.id)).where(Visit.day == day)).one()


def uses_of_works(
    session: Session, work_ids: Collection[int]
) -> tuple[tuple[int, ...], tuple[int, ...]]:
    """Give the uses of stock and the wears of tools that works caused."""
    uses = session.scalars(
        select(Material.use_id)
        .where(Material.work_id.in_(work_ids), Material.use_id.is_not(None))
        .order_by(Material.use_id)
    )
    wears = session.scalars(
        select(WorkTool.wear_id).where(WorkTool.work_id.in_(work_ids)).order_by(WorkTool.wear_id)
    )
    return tuple(use for use in uses if use is not None), tuple(wears)


def works_of_uses(session: Session, uses: Collection[int]) -> dict[int, int]:
    """Say which work took each use of stock; what no work took is not among them."""
    rows = session.execute(
        select(Material.use_id, Material.work_id).where(Material.use_id.in_(uses))
    )
    return {use: work for use, work in rows if use is not None}


@dataclass(frozen=True, slots=True, kw_only=True)
class ShareRow:
    """A payer's part of a line of a live price."""

    share_id: int
    work_id: int
    client_id: int | None
    quoted: int
    net: int
    category: str
    rate_ppm: int


def live_shares(session: Session, work_ids: Collection[int]) -> tuple[ShareRow, ...]:
    """Give the shares of the live prices of works."""
    rows = session.execute(
        select(
            PriceShare.id.label("share_id"),
            Work.id.label("work_id"),
            PriceShare.client_id,
            PriceShare.quoted,
            PriceShare.net,
            PriceLine.category,
            PriceLine.rate_ppm,
        )
        .join(PriceLine, PriceLine.id == PriceShare.line_id)
        .join(Pricing, Pricing.id == PriceLine.pricing_id)
        .join(Work, (Work.id == Pricing.work_id) & (Work.pricing_no == Pricing.no))
        .where(Work.id.in_(work_ids))
        .order_by(PriceShare.id)
    )
    return tuple(ShareRow(**row._mapping) for row in rows)  # noqa: SLF001 (a row's own mapping)


@dataclass(frozen=True, slots=True, kw_only=True)
class Cost:
    """What a work used: stock and tools, and how much of the stock is assumed."""

    material: int
    material_est: int
    tool: int


def costs_of(session: Session, work_ids: Collection[int]) -> dict[int, Cost]:
    """Give what works cost as it was frozen, over all their payers."""
    rows = session.execute(
        select(
            Result.work_id,
            func.sum(Result.material).label("material"),
            func.sum(Result.material_est).label("material_est"),
            func.sum(Result.tool).label("tool"),
        )
        .where(Result.work_id.in_(work_ids))
        .group_by(Result.work_id)
    )
    found = {
        row.work_id: Cost(material=row.material, material_est=row.material_est, tool=row.tool)
        for row in rows
    }
    return {work_id: found.get(work_id, NO_COST) for work_id in work_ids}


NO_COST = Cost(material=0, material_est=0, tool=0)
