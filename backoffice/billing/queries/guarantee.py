"""Would a lost shoe that is not written up yet go back on free?"""

from collections.abc import Collection, Sequence
from datetime import date, timedelta

from sqlalchemy.orm import Session

from backoffice.billing.queries.payments import oldest_due
from backoffice.clients import queries as clients
from backoffice.practice import queries as practice
from backoffice.pricing.rules import Guarantee
from backoffice.units import Foot, FootWork
from backoffice.visits import queries as visits
from backoffice.visits.rules import PastFoot, nailed_on

Parts = Sequence[tuple[int | None, int]]


def guarantees(session: Session, work_ids: Collection[int], day: date) -> dict[int, Guarantee]:
    """Say how the guarantee stands for lost shoes of a day, by the work they are put back in.

    It is that of the shoes said to be lost; until one is, of whichever was nailed on first.
    """
    if not work_ids:
        return {}
    works = visits.works_by_id(session, work_ids)
    horses = [work.horse_id for work in works if work.horse_id is not None]
    past = visits.past_of(session, horses)
    dues = visits.dues_of(session, horses)
    feet = visits.feet_of(session, work_ids)
    always = clients.payers_on(session, horses, day)
    once = visits.payers_once(session, work_ids)
    paying = {
        work.id: _paying(once.get(work.id) or always.get(work.horse_id or 0, ())) for work in works
    }
    owed = oldest_due(session, sorted({client for known in paying.values() for client in known}))
    settings = practice.settings(session)
    too_old = day - timedelta(days=settings["guarantee_owed_days"])
    found = {}
    for work in works:
        lost = [foot for foot, state in feet[work.id].items() if state.lost]
        if not lost and work.outcome != "planned":
            continue
        before = [foot for foot in past.get(work.horse_id or 0, ()) if foot.day < day]
        nailed = nailed_on(before, lost or _shod(before))
        due = dues.get(work.horse_id or 0)
        found[work.id] = Guarantee(
            day=(day - nailed).days if nailed else None,
            of=settings["guarantee_days"],
            on_schedule=due is None or day <= due,
            owing=any(owed[client] < too_old for client in paying[work.id] if client in owed),
        )
    return found


def _paying(parts: Parts) -> tuple[int, ...]:
    return tuple(client for client, _ in parts if client is not None)


def _shod(past: Sequence[PastFoot]) -> list[Foot]:
    """Give the feet that wear a shoe now."""
    untouched = (FootWork.NONE, FootWork.NOT_DONE)
    last = {foot.foot: foot.state.done for foot in past if foot.state.done not in untouched}
    return [foot for foot, done in last.items() if done.shod]
