"""Which tools are where, in what state are they, and which work and events made it so?"""

from collections.abc import Collection, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from typing import Any

from sqlalchemy import ColumnElement, Select, func, select
from sqlalchemy.orm import Session, aliased

from backoffice.daybook.models import Entry
from backoffice.errors import Refused
from backoffice.practice.models import Place
from backoffice.practice.rules import details_of
from backoffice.tools import rules
from backoffice.tools.models import Tool, ToolEvent, ToolNote, ToolState, Wear
from backoffice.tools.rules import LogLine, Saying, ToolDetails

LAST = 20


@dataclass(frozen=True, slots=True, kw_only=True)
class ToolLine:
    """A tool in a list, with its work in thousandths of an ordinary horse and how it stands."""

    id: int
    sort: str
    name: str
    place_id: int
    place_name: str
    share: int
    stage: str | None
    look_days: int | None
    hidden: bool
    since: int
    total: int
    service_day: date | None
    look_day: date | None
    trouble: str | None
    standing: tuple[Saying, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class EventLine:
    """Something that happened to a tool, the work it had done by then, and what was paid."""

    id: int
    day: date
    sort: str
    units: int
    cost: int
    note: str | None


@dataclass(frozen=True, slots=True, kw_only=True)
class WearLine:
    """Work a tool did, or had taken back, and what of its cost that is."""

    id: int
    day: date
    units: int
    cost: int
    undoes_id: int | None


@dataclass(frozen=True, slots=True, kw_only=True)
class ToolCard:
    """A tool with its last events and work; ``leaned`` counts since it was last looked at."""

    tool: ToolLine
    details: ToolDetails
    cautions: tuple[str, ...]
    horse_cost: int
    cost_known: bool
    leaned: int
    events: tuple[EventLine, ...]
    wears: tuple[WearLine, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class KitTool:
    """A tool that hoof work is booked on, and the entry that last started its count anew."""

    id: int
    sort: str
    place_id: int
    share: int
    price: int | None
    scrap: int
    life: int | None
    edge: int | None
    edge_cost: int
    service_entry: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Worked:
    """A row of work, and the entry that last started its tool's count anew."""

    id: int
    entry_id: int
    tool_id: int
    units: int
    cost: int
    undoes_id: int | None
    undone: bool
    service_entry: int


def _service_entry(tool_id: Any) -> ColumnElement[int]:
    found = select(func.max(ToolEvent.entry_id)).where(
        ToolEvent.tool_id == tool_id, ToolEvent.sort.in_(rules.SHARPENING)
    )
    return func.coalesce(found.correlate(Tool, Wear).scalar_subquery(), 0)


def kit(session: Session, place_ids: Collection[int]) -> dict[int, dict[str, list[KitTool]]]:
    """Give the tools hoof work is booked on, by place and kind, in the order they were listed."""
    rows = session.execute(
        select(
            Tool.id, Tool.sort, Tool.place_id, Tool.share, Tool.price, Tool.scrap, Tool.life,
            Tool.edge, Tool.edge_cost, _service_entry(Tool.id).label("service_entry"),
        )
        .where(
            Tool.place_id.in_(place_ids),
            Tool.hidden == 0,
            (Tool.sort != "rasp") | (Tool.stage == "new"),
        )
        .order_by(Tool.id)
    ).mappings()  # fmt: skip
    kits: dict[int, dict[str, list[KitTool]]] = {}
    for row in rows:
        tool = KitTool(**row)
        kits.setdefault(tool.place_id, {}).setdefault(tool.sort, []).append(tool)
    return kits


def worked(session: Session, wear_ids: Sequence[int]) -> tuple[Worked, ...]:
    """Give rows of work by number, and whether each was taken back before."""
    back = aliased(Wear)
    rows = session.execute(
        select(
            Wear.id, Wear.entry_id, Wear.tool_id, Wear.units, Wear.cost, Wear.undoes_id,
            back.id.is_not(None).label("undone"),
            _service_entry(Wear.tool_id).label("service_entry"),
        )
        .outerjoin(back, back.undoes_id == Wear.id)
        .where(Wear.id.in_(wear_ids))
        .order_by(Wear.id)
    ).mappings()  # fmt: skip
    return tuple(Worked(**{**row, "undone": bool(row["undone"])}) for row in rows)


def since_service(session: Session, tool_id: int) -> int:
    """Count the work of a tool since the entry that last started its count anew.

    Work taken back is taken off the count it was on.
    Units: thousandths of an ordinary horse.
    """
    done = aliased(Wear)
    counted = (
        select(func.sum(Wear.units))
        .outerjoin(done, done.id == Wear.undoes_id)
        .where(
            Wear.tool_id == tool_id,
            func.coalesce(done.entry_id, Wear.entry_id)
            > select(_service_entry(tool_id)).scalar_subquery(),
        )
    )
    return int(session.scalar(counted) or 0)


def log_of(session: Session, tool_id: int) -> tuple[LogLine, ...]:
    """Give all that happened to a tool, as it was recorded."""
    rows = session.execute(
        select(ToolEvent.sort, Entry.day)
        .join(Entry, Entry.id == ToolEvent.entry_id)
        .where(ToolEvent.tool_id == tool_id)
        .order_by(ToolEvent.id)
    )
    return tuple(LogLine(sort=sort, day=day) for sort, day in rows)


def looked_at(session: Session, tool_ids: Collection[int]) -> dict[int, datetime]:
    """Give when each of these tools was last looked at; those never looked at are not there."""
    rows = session.execute(
        select(ToolEvent.tool_id, func.max(Entry.recorded_at, type_=Entry.recorded_at.type))
        .join(Entry, Entry.id == ToolEvent.entry_id)
        .where(ToolEvent.tool_id.in_(tool_ids), ToolEvent.sort == "looked_at")
        .group_by(ToolEvent.tool_id)
    )
    return dict(rows.all())


def _lines() -> Select[*tuple[Any, ...]]:
    return (
        select(
            Tool.id, Tool.sort, Tool.name, Tool.place_id, Place.name.label("place_name"),
            Tool.share, Tool.stage, Tool.look_days, Tool.hidden, ToolState.since, ToolState.total,
            ToolState.service_day, ToolState.look_day, ToolState.trouble,
        )
        .join(Place, Place.id == Tool.place_id)
        .join(ToolState, ToolState.tool_id == Tool.id)
    )  # fmt: skip


def _line(row: Any, today: date) -> ToolLine:
    line = ToolLine(**row)
    return ToolLine(**row, standing=rules.standing(line, line, today))


def tool_list(session: Session, today: date) -> tuple[ToolLine, ...]:
    """List the tools in use by place and kind, each with how it stands today."""
    rows = _lines().where(Tool.hidden == 0).order_by(Tool.place_id, Tool.sort, Tool.id)
    return tuple(_line(row, today) for row in session.execute(rows).mappings())


def tool_details(session: Session, tool_id: int) -> ToolDetails:
    """Give a tool as its edit form shows it.

    Raises: Refused if there is none of that number.
    """
    row = session.get(Tool, tool_id)
    if row is None:
        raise Refused("record.missing")
    return details_of(ToolDetails, row)


def tool_card(session: Session, tool_id: int, today: date) -> ToolCard:
    """Give a tool with its last events and its last work.

    Raises: Refused if there is none of that number.
    """
    details = tool_details(session, tool_id)
    line = _line(session.execute(_lines().where(Tool.id == tool_id)).mappings().one(), today)
    events = session.execute(
        select(
            ToolEvent.id, Entry.day, ToolEvent.sort, ToolEvent.units, ToolEvent.cost, ToolNote.note
        )
        .join(Entry, Entry.id == ToolEvent.entry_id)
        .outerjoin(ToolNote, ToolNote.event_id == ToolEvent.id)
        .where(ToolEvent.tool_id == tool_id)
        .order_by(ToolEvent.id.desc())
        .limit(LAST)
    ).mappings()
    wears = session.execute(
        select(Wear.id, Entry.day, Wear.units, Wear.cost, Wear.undoes_id)
        .join(Entry, Entry.id == Wear.entry_id)
        .where(Wear.tool_id == tool_id)
        .order_by(Wear.id.desc())
        .limit(LAST)
    ).mappings()
    return ToolCard(
        tool=line,
        details=details,
        cautions=rules.CAUTIONS.get(details.sort, ()),
        horse_cost=rules.wear_cost(1_000, details),
        cost_known=rules.cost_known(details),
        leaned=_leaned(session, tool_id, line.look_day),
        events=tuple(EventLine(**row) for row in events),
        wears=tuple(WearLine(**row) for row in wears),
    )


def _leaned(session: Session, tool_id: int, look_day: date | None) -> int:
    counted = (
        select(func.count())
        .select_from(ToolEvent)
        .join(Entry, Entry.id == ToolEvent.entry_id)
        .where(ToolEvent.tool_id == tool_id, ToolEvent.sort == "leaned")
    )
    if look_day is not None:
        counted = counted.where(Entry.day > look_day)
    return int(session.scalar(counted) or 0)
