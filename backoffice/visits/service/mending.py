"""Putting a closed work right: what was done, and what it costs, each without the other."""

from collections.abc import Collection, Mapping, Sequence
from datetime import date

from sqlalchemy import delete, select, update
from sqlalchemy.orm import Session

from backoffice.daybook import service as daybook
from backoffice.errors import Refused
from backoffice.stock import service as stock
from backoffice.tools import service as tools
from backoffice.units import Foot, FootWork
from backoffice.visits import queries
from backoffice.visits.models import Material, Unbilled, Work, WorkTool
from backoffice.visits.rules import FootState
from backoffice.visits.service import closing
from backoffice.visits.service.recording import write_feet


def correct_work(
    session: Session, work_id: int, feet: Mapping[Foot, FootState], *, today: date
) -> None:
    """Put right what was done to a closed work: stock and wear follow, price and bill stay.

    Raises: Refused if the work is not closed.
    """
    work = _closed(session, work_id)
    day = queries.visits_of(session, [work.visit_id])[work.visit_id].day
    entry_id = daybook.record(session, "correction", today)
    uses, wears = queries.uses_of_works(session, [work_id])
    session.execute(delete(Material).where(Material.work_id == work_id))
    session.execute(delete(WorkTool).where(WorkTool.work_id == work_id))
    stock.undo(session, entry_id, uses)
    tools.undo_wear(session, entry_id, wears)
    write_feet(session, work_id, feet)
    left = any(state.done is FootWork.NOT_DONE for state in feet.values())
    session.execute(
        update(Work).where(Work.id == work_id).values(outcome="part" if left else "done")
    )
    known = closing.gather(session, [work_id], day)
    costs = closing.draw_and_wear(session, known, entry_id)
    closing.write_results(session, known, costs)
    closing.refresh_horses(session, list(known.horses))


def reprice_work(
    session: Session,
    work_id: int,
    *,
    told: int | None,
    today: date,
    credited: Collection[int] = (),
) -> None:
    """Price a closed work anew, with its payers as they are known now; stock and wear stay.

    ``told`` is the price said; None prices it by the rules again. ``credited`` names the shares
    whose bill has been credited in full.
    Raises: Refused if a share of it is on a bill that stands.
    """
    work = _closed(session, work_id)
    shares = {share.share_id for share in queries.live_shares(session, [work_id])}
    waiting = set(session.scalars(select(Unbilled.share_id).where(Unbilled.share_id.in_(shares))))
    if shares - waiting - set(credited):
        raise Refused("visits.on_a_bill")
    number = (work.pricing_no or 0) + 1
    session.execute(delete(Unbilled).where(Unbilled.work_id == work_id))
    session.execute(update(Work).where(Work.id == work_id).values(pricing_no=number, told=told))
    day = queries.visits_of(session, [work.visit_id])[work.visit_id].day
    known = closing.gather(session, [work_id], day)
    entry_id = daybook.record(session, "repricing", today)
    closing.write_prices(session, known, entry_id, {work_id: number})
    closing.write_results(session, known, queries.costs_of(session, [work_id]))


def take(session: Session, share_ids: Sequence[int]) -> None:
    """Take shares off the unbilled because a bill carries them now.

    Raises: Refused if one of them is on a bill already.
    """
    found = session.scalars(
        delete(Unbilled).where(Unbilled.share_id.in_(share_ids)).returning(Unbilled.share_id)
    ).all()
    if len(found) != len(set(share_ids)):
        raise Refused("visits.on_a_bill")


def _closed(session: Session, work_id: int) -> queries.WorkRow:
    found = queries.works_by_id(session, [work_id])
    if not found:
        raise Refused("record.missing")
    if found[0].closing_entry_id is None:
        raise Refused("visits.not_closed")
    return found[0]
