"""What was said, by whom and when, as pages tell it; and what was said since somebody looked."""

import json
from collections.abc import Collection, Iterable, Mapping
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from typing import Any

from sqlalchemy import ColumnElement, func, select
from sqlalchemy.orm import Session, aliased

from backoffice.access.models import User
from backoffice.clients.models import Client
from backoffice.daybook.models import Entry
from backoffice.practice.models import Farrier
from backoffice.pricing.models import Service
from backoffice.stock.models import Item
from backoffice.tools.models import Tool, ToolEvent
from backoffice.visits.models import Fact, Visit, Work
from backoffice.visits.rules import FactSort, Said

MOST_FACTS = 400
OPEN = timedelta(days=31)


@dataclass(frozen=True, slots=True, kw_only=True)
class FactLine:
    """One fact as it is told. ``taken`` is what it takes back, if it takes something back."""

    seq: int
    id: str
    visit_id: int
    subject: str
    sort: str
    data: Mapping[str, Any]
    by: str | None
    at: datetime
    corrects: str | None
    taken: str | None


_back = aliased(Fact)
_TOLD = (
    select(
        Fact.seq,
        Fact.id,
        Fact.visit_id,
        Fact.subject,
        Fact.sort,
        Fact.data,
        User.name.label("by"),
        Fact.recorded_at.label("at"),
        Fact.corrects,
        _back.sort.label("taken"),
    )
    .outerjoin(User, User.id == Fact.user_id)
    .outerjoin(_back, _back.id == Fact.corrects)
    .order_by(Fact.seq)
    .limit(MOST_FACTS)
)


def facts_told(session: Session, where: ColumnElement[bool]) -> tuple[FactLine, ...]:
    """Give facts in order of arrival, each with who said it."""
    rows = session.execute(_TOLD.where(where)).mappings()
    return tuple(
        FactLine(**{**row, "data": json.loads(row["data"]) if row["data"] else {}}) for row in rows
    )


def still_meant(facts: Collection[FactLine]) -> tuple[FactLine, ...]:
    """Leave out what was taken back among these facts themselves, and the taking back of it."""
    ids = {fact.id for fact in facts}
    taken = {fact.corrects for fact in facts if fact.corrects}
    return tuple(
        fact
        for fact in facts
        if fact.id not in taken and not (fact.sort == FactSort.WITHDRAWN and fact.corrects in ids)
    )


def last_said(session: Session, visit_id: int, subject: str) -> int:
    """Give the number of the last fact about a horse at a visit; 0 if nothing was said."""
    newest = select(func.max(Fact.seq)).where(Fact.visit_id == visit_id, Fact.subject == subject)
    return session.scalar(newest) or 0


def said_since(
    session: Session, visit_id: int, subject: str, seq: int, own: Collection[str] = ()
) -> tuple[FactLine, ...]:
    """Give what was said about a horse at a visit after a fact, but for ``own``."""
    return facts_told(
        session,
        (Fact.visit_id == visit_id)
        & (Fact.subject == subject)
        & (Fact.seq > seq)
        & Fact.id.not_in(own),
    )


def late_said(session: Session, work_id: int) -> tuple[FactLine, ...]:
    """Give what was said about a work after it was closed and has changed nothing yet."""
    late = (
        select(Fact.seq)
        .join(Work, (Work.visit_id == Fact.visit_id) & (Work.subject == Fact.subject))
        .where(Work.id == work_id, Fact.seq > Work.closed_seq)
    )
    return still_meant(facts_told(session, Fact.seq.in_(late)))


def stand_facts(session: Session, today: date) -> tuple[FactLine, ...]:
    """Give what was said of stands that slipped or fell and is not taken in yet.

    A stand looked at since it was said is left out.
    """
    looked = (
        select(func.max(Entry.recorded_at))
        .join(ToolEvent, ToolEvent.entry_id == Entry.id)
        .where(ToolEvent.tool_id == Tool.id, ToolEvent.sort == "looked_at")
        .correlate(Tool)
        .scalar_subquery()
    )
    not_taken_in = (
        select(Fact.seq)
        .join(Visit, Visit.id == Fact.visit_id)
        .where(
            Fact.visit_id.in_(select(Visit.id).where(Visit.day.between(today - OPEN, today))),
            Fact.sort.in_(("tool", "withdrawn")),
            Visit.closed_seq.is_(None) | (Fact.seq > Visit.closed_seq),
        )
    )
    told = facts_told(session, Fact.seq.in_(not_taken_in))
    met = [fact for fact in still_meant(told) if fact.data.get("what") in ("slipped", "fell")]
    if not met:
        return ()
    tools = {fact.data.get("tool") or 0 for fact in met}
    seen = session.execute(select(Tool.id, looked).where(Tool.id.in_(tools), Tool.sort == "stand"))
    when = dict(seen.all())
    return tuple(
        fact
        for fact in met
        if fact.data.get("tool") in when and not _after(when[fact.data["tool"]], fact.at)
    )


def _after(looked: datetime | None, said: datetime) -> bool:
    return looked is not None and looked >= said


@dataclass(frozen=True, slots=True, kw_only=True)
class NamesSaid:
    """The names of what facts speak of by number."""

    clients: Mapping[int, str | None]
    services: Mapping[int, str]
    items: Mapping[int, str]
    tools: Mapping[int, str]
    farriers: Mapping[int, str]


def names_said(session: Session, facts: Iterable[FactLine | Said]) -> NamesSaid:
    """Give the names of the clients, services, shoes, tools and people that facts speak of."""
    clients: set[int] = set()
    services: set[int] = set()
    items: set[int] = set()
    tools: set[int] = set()
    farriers: set[int] = set()
    for fact in facts:
        data = fact.data
        clients |= {client for client, _ in data.get("parts", ())} | {data.get("client") or 0}
        services.add(data.get("service") or 0)
        items |= {foot.get("shoe") or 0 for foot in data.get("feet", {}).values()}
        tools.add(data.get("tool") or 0)
        farriers.add(data.get("farrier") or 0)
    size = func.coalesce(Item.size_text, Item.name)
    return NamesSaid(
        clients=_names(session, Client, Client.name, clients),
        services=_names(session, Service, Service.name, services),
        items=_names(session, Item, size, items),
        tools=_names(session, Tool, Tool.name, tools),
        farriers=_names(session, Farrier, Farrier.name, farriers),
    )


def _names(session: Session, kind: Any, name: Any, ids: set[int]) -> dict[int, Any]:
    if not ids - {0}:
        return {}
    return dict(session.execute(select(kind.id, name).where(kind.id.in_(ids))).all())
