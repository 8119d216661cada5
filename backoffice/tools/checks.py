"""What must hold of tools and their work, from the raw rows."""

from collections.abc import Iterator

from sqlalchemy import Select, func, select
from sqlalchemy.orm import Session, aliased

from backoffice.daybook.models import Entry
from backoffice.errors import Broken
from backoffice.tools import rules
from backoffice.tools.models import Tool, ToolEvent, ToolState, Wear


def check(session: Session) -> Iterator[Broken]:
    """Find tools whose counts or state differ from their work and their log."""
    kept = {
        row.tool_id: row
        for row in session.execute(
            select(
                ToolState.tool_id, ToolState.since, ToolState.total, ToolState.service_day,
                ToolState.look_day, ToolState.trouble,
            )
        )
    }  # fmt: skip
    total = dict(session.execute(_total()).all())
    since = dict(session.execute(_since()).all())
    logs = _logs(session)
    for tool_id in session.scalars(select(Tool.id).order_by(Tool.id)):
        row = kept.get(tool_id)
        for name, counted in (("since", since), ("total", total)):
            has, says = getattr(row, name, None), int(counted.get(tool_id) or 0)
            if has != says:
                yield Broken(
                    f"broken.tool_{name}", {"tool_id": tool_id, "kept": has, "counted": says}
                )
        state = rules.after_events(logs.get(tool_id, ()))
        if row is None or (row.service_day, row.look_day, row.trouble) != (
            state.service_day,
            state.look_day,
            state.trouble,
        ):
            yield Broken("broken.tool_state", {"tool_id": tool_id})
    yield from _undone(session)


def _total() -> Select[int, int]:
    return select(Wear.tool_id, func.sum(Wear.units)).group_by(Wear.tool_id)


def _since() -> Select[int, int]:
    """Work after the entry that last started a tool's count anew; what was taken back counts
    where the work it takes back counted."""
    done = aliased(Wear)
    anew = (
        select(ToolEvent.tool_id, func.max(ToolEvent.entry_id).label("entry_id"))
        .where(ToolEvent.sort.in_(rules.SHARPENING))
        .group_by(ToolEvent.tool_id)
        .subquery()
    )
    return (
        select(Wear.tool_id, func.sum(Wear.units))
        .outerjoin(done, done.id == Wear.undoes_id)
        .outerjoin(anew, anew.c.tool_id == Wear.tool_id)
        .where(func.coalesce(done.entry_id, Wear.entry_id) > func.coalesce(anew.c.entry_id, 0))
        .group_by(Wear.tool_id)
    )


def _logs(session: Session) -> dict[int, list[rules.LogLine]]:
    logs: dict[int, list[rules.LogLine]] = {}
    rows = session.execute(
        select(ToolEvent.tool_id, ToolEvent.sort, Entry.day)
        .join(Entry, Entry.id == ToolEvent.entry_id)
        .order_by(ToolEvent.id)
    )
    for tool_id, sort, day in rows:
        logs.setdefault(tool_id, []).append(rules.LogLine(sort=sort, day=day))
    return logs


def _undone(session: Session) -> Iterator[Broken]:
    done = aliased(Wear)
    rows = session.execute(
        select(Wear.id, Wear.tool_id)
        .join(done, done.id == Wear.undoes_id)
        .where(
            (Wear.units != -done.units)
            | (Wear.cost != -done.cost)
            | (Wear.tool_id != done.tool_id)
            | done.undoes_id.is_not(None)
        )
        .order_by(Wear.id)
    )
    for wear_id, tool_id in rows:
        yield Broken("broken.wear_undo", {"wear_id": wear_id, "tool_id": tool_id})
