"""What each work earned and cost, for each of its payers."""

from collections.abc import Mapping, Sequence
from datetime import date

from sqlalchemy import delete, insert, select
from sqlalchemy.orm import Session

from backoffice.visits import queries, rules
from backoffice.visits.models import (
    Result,
    Work,
)
from backoffice.visits.service.gathering import Gathered, gather, minutes_of


def write_results(session: Session, known: Gathered, costs: Mapping[int, queries.Cost]) -> None:
    """Freeze what each work earned and cost, for each of its payers."""
    ids = [work.id for work in known.works]
    session.execute(delete(Result).where(Result.work_id.in_(ids)))
    nets: dict[int, dict[int | None, int]] = {work_id: {} for work_id in ids}
    for share in queries.live_shares(session, ids):
        paid = nets[share.work_id]
        paid[share.client_id] = paid.get(share.client_id, 0) + share.net
    driven = _drives(session, known)
    rows = []
    for work in known.works:
        if work.outcome == "absent" and not any(nets[work.id].values()):
            continue
        visit = known.visits[work.visit_id]
        payers = nets[work.id] or {client: 0 for client, _ in known.payers_of(work)}
        weights = tuple(payers.values())
        cost = costs[work.id]
        drive = driven.get(work.id, 0)
        minutes = minutes_of(known, work)
        shared = {
            "material": cost.material,
            "drive": drive,
            "tool": cost.tool,
            "minutes": minutes,
            "minutes_est": 0 if work.minutes_told else minutes,
            "drive_est": 0 if visit.drive_told else drive,
            "material_est": cost.material_est,
        }
        parts = {name: rules.by_net(whole, weights) for name, whole in shared.items()}
        for place, (client_id, net) in enumerate(payers.items()):
            rows.append(
                {
                    "work_id": work.id,
                    "client_id": client_id,
                    "day": visit.day,
                    "farrier_id": visit.farrier_id,
                    "yard_id": visit.yard_id,
                    "type_id": work.type_id,
                    "horse_id": work.horse_id,
                    "service_id": work.service_id,
                    "net": net,
                    **{name: part[place] for name, part in parts.items()},
                }
            )
    if rows:
        session.execute(insert(Result), rows)


def _drives(session: Session, known: Gathered) -> dict[int, int]:
    """Share each visit's drive evenly over the horses that were there, in sheet order."""
    present = session.execute(
        select(Work.visit_id, Work.id)
        .where(Work.visit_id.in_(known.visits), Work.outcome != "absent")
        .order_by(Work.place_no, Work.id)
    )
    there: dict[int, list[int]] = {}
    for visit_id, work_id in present:
        there.setdefault(visit_id, []).append(work_id)
    driven: dict[int, int] = {}
    for visit_id, work_ids in there.items():
        whole = known.visits[visit_id].drive
        parts = rules.by_net(whole, [1] * len(work_ids))
        driven.update(zip(work_ids, parts, strict=True))
    return driven


def write_results_again(session: Session, work_ids: Sequence[int], day: date) -> None:
    """Freeze the results of closed works anew, after what they share changed; costs stay."""
    if not work_ids:
        return
    write_results(session, gather(session, work_ids, day), queries.costs_of(session, work_ids))
