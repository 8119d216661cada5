"""The day as a farrier carries it: one sheet each, its stops lettered, its horses numbered."""

from collections.abc import Collection, Iterable, Mapping
from dataclasses import dataclass
from datetime import date

from sqlalchemy import func, select
from sqlalchemy.orm import Session, aliased

from backoffice.clients import queries as clients
from backoffice.clients.models import Client, Horse, Yard
from backoffice.clients.queries import FlagLine
from backoffice.clients.rules import NOBODY_KNOWN
from backoffice.practice.models import Farrier, Place
from backoffice.stock.models import Item
from backoffice.units import Foot, FootWork
from backoffice.visits.models import HorseState, Visit, Wears, Work
from backoffice.visits.queries.closing import payers_once
from backoffice.visits.queries.day import DayWork, WorkFootLine, day_works
from backoffice.visits.rules import touches_no_foot

_LETTERS = "ABCDEFGHIJKLMNOPQRSTUVWXYZ"


@dataclass(frozen=True, slots=True, kw_only=True)
class SheetPayer:
    """Who pays which part of a line on that day; without a client it is not known yet."""

    client_id: int | None
    name: str | None
    parts: int


@dataclass(frozen=True, slots=True, kw_only=True)
class SheetWorn:
    """What a horse wears on one foot; no size is a shoe that is not known."""

    foot: str
    size: str | None
    nails: int | None


@dataclass(frozen=True, slots=True, kw_only=True)
class SheetLine:
    """One horse of a day under the number it is called by on paper."""

    work_id: int
    visit_id: int
    number: int
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
    last_note: str | None
    feet: tuple[WorkFootLine, ...]
    wears: tuple[SheetWorn, ...]
    flags: tuple[FlagLine, ...]
    payers: tuple[SheetPayer, ...]
    owner_id: int | None
    owner_name: str | None
    finishes: bool

    @property
    def lost_shoe(self) -> bool:
        """Whether it is on the day for a lost shoe, so that which foot is still to be said."""
        return touches_no_foot(FootWork(foot.planned) for foot in self.feet)


