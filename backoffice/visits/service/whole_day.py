"""What was said of a visit as a whole: tools, miles, and who came along."""

from collections.abc import Collection, Mapping, Sequence

from sqlalchemy import case, select, update
from sqlalchemy.orm import Session

from backoffice.practice import queries as practice
from backoffice.tools import queries as known
from backoffice.tools import service as tools
from backoffice.visits import queries, rules
from backoffice.visits.models import Visit
from backoffice.visits.rules import ToolSaid, VisitState


def take_in(session: Session, visit_ids: Collection[int], *, entry_id: int) -> set[int]:
    """Take in what was said of visits as a whole since the last time; give those now driven anew.

    What happened to a tool is written down as its event; the miles of the odometer are shared
    over all visits of that farrier's day.
    """
    said = queries.said_of_visits(session, visit_ids)
    driven: set[int] = set()
    for visit_id, (since, facts) in said.items():
        latest = max((fact.seq for fact in facts), default=0)
        if latest > since:
            state = rules.fold(facts)
            new = {fact.id for fact in facts if fact.seq > since}
            _events(session, [said for said in state.tools if said.id in new], entry_id)
            if state.miles is not None:
                driven |= _drive(session, visit_id, state.miles)
    latest_of = {
        visit_id: max((fact.seq for fact in facts), default=0)
        for visit_id, (_, facts) in said.items()
    }
    _seen(session, latest_of)
    return driven


def _events(session: Session, said: Sequence[ToolSaid], entry_id: int) -> None:
    """Write down what happened to tools; what a look has answered since is settled by it."""
    happened = [one for one in said if one.tool is not None]
    if not happened:
        return
    said_at = queries.said_at(session, [one.id for one in happened])
    looked_at = known.looked_at(session, [one.tool or 0 for one in happened])
    for one in happened:
        answered = one.what in rules.ANSWERED_BY_A_LOOK and (
            looked_at.get(one.tool or 0, said_at[one.id]) > said_at[one.id]
        )
        if one.tool is not None and not answered:
            tools.record_event(session, entry_id, one.tool, one.what)


def _drive(session: Session, visit_id: int, miles: int) -> set[int]:
    """Share the miles of a day over the visits of its farrier."""
    homes = queries.miles_of_day(session, visit_id)
    rate = practice.settings(session)["mile_thousandths"]
    parts = rules.driven(miles, rate, list(homes.values()))
    for one, part in zip(homes, parts, strict=True):
        driven = update(Visit).where(Visit.id == one).values(drive=part, drive_told=True)
        session.execute(driven, execution_options={"synchronize_session": False})
    session.expire_all()
    return set(homes)


def _seen(session: Session, latest: Mapping[int, int]) -> None:
    if latest:
        seen = update(Visit).where(Visit.id.in_(latest))
        session.execute(seen.values(closed_seq=case(dict(latest), value=Visit.id)))


def set_state(session: Session, visit_id: int, state: VisitState) -> None:
    """Write the ground and the apprentice of a visit as its facts tell them."""
    values: dict[str, object] = {"helper_id": state.helper}
    if state.ground is not None:
        values["ground"] = state.ground
    session.execute(update(Visit).where(Visit.id == visit_id).values(**values))


def closed_seq(session: Session, visit_id: int) -> int | None:
    """Give up to which fact a visit as a whole was taken in; None while nothing is closed."""
    return session.scalars(select(Visit.closed_seq).where(Visit.id == visit_id)).one()
