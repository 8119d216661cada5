"""The day: its stops, and each horse on them."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from typing import Any

from sqlalchemy import func, select
from sqlalchemy.orm import Session

from backoffice.clients import queries as clients
from backoffice.clients.models import Horse, HorseType, Yard
from backoffice.clients.queries import FlagLine
from backoffice.practice.models import Farrier, Place
from backoffice.pricing.models import Service
from backoffice.stock.models import Item
from backoffice.units import Foot, FootWork
from backoffice.visits.models import (
    PriceLine,
    Pricing,
    Visit,
    Work,
    WorkFoot,
)
from backoffice.visits.rules import touches_no_foot

MOST_ROWS = 200


@dataclass(frozen=True, slots=True, kw_only=True)
class WorkFootLine:
    """A foot as it is drawn: what was planned, what was done, with which shoe and nails."""

    foot: str
    planned: str
    done: str
    shoe_id: int | None = None
    size: str | None = None
    shoe_name: str | None = None
    nail_id: int | None = None
    nails: int | None = None
    pad_id: int | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class DayWork:
    """One line of a day."""

    id: int
    visit_id: int
    place_no: int
    subject: str
    horse_id: int | None
    name: str | None
    words: str | None
    type_name: str | None
    service_id: int | None
    service_name: str | None
    outcome: str
    closed: bool
    price: int | None
    to_pay: int | None
    told: bool
    travel: int
    note: str | None
    feet: tuple[WorkFootLine, ...]
    flags: tuple[FlagLine, ...]

    @property
    def lost_shoe(self) -> bool:
        """Whether it is on the day for a lost shoe, so that which foot is still to be said."""
        return touches_no_foot(FootWork(foot.planned) for foot in self.feet)


@dataclass(frozen=True, slots=True, kw_only=True)
class DayStop:
    """One stop of a day and its horses in sheet order."""

    id: int
    yard_id: int | None
    yard_name: str | None
    gate_note: str | None
    farrier_name: str
    place_name: str
    ground: str
    works: tuple[DayWork, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class DayPage:
    """A day: its stops, and how far it is written up."""

    day: date
    stops: tuple[DayStop, ...]

    @property
    def planned(self) -> int:
        """How many horses nothing was said about yet."""
        return sum(w.outcome == "planned" for stop in self.stops for w in stop.works)

    @property
    def to_close(self) -> int:
        """How many horses were worked or missed and are not closed yet."""
        return sum(
            w.outcome != "planned" and not w.closed for stop in self.stops for w in stop.works
        )

    @property
    def closed(self) -> int:
        """How many horses are closed."""
        return sum(w.closed for stop in self.stops for w in stop.works)


_FEET = select(
    WorkFoot.work_id,
    WorkFoot.foot,
    WorkFoot.planned,
    WorkFoot.done,
    WorkFoot.shoe_item_id,
    Item.size_text,
    Item.name,
    WorkFoot.nail_item_id,
    WorkFoot.nails,
    WorkFoot.pad_item_id,
).outerjoin(Item, Item.id == WorkFoot.shoe_item_id)


def _feet_lines(session: Session, work_ids: Sequence[int]) -> dict[int, tuple[WorkFootLine, ...]]:
    rows = session.execute(_FEET.where(WorkFoot.work_id.in_(work_ids)))
    found: dict[int, dict[str, WorkFootLine]] = {}
    for work_id, foot, planned, done, shoe, size, name, nail, nails, pad in rows:
        found.setdefault(work_id, {})[foot] = WorkFootLine(
            foot=foot,
            planned=planned,
            done=done,
            shoe_id=shoe,
            size=size,
            shoe_name=name,
            nail_id=nail,
            nails=nails,
            pad_id=pad,
        )
    return {
        work_id: tuple(feet[foot.value] for foot in Foot if foot.value in feet)
        for work_id, feet in found.items()
    }


_CHARGED = (
    select(func.sum(PriceLine.quoted))
    .join(Pricing, Pricing.id == PriceLine.pricing_id)
    .where(Pricing.work_id == Work.id, Pricing.no == Work.pricing_no)
    .correlate(Work)
)
_FOR_WORK = _CHARGED.where(PriceLine.sort.in_(("service", "told")))
_WORKS = (
    select(
        Work.id,
        Work.visit_id,
        Work.place_no,
        Work.subject,
        Work.horse_id,
        Horse.name,
        func.coalesce(Work.words, Horse.words).label("words"),
        HorseType.name.label("type_name"),
        Work.service_id,
        Service.name.label("service_name"),
        Work.outcome,
        Work.closing_entry_id,
        Work.booked,
        Work.told,
        _CHARGED.scalar_subquery().label("charged"),
        _FOR_WORK.scalar_subquery().label("for_work"),
        Work.travel,
        Work.note,
        Visit.day,
    )
    .join(Visit, Visit.id == Work.visit_id)
    .outerjoin(Horse, Horse.id == Work.horse_id)
    .outerjoin(HorseType, HorseType.id == Work.type_id)
    .outerjoin(Service, Service.id == Work.service_id)
    .order_by(Visit.place_no, Work.place_no, Work.id)
)


def day_works(session: Session, where: Any) -> tuple[DayWork, ...]:
    """Give works in sheet order; once closed their prices are what is charged.

    ``price`` is that of the work, ``to_pay`` with its part of the call-out.
    """
    rows = session.execute(_WORKS.where(where)).all()
    feet = _feet_lines(session, [row.id for row in rows])
    horses = [row.horse_id for row in rows if row.horse_id is not None]
    flags = clients.flags_on(session, horses, rows[0].day) if rows else {}
    return tuple(
        DayWork(
            id=row.id,
            visit_id=row.visit_id,
            place_no=row.place_no,
            subject=row.subject,
            horse_id=row.horse_id,
            name=row.name,
            words=row.words,
            type_name=row.type_name,
            service_id=row.service_id,
            service_name=row.service_name,
            outcome=row.outcome,
            closed=row.closing_entry_id is not None,
            price=_price(row),
            to_pay=_to_pay(row),
            told=row.told is not None,
            travel=row.travel,
            note=row.note,
            feet=feet.get(row.id, ()),
            flags=flags.get(row.horse_id, ()),
        )
        for row in rows
    )


def _price(row: Any) -> int | None:
    if row.closing_entry_id is not None:
        return None if row.for_work is None else int(row.for_work)
    price: int | None = row.booked if row.told is None else row.told
    return price


def _to_pay(row: Any) -> int | None:
    if row.outcome == "absent":
        return int(row.charged or 0) if row.closing_entry_id is not None else row.told or 0
    price = _price(row)
    if price is None:
        return None
    return price + row.travel if row.closing_entry_id is None else int(row.charged)


def day_page(session: Session, day: date) -> DayPage:
    """Give a day with its stops and horses."""
    works = day_works(session, (Visit.day == day) & (Visit.sort == "stop"))
    rows = session.execute(
        select(
            Visit.id,
            Visit.yard_id,
            Yard.name,
            Yard.gate_note,
            Farrier.name.label("farrier_name"),
            Place.name.label("place_name"),
            Visit.ground,
        )
        .join(Farrier, Farrier.id == Visit.farrier_id)
        .join(Place, Place.id == Visit.place_id)
        .outerjoin(Yard, Yard.id == Visit.yard_id)
        .where(Visit.day == day, Visit.sort == "stop")
        .order_by(Visit.place_no, Visit.id)
    )
    return DayPage(
        day=day,
        stops=tuple(
            DayStop(
                id=row.id,
                yard_id=row.yard_id,
                yard_name=row.name,
                gate_note=row.gate_note,
                farrier_name=row.farrier_name,
                place_name=row.place_name,
                ground=row.ground,
                works=tuple(work for work in works if work.visit_id == row.id),
            )
            for row in rows
        ),
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class OpenDay:
    """A day that is not written up."""

    day: date
    horses: int


def open_days(session: Session, today: date) -> tuple[OpenDay, ...]:
    """Give the days before today that still have horses not closed, oldest first."""
    rows = session.execute(
        select(Visit.day, func.count(Work.id))
        .join(Work, Work.visit_id == Visit.id)
        .where(
            Work.closing_entry_id.is_(None),
            Visit.id.in_(select(Work.visit_id).where(Work.closing_entry_id.is_(None))),
            Visit.sort == "stop",
            Visit.day < today,
        )
        .group_by(Visit.day)
        .order_by(Visit.day)
        .limit(MOST_ROWS)
    )
    return tuple(OpenDay(day=day, horses=horses) for day, horses in rows)
