"""Saving tools, booking the work they did, and writing down what happens to them."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

from sqlalchemy import ColumnElement, case, insert, select, update
from sqlalchemy.orm import Session

from backoffice.days import sensible
from backoffice.errors import Refused
from backoffice.practice import queries as practice
from backoffice.practice import rules as typed
from backoffice.practice.rules import amount, choice, needed, whole
from backoffice.practice.service import save_record
from backoffice.tools import queries, rules
from backoffice.tools.models import (
    EVENTS,
    STAGES,
    TOOL_KINDS,
    Tool,
    ToolEvent,
    ToolNote,
    ToolState,
    Wear,
)
from backoffice.tools.queries import KitTool
from backoffice.tools.rules import ToolDetails
from backoffice.units import FootWork

MOST_UNITS = 1_000_000_000  # a million horses; no tool lasts as long
MOST_DAYS = 3_650


@dataclass(frozen=True, slots=True, kw_only=True)
class WorkWear:
    """One horse's work with the kit of a place; the factors in thousandths."""

    place_id: int
    feet: tuple[FootWork, ...]
    type_factor: int
    ground_factor: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Worn:
    """Work booked on one tool, and what of the tool's cost it is."""

    wear_id: int
    tool_id: int
    units: int
    cost: int


def save_tool(session: Session, details: ToolDetails, tool_id: int | None = None) -> int:
    """Save a tool; a new rasp starts on hooves, and a new tool has done nothing yet.

    Raises: Refused for what cannot be meant, and if it was changed meanwhile.
    """
    values = _values(session, details)
    saved = save_record(session, Tool, tool_id, details.version, **values)
    if tool_id is None:
        session.execute(insert(ToolState).values(tool_id=saved, since=0, total=0))
    return saved


def _values(session: Session, details: ToolDetails) -> dict[str, object]:
    sort = choice(details.sort, TOOL_KINDS, "sort")
    if details.place_id not in {place.id for place in practice.places(session, hidden=True)}:
        raise Refused("choice.unknown", field="place_id")
    price = None if details.price is None else amount(details.price, "price")
    if amount(details.scrap, "scrap") and price is not None and details.scrap > price:
        raise Refused("tools.scrap_above_price", field="scrap")
    return {
        "sort": sort,
        "name": needed(details.name, "name"),
        "place_id": details.place_id,
        "share": whole(details.share, "share", most=1_000),
        "price": price,
        "scrap": details.scrap,
        "life": _maybe(details.life, "life", MOST_UNITS),
        "edge": _maybe(details.edge, "edge", MOST_UNITS),
        "edge_cost": amount(details.edge_cost, "edge_cost"),
        "stage": _stage(sort, details.stage),
        "look_days": _maybe(details.look_days, "look_days", MOST_DAYS),
        "bought": None if details.bought is None else sensible(details.bought),
        "hidden": details.hidden,
    }


def _maybe(value: int | None, field: str, most: int) -> int | None:
    return None if value is None else whole(value, field, least=1, most=most)


def _stage(sort: str, stage: str | None) -> str | None:
    if sort == "rasp":
        return choice(stage or "new", STAGES, "stage")
    if stage is not None:
        raise Refused("tools.stage_of_rasp", field="stage")
    return None


def wear(
    session: Session, entry_id: int, works: Sequence[WorkWear]
) -> tuple[tuple[Worn, ...], ...]:
    """Book works on the kits they were done with; give what each put on which tool.

    A fixed number of statements, however many works and tools.
    """
    places = {work.place_id for work in works}
    _lock(
        session,
        session.scalars(select(Tool.id).where(Tool.place_id.in_(places), Tool.hidden == 0)),
    )
    kits = queries.kit(session, places)
    booked = [
        (number, tool, units)
        for number, work in enumerate(works)
        for sort, tools in kits.get(work.place_id, {}).items()
        for tool, units in zip(
            tools, rules.share_units(_units(sort, work), [t.share for t in tools]), strict=True
        )
        if units
    ]
    worn: list[list[Worn]] = [[] for _ in works]
    if booked:
        ids = _insert(session, entry_id, [(tool, units) for _, tool, units in booked])
        for number, tool, units in booked:
            cost = rules.wear_cost(units, tool)
            wear_id = ids[tool.id, units].pop()
            worn[number].append(Worn(wear_id=wear_id, tool_id=tool.id, units=units, cost=cost))
        _count(session, [(t.id, units, entry_id > t.service_entry) for _, t, units in booked])
    return tuple(tuple(of_work) for of_work in worn)