@dataclass(frozen=True, slots=True, kw_only=True)
class SheetStop:
    """One stop of a farrier's day, and its horses in order of number."""

    visit_id: int
    letter: str
    yard_id: int | None
    yard_name: str | None
    gate_note: str | None
    ground: str
    lines: tuple[SheetLine, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Sheet:
    """What one farrier does on one day."""

    day: date
    farrier_id: int
    farrier_name: str
    place_id: int
    place_name: str
    stops: tuple[SheetStop, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class _More:
    """What a sheet says of a work beyond its day line."""

    travel: int
    finishes: bool
    owner_id: int | None
    owner_name: str | None
    last_note: str | None


_STOPS = (
    select(
        Visit.id,
        Visit.farrier_id,
        Farrier.name.label("farrier_name"),
        Visit.place_id,
        Place.name.label("place_name"),
        Visit.yard_id,
        Yard.name.label("yard_name"),
        Yard.gate_note,
        Visit.ground,
    )
    .join(Farrier, Farrier.id == Visit.farrier_id)
    .join(Place, Place.id == Visit.place_id)
    .outerjoin(Yard, Yard.id == Visit.yard_id)
    .order_by(Visit.farrier_id, Visit.place_no, Visit.id)
)


def sheets(
    session: Session, day: date, farrier_id: int | None = None, *, paper: bool = True
) -> tuple[Sheet, ...]:
    """Give the sheet of each farrier who has stops on a day, or of one.

    Without ``paper`` the lines leave out what is only printed: who pays, what a horse wears, whose
    it is and what was noted last.
    """
    where = (Visit.day == day) & (Visit.sort == "stop")
    if farrier_id is not None:
        where &= Visit.farrier_id == farrier_id
    works = day_works(session, where)
    lines = _lines(session, works, day, paper=paper)
    rows = session.execute(_STOPS.where(where)).all()
    found = []
    for farrier in dict.fromkeys(row.farrier_id for row in rows):
        his = [row for row in rows if row.farrier_id == farrier]
        stops = tuple(
            SheetStop(
                visit_id=row.id,
                letter=stop_letter(nth),
                yard_id=row.yard_id,
                yard_name=row.yard_name,
                gate_note=row.gate_note,
                ground=row.ground,
                lines=tuple(line for line in lines if line.visit_id == row.id),
            )
            for nth, row in enumerate(his)
        )
        found.append(
            Sheet(
                day=day,
                farrier_id=farrier,
                farrier_name=his[0].farrier_name,
                place_id=his[0].place_id,
                place_name=his[0].place_name,
                stops=stops,
            )
        )
    return tuple(found)


def open_lost_shoes(found: Iterable[Sheet]) -> tuple[int, ...]:
    """Give the works of sheets with a lost shoe whose price is not told or charged yet."""
    return tuple(
        line.work_id
        for sheet in found
        for stop in sheet.stops
        for line in stop.lines
        if line.lost_shoe and not line.closed and not line.told
    )


def stop_letter(nth: int) -> str:
    """Give the letter of a stop counted from 0: A to Z, then AA, BB and so on."""
    again, letter = divmod(nth, len(_LETTERS))
    return _LETTERS[letter] * (again + 1)


def _lines(
    session: Session, works: Collection[DayWork], day: date, *, paper: bool
) -> list[SheetLine]:
    ids = [work.id for work in works]
    horses = [work.horse_id for work in works if work.horse_id is not None]
    bare = {work.id: _bare(work) for work in works}
    more = _more(session, ids) if paper else bare
    wears = _wears(session, horses) if paper else {}
    payers = _payers(session, works, horses, day) if paper else {}
    return [
        SheetLine(
            work_id=work.id,
            visit_id=work.visit_id,
            number=work.place_no,
            subject=work.subject,
            horse_id=work.horse_id,
            name=work.name,
            words=work.words,
            type_name=work.type_name,
            service_id=work.service_id,
            service_name=work.service_name,
            outcome=work.outcome,
            closed=work.closed,
            price=work.price,
            to_pay=work.to_pay,
            told=work.told,
            travel=more[work.id].travel,
            note=work.note,
            last_note=more[work.id].last_note,
            feet=work.feet,
            wears=wears.get(work.horse_id or 0, ()),
            flags=work.flags,
            payers=payers.get(work.id, ()),
            owner_id=more[work.id].owner_id,
            owner_name=more[work.id].owner_name,
            finishes=more[work.id].finishes,
        )
        for work in sorted(works, key=lambda work: (work.place_no, work.id))
    ]


def _bare(work: DayWork) -> _More:
    return _More(travel=work.travel, finishes=False, owner_id=None, owner_name=None, last_note=None)


_last = aliased(Work)
_MORE = (
    select(
        Work.id,
        func.coalesce(Work.travel_told, Work.travel).label("travel"),
        Work.finishes_id,
        Horse.owner_id,
        Client.name.label("owner_name"),
        _last.note.label("last_note"),
    )
    .outerjoin(Horse, Horse.id == Work.horse_id)
    .outerjoin(Client, Client.id == Horse.owner_id)
    .outerjoin(HorseState, HorseState.horse_id == Work.horse_id)
    .outerjoin(_last, (_last.id == HorseState.last_work_id) & (_last.id != Work.id))
)


def _more(session: Session, work_ids: Collection[int]) -> dict[int, _More]:
    rows = session.execute(_MORE.where(Work.id.in_(work_ids)))
    return {
        row.id: _More(
            travel=row.travel,
            finishes=row.finishes_id is not None,
            owner_id=row.owner_id,
            owner_name=row.owner_name,
            last_note=row.last_note,
        )
        for row in rows
    }


def _wears(session: Session, horses: Collection[int]) -> dict[int, tuple[SheetWorn, ...]]:
    rows = session.execute(
        select(Wears.horse_id, Wears.foot, Item.size_text, Wears.nails)
        .outerjoin(Item, Item.id == Wears.shoe_item_id)
        .where(Wears.horse_id.in_(set(horses)))
    )
    found: dict[int, dict[str, SheetWorn]] = {}
    for horse_id, foot, size, nails in rows:
        found.setdefault(horse_id, {})[foot] = SheetWorn(foot=foot, size=size, nails=nails)
    return {
        horse_id: tuple(feet[foot.value] for foot in Foot if foot.value in feet)
        for horse_id, feet in found.items()
    }


def _payers(
    session: Session, works: Collection[DayWork], horses: Collection[int], day: date
) -> Mapping[int, tuple[SheetPayer, ...]]:
    always = clients.payers_on(session, list(horses), day)
    once = payers_once(session, [work.id for work in works])
    paying = {
        work.id: once.get(work.id) or always.get(work.horse_id or 0, NOBODY_KNOWN) for work in works
    }
    known = {client for parts in paying.values() for client, _ in parts if client is not None}
    found = session.execute(select(Client.id, Client.name).where(Client.id.in_(known)))
    names = dict(found.all())
    return {
        work_id: tuple(
            SheetPayer(client_id=client, name=names.get(client or 0), parts=parts)
            for client, parts in pays
        )
        for work_id, pays in paying.items()
    }
