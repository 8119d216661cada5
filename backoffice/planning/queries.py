"""What to load for a day, and which horses of a stop come round again when?"""

from collections.abc import Collection, Iterable, Mapping
from dataclasses import dataclass
from datetime import date

from sqlalchemy import exists, func, select
from sqlalchemy.orm import Session

from backoffice.clients.models import Horse, HorseType, Yard
from backoffice.errors import Refused
from backoffice.planning import rules
from backoffice.planning.rules import Booked, Held, Load
from backoffice.practice import queries as practice
from backoffice.pricing import queries as pricing
from backoffice.stock import queries as stock
from backoffice.stock.models import OnHand, Shelf
from backoffice.stock.queries import ItemRow
from backoffice.units import FootWork
from backoffice.visits import queries as visits
from backoffice.visits.models import NextTime, Visit, Wears, Work, WorkFoot
from backoffice.visits.rules import needs

MOST_DAYS = 50


@dataclass(frozen=True, slots=True, kw_only=True)
class LoadLine:
    """An item to have along, and by the name of each other place what is there."""

    item: ItemRow
    need: int
    here: int | None
    short: int | None
    elsewhere: tuple[tuple[str, int], ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class OpenHorse:
    """A horse of which it is not known yet what it takes; ``what`` is a word of the rules."""

    work_id: int
    name: str | None
    words: str | None
    what: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Truck:
    """A place that may be loaded."""

    id: int
    name: str


@dataclass(frozen=True, slots=True, kw_only=True)
class LoadList:
    """What a truck takes along on a day."""

    day: date
    place: Truck
    trucks: tuple[Truck, ...]
    stops: int
    horses: int
    written_up: bool
    unfinished: tuple[date, ...]
    lines: tuple[LoadLine, ...]
    not_known: tuple[OpenHorse, ...]
    odd: tuple[LoadLine, ...]
    none_along: tuple[LoadLine, ...]


def load_list(session: Session, day: date, place_id: int | None = None) -> LoadList:
    """Give what a truck takes along on a day; without a place, the truck of the first stop.

    What was done and is not written up yet counts as well: the shelf does not know of it yet.
    Raises: Refused if there is no such place.
    """
    places = practice.places(session, hidden=True)
    stops = _stops(session, day)
    names = {place.id: place.name for place in places}
    trucks = [p for p in places if p.id in stops or (p.sort == "truck" and not p.hidden)]
    if place_id is None:
        place_id = next(iter(stops), trucks[0].id if trucks else None)
    if place_id not in names:
        raise Refused("record.missing")
    booked_there = _works(session, day, place_id)
    works = [work for work in booked_there if not work.closed and work.outcome != "absent"]
    recipes = pricing.recipe_parts(session)
    feet = visits.feet_of(session, [work.id for work in works])
    booked = [
        Booked(
            work_id=work.id,
            feet=feet[work.id],
            recipe=recipes.get(work.service_id or 0, ()),
        )
        for work in works
    ]
    held = _held(session)
    worn = _worn(session, [work.horse_id for work in works if work.horse_id is not None])
    taken = {one.item for row in booked for one in needs(row.feet, row.recipe)}
    on_truck = {one.item_id for one in held if one.place_id == place_id}
    named = {item for item in taken | on_truck | worn if item is not None}
    items = stock.items_by_ids(session, named)
    sorts: dict[str, set[int]] = {}
    for item in items.values():
        sorts.setdefault(item.sort, set()).add(item.id)
    waste = practice.settings(session)["nail_waste_ppm"]
    needed = rules.day_takes(booked, sorts.get("nail", ()), waste)

    def lines(loads: Iterable[Load]) -> tuple[LoadLine, ...]:
        return _lines(loads, items, names)

    odd = rules.odd_ones(held, sorts.get("shoe", ()), place_id)
    return LoadList(
        day=day,
        place=Truck(id=place_id, name=names[place_id]),
        trucks=tuple(Truck(id=truck.id, name=truck.name) for truck in trucks),
        stops=stops.get(place_id, 0),
        horses=len(works),
        written_up=bool(booked_there) and all(work.closed for work in booked_there),
        unfinished=_unfinished(session, day, place_id),
        lines=lines(rules.load(needed, held, place_id)),
        not_known=tuple(
            OpenHorse(work_id=work.id, name=work.name, words=work.words, what=what)
            for work, row in zip(works, booked, strict=True)
            if (what := rules.not_known(row))
        ),
        odd=lines(Load(item_id=one.item_id, need=0, here=one.qty) for one in odd),
        none_along=lines(rules.none_along(worn, held, place_id)),
    )


def _lines(
    loads: Iterable[Load], items: Mapping[int, ItemRow], names: Mapping[int, str]
) -> tuple[LoadLine, ...]:
    by_item = {load.item_id: load for load in loads}
    return tuple(
        LoadLine(
            item=item,
            need=load.need,
            here=load.here,
            short=load.short,
            elsewhere=tuple((names[one.place_id], one.qty or 0) for one in load.elsewhere),
        )
        for item in items.values()
        if (load := by_item.get(item.id))
    )


def _stops(session: Session, day: date) -> dict[int, int]:
    """Count the stops of each truck on a day, the first to leave first."""
    rows = session.execute(
        select(Visit.place_id, func.count(Visit.id))
        .where(Visit.day == day, Visit.sort == "stop")
        .group_by(Visit.place_id)
        .order_by(func.min(Visit.place_no), Visit.place_id)
    )
    return dict(rows.all())


@dataclass(frozen=True, slots=True, kw_only=True)
class _Work:
    id: int
    horse_id: int | None
    service_id: int | None
    name: str | None
    words: str | None
    outcome: str
    closed: bool


def _works(session: Session, day: date, place_id: int) -> tuple[_Work, ...]:
    rows = session.execute(
        select(
            Work.id,
            Work.horse_id,
            Work.service_id,
            Horse.name,
            func.coalesce(Work.words, Horse.words).label("words"),
            Work.outcome,
            Work.closing_entry_id,
        )
        .join(Visit, Visit.id == Work.visit_id)
        .outerjoin(Horse, Horse.id == Work.horse_id)
        .where(Visit.day == day, Visit.place_id == place_id, Visit.sort == "stop")
        .order_by(Visit.place_no, Work.place_no, Work.id)
    )
    return tuple(
        _Work(
            id=row.id,
            horse_id=row.horse_id,
            service_id=row.service_id,
            name=row.name,
            words=row.words,
            outcome=row.outcome,
            closed=row.closing_entry_id is not None,
        )
        for row in rows
    )


def _unfinished(session: Session, day: date, place_id: int) -> tuple[date, ...]:
    """Give the days before on which horses of this truck are not written up, oldest first."""
    rows = session.scalars(
        select(Visit.day)
        .join(Work, Work.visit_id == Visit.id)
        .where(
            Work.closing_entry_id.is_(None),
            Visit.id.in_(select(Work.visit_id).where(Work.closing_entry_id.is_(None))),
            Visit.sort == "stop",
            Visit.day < day,
            Visit.place_id == place_id,
        )
        .distinct()
        .order_by(Visit.day)
        .limit(MOST_DAYS)
    )
    return tuple(rows)


def _held(session: Session) -> tuple[Held, ...]:
    rows = session.execute(
        select(OnHand.item_id, OnHand.place_id, OnHand.qty, Shelf.counted_since)
        .join(Shelf, (Shelf.item_id == OnHand.item_id) & (Shelf.place_id == OnHand.place_id))
        .order_by(OnHand.item_id, OnHand.place_id)
    )
    return tuple(
        Held(
            item_id=row.item_id,
            place_id=row.place_id,
            qty=None if row.counted_since is None else row.qty,
        )
        for row in rows
    )


def _worn(session: Session, horses: Collection[int]) -> set[int]:
    rows = session.scalars(
        select(Wears.shoe_item_id)
        .where(Wears.horse_id.in_(horses), Wears.shoe_item_id.is_not(None))
        .distinct()
    )
    return {item for item in rows if item is not None}


@dataclass(frozen=True, slots=True, kw_only=True)
class LeavingHorse:
    """A horse of a stop: how it went, its own cycle, its usual one, and its next day if set."""

    horse_id: int | None
    name: str | None
    words: str | None
    outcome: str
    own_days: int | None
    usual_days: int | None
    set_day: date | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Leaving:
    """A stop as it is left: its horses in sheet order, and the days most of them come round in."""

    visit_id: int
    day: date
    yard_name: str | None
    horses: tuple[LeavingHorse, ...]
    days: int


def leaving(session: Session, visit_id: int) -> Leaving:
    """Give a stop with what is known of when its horses come round.

    Raises: Refused if there is no such stop.
    """
    head = session.execute(
        select(Visit.day, Yard.name)
        .outerjoin(Yard, Yard.id == Visit.yard_id)
        .where(Visit.id == visit_id, Visit.sort == "stop")
    ).first()
    if head is None:
        raise Refused("record.missing")
    shod = exists().where(
        WorkFoot.work_id == Work.id,
        WorkFoot.done.in_([FootWork.NEW.value, FootWork.RESET.value]),
    )
    rows = session.execute(
        select(
            Work.horse_id,
            Horse.name,
            func.coalesce(Work.words, Horse.words).label("words"),
            Work.outcome,
            Horse.cycle_days,
            HorseType.shod_days,
            HorseType.trim_days,
            shod.label("shod"),
            NextTime.day,
            NextTime.proposed,
        )
        .outerjoin(Horse, Horse.id == Work.horse_id)
        .outerjoin(HorseType, HorseType.id == Horse.type_id)
        .outerjoin(NextTime, NextTime.horse_id == Work.horse_id)
        .where(Work.visit_id == visit_id)
        .order_by(Work.place_no, Work.id)
    )
    horses = tuple(
        LeavingHorse(
            horse_id=row.horse_id,
            name=row.name,
            words=row.words,
            outcome=row.outcome,
            own_days=row.cycle_days,
            usual_days=row.shod_days if row.shod else row.trim_days,
            set_day=row.day if row.day and not row.proposed and row.day > head.day else None,
        )
        for row in rows
    )
    worked = [horse for horse in horses if horse.outcome in ("done", "planned")]
    days = rules.usual_days(horse.own_days or horse.usual_days for horse in worked)
    return Leaving(
        visit_id=visit_id,
        day=head.day,
        yard_name=head.name,
        horses=horses,
        days=days or practice.settings(session)["cycle_shod_days"],
    )
