"""What works take from the shelf, and the wear they put on tools."""

from dataclasses import replace

from sqlalchemy import insert
from sqlalchemy.orm import Session

from backoffice.stock import service as stock
from backoffice.tools import service as tools
from backoffice.visits import queries, rules
from backoffice.visits.models import (
    Material,
    WorkTool,
)
from backoffice.visits.rules import Need
from backoffice.visits.service.gathering import Gathered


def draw_and_wear(session: Session, known: Gathered, entry_id: int) -> dict[int, queries.Cost]:
    """Take the stock of works and book their wear; give what both cost, work by work."""
    tool_cost = put_wear(session, known, entry_id)
    return {
        work_id: replace(cost, tool=tool_cost.get(work_id, 0))
        for work_id, cost in draw(session, known, entry_id).items()
    }


def draw(session: Session, known: Gathered, entry_id: int) -> dict[int, queries.Cost]:
    """Take the stock of works, and write it down foot by foot."""
    taken: list[tuple[int, int, Need]] = []
    for work in known.works:
        recipe = known.book.recipes.get(work.service_id or 0, ())
        if work.outcome != "absent":
            place = known.visits[work.visit_id].place_id
            taken += [(work.id, place, n) for n in rules.needs(known.feet[work.id], recipe)]
    drawable = [t for t in taken if t[2].item is not None and t[2].qty]
    drawn = stock.draw(
        session,
        entry_id,
        [
            stock.Draw(item_id=need.item or 0, place_id=place, qty=need.qty or 0)
            for _, place, need in drawable
        ],
        waste_ppm=known.settings["nail_waste_ppm"],
    )
    materials = [
        {
            "work_id": drawable[use.draw_no][0],
            "foot": None if use.waste else drawable[use.draw_no][2].foot,
            "item_id": use.item_id,
            "qty": use.qty,
            "waste": use.waste,
            "use_id": use.use_id,
        }
        for use in drawn
    ] + [
        {
            "work_id": work_id,
            "foot": need.foot,
            "item_id": need.item,
            "qty": need.qty or 0,
            "waste": False,
            "use_id": None,
        }
        for work_id, _, need in taken
        if need.item is None or not need.qty
    ]
    if materials:
        session.execute(insert(Material), materials)
    costs = {}
    for work in known.works:
        own = [use for use in drawn if drawable[use.draw_no][0] == work.id]
        costs[work.id] = queries.Cost(
            material=sum(use.cost for use in own),
            material_est=sum(use.assumed for use in own),
            tool=0,
        )
    return costs


def put_wear(session: Session, known: Gathered, entry_id: int) -> dict[int, int]:
    """Book the wear of works on the tools they were done with; give its cost, work by work."""
    worked = [work for work in known.works if work.outcome != "absent"]
    worn = tools.wear(
        session,
        entry_id,
        [
            tools.WorkWear(
                place_id=known.visits[work.visit_id].place_id,
                feet=tuple(state.done for state in known.feet[work.id].values()),
                type_factor=known.horse_of(work).wear_factor,
                ground_factor=known.settings[f"ground_{known.visits[work.visit_id].ground}"],
            )
            for work in worked
        ],
    )
    touched = [
        {"work_id": work.id, "wear_id": one.wear_id}
        for work, all_worn in zip(worked, worn, strict=True)
        for one in all_worn
    ]
    if touched:
        session.execute(insert(WorkTool), touched)
    return {
        work.id: sum(one.cost for one in all_worn)
        for work, all_worn in zip(worked, worn, strict=True)
    }