def _insert(
    session: Session, entry_id: int, done: Sequence[tuple[KitTool, int]]
) -> dict[tuple[int, int], list[int]]:
    """Insert work and give the rows' numbers by tool and units.

    Rows of one tool and as many units are alike, so any of them may be any work's. Asked for in the
    order given, SQLite would insert them one by one.
    """
    rows = session.execute(
        insert(Wear).returning(Wear.id, Wear.tool_id, Wear.units),
        [
            {
                "entry_id": entry_id,
                "tool_id": tool.id,
                "units": units,
                "cost": rules.wear_cost(units, tool),
                "undoes_id": None,
            }
            for tool, units in done
        ],
    )
    ids: dict[tuple[int, int], list[int]] = {}
    for wear_id, tool_id, units in sorted(rows.all(), reverse=True):
        ids.setdefault((tool_id, units), []).append(wear_id)
    return ids


def _units(sort: str, work: WorkWear) -> int:
    return rules.units_of(
        sort, work.feet, type_factor=work.type_factor, ground_factor=work.ground_factor
    )


def undo_wear(session: Session, entry_id: int, wear_ids: Sequence[int]) -> None:
    """Take work back by rows that name it; a count started anew since then is left alone.

    Raises: Refused if any of it was taken back before.
    """
    if not wear_ids:
        return
    _lock(session, session.scalars(select(Wear.tool_id).where(Wear.id.in_(wear_ids))))
    found = queries.worked(session, wear_ids)
    if len(found) < len(set(wear_ids)):
        raise Refused("record.missing")
    if any(row.undone or row.undoes_id is not None for row in found):
        raise Refused("tools.undone_already")
    session.execute(
        insert(Wear),
        [
            {
                "entry_id": entry_id,
                "tool_id": row.tool_id,
                "units": -row.units,
                "cost": -row.cost,
                "undoes_id": row.id,
            }
            for row in found
        ],
    )
    _count(session, [(row.tool_id, -row.units, row.entry_id > row.service_entry) for row in found])


def record_event(
    session: Session, entry_id: int, tool_id: int, sort: str, *, note: str = "", cost: int = 0
) -> int:
    """Write down that something happened to a tool, on the day of its entry; give its number.

    Raises: Refused for an event there is not, and for a stage after the last one.
    """
    _lock(session, [tool_id])
    tool = session.get(Tool, tool_id, with_for_update=True)
    if tool is None:
        raise Refused("record.missing")
    choice(sort, EVENTS, "sort")
    if sort == "staged":
        tool.stage = rules.next_stage(tool.sort, tool.stage)
    if sort == "put_away":
        tool.hidden = True
    since = session.scalars(select(ToolState.since).where(ToolState.tool_id == tool_id)).one()
    event = ToolEvent(
        entry_id=entry_id, tool_id=tool_id, sort=sort, units=since, cost=amount(cost, "cost")
    )
    session.add(event)
    session.flush()
    said = typed.note(note, "note")
    if said:
        session.add(ToolNote(event_id=event.id, note=said))
        session.flush()
    if sort in rules.SHARPENING:
        since = queries.since_service(session, tool_id)
    state = rules.after_events(queries.log_of(session, tool_id))
    session.execute(
        update(ToolState)
        .where(ToolState.tool_id == tool_id)
        .values(
            since=since,
            service_day=state.service_day,
            look_day=state.look_day,
            trouble=state.trouble,
        ),
        execution_options={"synchronize_session": False},
    )
    return event.id


def _lock(session: Session, tool_ids: Iterable[int]) -> None:
    """Let nobody else count on these tools until this unit is saved; taken before the tools."""
    rows = select(ToolState.tool_id).where(ToolState.tool_id.in_(set(tool_ids)))
    session.execute(rows.order_by(ToolState.tool_id).with_for_update())


def _count(session: Session, added: Sequence[tuple[int, int, bool]]) -> None:
    """Add work to what the tools have done, and to what they have done since sharpened."""
    total: dict[int, int] = {}
    since: dict[int, int] = {}
    for tool_id, units, counts_since in added:
        total[tool_id] = total.get(tool_id, 0) + units
        since[tool_id] = since.get(tool_id, 0) + (units if counts_since else 0)
    session.execute(
        update(ToolState)
        .where(ToolState.tool_id.in_(total))
        .values(
            total=ToolState.total + _by_tool(total),
            since=ToolState.since + _by_tool(since),
        ),
        execution_options={"synchronize_session": False},
    )


def _by_tool(units: Mapping[int, int]) -> ColumnElement[int]:
    return case(dict(units), value=ToolState.tool_id, else_=0)
