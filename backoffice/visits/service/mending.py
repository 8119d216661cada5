"""Putting a closed work right: what was done, and what it costs, each without the other."""

from collections.abc import Collection, Mapping, Sequence
from dataclasses import replace
from datetime import date

from sqlalchemy import delete, select, update
from sqlalchemy.orm import Session

from backoffice.daybook import service as daybook
from backoffice.errors import Refused
from backoffice.pricing import rules as prices
from backoffice.stock import service as stock
from backoffice.tools import service as tools
from backoffice.visits import queries
from backoffice.visits.models import Material, Unbilled, Work, WorkTool
from backoffice.visits.service.charging import price_works, write_prices
from backoffice.visits.service.gathering import Gathered, gather, minutes_of
from backoffice.visits.service.horses import refresh_horses
from backoffice.visits.service.results import write_results
from backoffice.visits.service.using import draw_and_wear, put_wear

Amounts = tuple[int, int, str, int]


def redraw(session: Session, work_id: int, *, today: date) -> None:
    """Take back the stock and wear of a closed work, and draw and book them as it stands now."""
    work = _closed(session, work_id)
    day = queries.visits_of(session, [work.visit_id])[work.visit_id].day
    entry_id = daybook.record(session, "correction", today)
    uses, _ = queries.uses_of_works(session, [work_id])
    session.execute(delete(Material).where(Material.work_id == work_id))
    stock.undo(session, entry_id, uses)
    _take_back_wear(session, entry_id, work_id)
    known = gather(session, [work_id], day)
    minutes = minutes_of(known, work)
    session.execute(update(Work).where(Work.id == work_id).values(minutes=minutes))
    costs = draw_and_wear(session, known, entry_id)
    write_results(session, known, costs)
    refresh_horses(session, list(known.horses))


def wear_again(session: Session, work_id: int, *, entry_id: int) -> None:
    """Book the wear of a closed work anew, as its ground is known now; stock stays."""
    work = _closed(session, work_id)
    day = queries.visits_of(session, [work.visit_id])[work.visit_id].day
    _take_back_wear(session, entry_id, work_id)
    known = gather(session, [work_id], day)
    worn = put_wear(session, known, entry_id)
    cost = queries.costs_of(session, [work_id])[work_id]
    write_results(session, known, {work_id: replace(cost, tool=worn.get(work_id, 0))})


def _take_back_wear(session: Session, entry_id: int, work_id: int) -> None:
    _, wears = queries.uses_of_works(session, [work_id])
    session.execute(delete(WorkTool).where(WorkTool.work_id == work_id))
    tools.undo_wear(session, entry_id, wears)


def reprice_work(
    session: Session,
    work_id: int,
    *,
    told: int | None,
    today: date,
    freed: Collection[int] = (),
    owing: frozenset[int] = frozenset(),
) -> None:
    """Price a closed work anew, with its payers as they are known now; stock and wear stay.

    ``told`` is the price said; None prices it by the rules again. ``freed`` are the clients whose
    bill of this work has just been taken back. A bill of somebody else stands on, and carries his
    parts of the new price.
    Raises: Refused if what somebody pays on a bill that stands would change.
    """
    work = _closed(session, work_id)
    billed = _billed(session, work_id, freed)
    number = (work.pricing_no or 0) + 1
    session.execute(delete(Unbilled).where(Unbilled.work_id == work_id))
    session.execute(update(Work).where(Work.id == work_id).values(pricing_no=number, told=told))
    day = queries.visits_of(session, [work.visit_id])[work.visit_id].day
    known = gather(session, [work_id], day, owing)
    changed = _changed(session, known, billed)
    if changed:
        raise Refused("visits.on_a_bill", work=work_id, client=min(changed))
    entry_id = daybook.record(session, "repricing", today)
    write_prices(session, known, entry_id, {work_id: number}, carried=billed)
    write_results(session, known, queries.costs_of(session, [work_id]))


def changed_bills(
    session: Session,
    work_id: int,
    *,
    told: int | None,
    freed: Collection[int] = (),
    owing: frozenset[int] = frozenset(),
) -> frozenset[int]:
    """Say whose bill that stands ``reprice_work`` would change, and therefore refuse."""
    work = replace(_closed(session, work_id), told=told)
    day = queries.visits_of(session, [work.visit_id])[work.visit_id].day
    known = replace(gather(session, [work_id], day, owing), works=(work,))
    return _changed(session, known, _billed(session, work_id, freed))


def _billed(session: Session, work_id: int, freed: Collection[int]) -> dict[int, list[Amounts]]:
    """Give what clients pay for a work on bills that stand; lines of nothing are left out."""
    shares = queries.live_shares(session, [work_id])
    ids = [share.share_id for share in shares]
    waiting = set(session.scalars(select(Unbilled.share_id).where(Unbilled.share_id.in_(ids))))
    billed: dict[int, list[Amounts]] = {}
    for share in shares:
        client = share.client_id
        if client is None or client in freed or share.share_id in waiting or not share.quoted:
            continue
        amounts = (share.quoted, share.net, share.category, share.rate_ppm)
        billed.setdefault(client, []).append(amounts)
    return billed


def _changed(
    session: Session, known: Gathered, billed: Mapping[int, list[Amounts]]
) -> frozenset[int]:
    """Say whose amounts the price of a work, as it is found now, would change."""
    (work,) = known.works
    now: dict[int | None, list[Amounts]] = {}
    for line in price_works(session, known)[work.id]:
        for share in prices.share_line(line, known.payers_of(work)):
            amounts = (share.quoted, share.net, line.category, line.rate_ppm)
            if share.quoted:
                now.setdefault(share.client_id, []).append(amounts)
    return frozenset(client for client, amounts in billed.items() if now.get(client) != amounts)


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
