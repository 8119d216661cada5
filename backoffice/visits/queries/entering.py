"""What typed entries are looked up against: the sheet, what was said, shoes, tools and people."""

from collections.abc import Collection, Mapping
from datetime import date

from sqlalchemy import func, select
from sqlalchemy.orm import Session

from backoffice.clients import queries as clients
from backoffice.practice import queries as practice
from backoffice.pricing import queries as pricing
from backoffice.stock.models import Item
from backoffice.tools.models import Tool
from backoffice.units import FootWork
from backoffice.visits.models import Fact, Visit
from backoffice.visits.queries.horses import wears_of
from backoffice.visits.queries.rows import facts_where
from backoffice.visits.queries.said import FactLine, facts_told
from backoffice.visits.queries.sheet import Sheet, sheets
from backoffice.visits.rules import FootState, Said
from backoffice.visits.rules.onsheet import Known, Named, OnLine, Shoe


def facts_by_visit(session: Session, visit_ids: Collection[int]) -> dict[int, tuple[Said, ...]]:
    """Give the facts of visits, each visit's in order of arrival."""
    facts: dict[int, list[Said]] = {visit_id: [] for visit_id in visit_ids}
    for visit_id, fact in facts_where(session, Fact.visit_id.in_(visit_ids)):
        facts[visit_id].append(fact)
    return {visit_id: tuple(said) for visit_id, said in facts.items()}


def told_at(session: Session, visit_ids: Collection[int]) -> tuple[FactLine, ...]:
    """Give what was said at visits, in order of arrival, each with who said it."""
    return facts_told(session, Fact.visit_id.in_(visit_ids))


def along_before(session: Session, day: date) -> tuple[date, int] | None:
    """Give the last working day before this one on which an apprentice came along, and which.

    None if nobody did on the last working day.
    """
    last = (
        select(func.max(Visit.day)).where(Visit.day < day, Visit.sort == "stop").scalar_subquery()
    )
    found = session.execute(
        select(Visit.day, Visit.helper_id)
        .where(Visit.day == last, Visit.helper_id.is_not(None))
        .order_by(Visit.id)
        .limit(1)
    ).first()
    return None if found is None else (found.day, found.helper_id)


def known_for(
    session: Session, day: date, farrier_id: int, client_names: Collection[str]
) -> Known | None:
    """Give all that entries typed for a farrier's day may mean; None without such a day."""
    found = sheets(session, day, farrier_id)
    if not found:
        return None
    sheet = found[0]
    tools = _tools(session, sheet.place_id)
    return Known(
        lines=_lines(session, sheet),
        stops={stop.letter: stop.visit_id for stop in sheet.stops},
        facts=facts_by_visit(session, [stop.visit_id for stop in sheet.stops]),
        shoes=_shoes(session),
        services=pricing.services(session),
        clients={name: _clients(session, name) for name in client_names},
        knives=tools.get("knife", ()),
        stand=next((number for number, _ in tools.get("stand", ())), None),
        apprentices=tuple((one.id, one.name) for one in practice.farriers(session, "apprentice")),
    )


def _lines(session: Session, sheet: Sheet) -> dict[int, OnLine]:
    lines = [line for stop in sheet.stops for line in stop.lines]
    wears = wears_of(session, [line.horse_id for line in lines if line.horse_id is not None])
    return {
        line.number: OnLine(
            number=line.number,
            work_id=line.work_id,
            visit_id=line.visit_id,
            subject=line.subject,
            closed=line.closed,
            words=line.words or line.name or "",
            horse_id=line.horse_id,
            owner_id=line.owner_id,
            warnings=tuple(flag.note for flag in line.flags if flag.note),
            wears={
                foot: FootState(
                    planned=FootWork.NEW,
                    done=FootWork.NEW,
                    shoe=worn.shoe,
                    nail=worn.nail,
                    nails=worn.nails,
                    pad=worn.pad,
                )
                for (horse_id, foot), worn in wears.items()
                if horse_id == line.horse_id
            },
        )
        for line in lines
    }


def _shoes(session: Session) -> tuple[Shoe, ...]:
    rows = session.execute(
        select(Item.id, Item.name, Item.size_text.label("size"), Item.pattern)
        .where(Item.sort == "shoe", Item.hidden == 0)
        .order_by(Item.size_key, Item.id)
    )
    return tuple(Shoe(**row) for row in rows.mappings())


def _tools(session: Session, place_id: int) -> Mapping[str, Named]:
    return kit_names(session, [place_id])[place_id]


def kit_names(session: Session, place_ids: Collection[int]) -> Mapping[int, Mapping[str, Named]]:
    """Give the names of the knives and stands of the kits at places."""
    rows = session.execute(
        select(Tool.place_id, Tool.sort, Tool.id, Tool.name)
        .where(Tool.place_id.in_(place_ids), Tool.sort.in_(("knife", "stand")), Tool.hidden == 0)
        .order_by(Tool.id)
    )
    kits: dict[int, dict[str, Named]] = {place_id: {} for place_id in place_ids}
    for place_id, sort, number, name in rows:
        kit = kits[place_id]
        kit[sort] = (*kit.get(sort, ()), (number, name))
    return kits


def _clients(session: Session, typed: str) -> Named:
    found = clients.client_list(session, typed).rows
    return tuple((one.id, one.name or "") for one in found)
