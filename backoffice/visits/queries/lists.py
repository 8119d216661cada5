"""What is to finish, to find out and to rebook."""

from dataclasses import dataclass, replace
from datetime import date, timedelta

from sqlalchemy import ColumnElement, and_, exists, func, literal_column, or_, select
from sqlalchemy.orm import Session, aliased

from backoffice.clients import queries as clients
from backoffice.clients.models import Horse, Yard
from backoffice.units import Foot
from backoffice.visits.models import (
    Fact,
    Material,
    PriceLine,
    Pricing,
    Unbilled,
    Visit,
    Work,
    WorkFoot,
)
from backoffice.visits.queries.day import MOST_ROWS
from backoffice.visits.queries.said import FactLine, facts_told, still_meant

REBOOKED = timedelta(days=365)
FOUND_OUT = timedelta(days=400)


@dataclass(frozen=True, slots=True, kw_only=True)
class ToFinish:
    """A horse done in part: which feet wait, and the visit that is to finish it, if there is."""

    work_id: int
    day: date
    horse_id: int | None
    name: str | None
    words: str | None
    yard_id: int | None
    yard_name: str | None
    feet: tuple[str, ...]
    planned: date | None


def to_finish(session: Session) -> tuple[ToFinish, ...]:
    """List works done in part that no later work has finished, the longest waiting first."""
    finish, coming = aliased(Work), aliased(Visit)
    rows = session.execute(
        select(
            Work.id,
            Visit.day,
            Work.horse_id,
            Horse.name,
            func.coalesce(Work.words, Horse.words).label("words"),
            Visit.yard_id,
            Yard.name.label("yard_name"),
        )
        .join(Visit, Visit.id == Work.visit_id)
        .outerjoin(Horse, Horse.id == Work.horse_id)
        .outerjoin(Yard, Yard.id == Visit.yard_id)
        .where(
            Work.outcome == literal_column("'part'"),
            exists().where(WorkFoot.work_id == Work.id, WorkFoot.done == "not_done"),
            ~exists().where(finish.finishes_id == Work.id, finish.outcome.in_(("done", "part"))),
        )
        .order_by(Visit.day, Work.id)
        .limit(MOST_ROWS)
    ).all()
    ids = [row.id for row in rows]
    left: dict[int, set[str]] = {}
    for work_id, foot in session.execute(
        select(WorkFoot.work_id, WorkFoot.foot).where(
            WorkFoot.work_id.in_(ids), WorkFoot.done == "not_done"
        )
    ):
        left.setdefault(work_id, set()).add(foot)
    planned = session.execute(
        select(finish.finishes_id, func.max(coming.day))
        .join(coming, coming.id == finish.visit_id)
        .where(finish.finishes_id.in_(ids), finish.outcome == "planned")
        .group_by(finish.finishes_id)
    )
    days: dict[int | None, date] = dict(planned.all())
    return tuple(
        ToFinish(
            work_id=row.id,
            day=row.day,
            horse_id=row.horse_id,
            name=row.name,
            words=row.words,
            yard_id=row.yard_id,
            yard_name=row.yard_name,
            feet=tuple(foot.value for foot in Foot if foot.value in left[row.id]),
            planned=days.get(row.id),
        )
        for row in rows
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class ToRebook:
    """A horse that was not there, and has not been put on a day since."""

    work_id: int
    day: date
    horse_id: int
    name: str | None
    words: str | None
    yard_id: int | None
    yard_name: str | None


def to_rebook(session: Session, today: date) -> tuple[ToRebook, ...]:
    """List horses missed within a year with no later work, the longest waiting first.

    One missed longer ago is late on the plan anyway; one sold, gone or dead waits no more.
    """
    later, after = aliased(Work), aliased(Visit)
    rows = session.execute(
        select(
            Work.id.label("work_id"),
            Visit.day,
            Horse.id.label("horse_id"),
            Horse.name,
            Horse.words,
            Horse.yard_id,
            Yard.name.label("yard_name"),
        )
        .join(Visit, Visit.id == Work.visit_id)
        .join(Horse, Horse.id == Work.horse_id)
        .outerjoin(Yard, Yard.id == Horse.yard_id)
        .where(
            Work.visit_id.in_(select(Visit.id).where(Visit.day > today - REBOOKED)),
            Work.outcome == "absent",
            Work.finishes_id.is_(None),
            Horse.hidden == 0,
            ~exists().where(
                later.horse_id == Work.horse_id,
                later.visit_id == after.id,
                or_(after.day > Visit.day, and_(after.day == Visit.day, later.id > Work.id)),
            ),
        )
        .order_by(Visit.day, Work.id)
        .limit(MOST_ROWS)
    ).mappings()
    missed = [ToRebook(**row) for row in rows]
    lives = clients.lives_on(session, [horse.horse_id for horse in missed], today)
    return tuple(horse for horse in missed if lives[horse.horse_id] == "active")


@dataclass(frozen=True, slots=True, kw_only=True)
class ToFindOut:
    """Something that is not known yet of a closed work, or was said too late to count.

    Without a work it is about the stop as a whole.
    """

    sort: str
    visit_id: int
    subject: str
    work_id: int | None
    day: date
    horse_id: int | None
    name: str | None
    words: str | None
    yard_name: str | None
    said: tuple[FactLine, ...] = ()


def to_find_out(session: Session) -> tuple[ToFindOut, ...]:
    """List closed works without a payer or a price or with unknown shoes, and what came late.

    A payer is asked for until he is known; the rest until the year's books are long shut.
    """
    since = found_out_since(session)
    if since is None:
        return ()
    recent = Visit.day > since
    charged = exists().where(
        PriceLine.pricing_id == Pricing.id, PriceLine.sort.in_(("service", "told"))
    )
    nobody = select(Unbilled.work_id).where(Unbilled.client_id.is_(None))
    reasons = {
        "payer": Work.id.in_(nobody),
        "price": recent
        & Work.outcome.in_(("done", "part"))
        & exists().where(Pricing.work_id == Work.id, Pricing.no == Work.pricing_no, ~charged),
        "shoes": recent
        & exists().where(
            Material.work_id == Work.id, or_(Material.item_id.is_(None), Material.qty == 0)
        ),
    }
    found: list[ToFindOut] = []
    for sort, reason in reasons.items():
        found += _found(session, sort, Work.closing_entry_id.is_not(None) & reason)
    return (*found, *_late(session, recent))


def found_out_since(session: Session) -> date | None:
    """Give the day since which things are still to be found out; None before any visit."""
    newest = session.scalar(select(func.max(Visit.day)))
    return None if newest is None else newest - FOUND_OUT


def _found(session: Session, sort: str, where: ColumnElement[bool]) -> list[ToFindOut]:
    rows = session.execute(
        select(
            Work.visit_id,
            Work.subject,
            Work.id.label("work_id"),
            Visit.day,
            Work.horse_id,
            Horse.name,
            func.coalesce(Work.words, Horse.words).label("words"),
            Yard.name.label("yard_name"),
        )
        .join(Visit, Visit.id == Work.visit_id)
        .outerjoin(Horse, Horse.id == Work.horse_id)
        .outerjoin(Yard, Yard.id == Visit.yard_id)
        .where(where)
        .order_by(Visit.day, Work.id)
        .limit(MOST_ROWS)
    ).mappings()
    return [ToFindOut(sort=sort, **row) for row in rows]


def _late(session: Session, recent: ColumnElement[bool]) -> list[ToFindOut]:
    lately = Fact.visit_id.in_(select(Visit.id).where(recent))
    of_works = (
        select(Fact.seq)
        .join(Work, (Work.visit_id == Fact.visit_id) & (Work.subject == Fact.subject))
        .where(lately, Work.closing_entry_id.is_not(None), Fact.seq > Work.closed_seq)
    )
    of_visits = (
        select(Fact.seq)
        .join(Visit, Visit.id == Fact.visit_id)
        .where(lately, Fact.subject == "", Fact.seq > Visit.closed_seq)
    )
    told = facts_told(session, Fact.seq.in_(of_works.union_all(of_visits)))
    said: dict[tuple[int, str], list[FactLine]] = {}
    for fact in still_meant(told):
        said.setdefault((fact.visit_id, fact.subject), []).append(fact)
    if not said:
        return []
    visits = {visit_id for visit_id, _ in said}
    of_horses = _found(session, "late", Work.visit_id.in_(visits))
    of_stops = session.execute(
        select(Visit.id, Visit.day, Yard.name)
        .outerjoin(Yard, Yard.id == Visit.yard_id)
        .where(Visit.id.in_(visits))
        .order_by(Visit.day, Visit.id)
    )
    stops = [
        ToFindOut(
            sort="late",
            visit_id=visit_id,
            subject="",
            work_id=None,
            day=day,
            horse_id=None,
            name=None,
            words=None,
            yard_name=yard_name,
        )
        for visit_id, day, yard_name in of_stops
    ]
    return [
        replace(found, said=tuple(said[found.visit_id, found.subject]))
        for found in (*of_horses, *stops)
        if (found.visit_id, found.subject) in said
    ]
