"""Do works, prices and results agree with the facts and the rows they were made from?"""

from collections.abc import Iterator

from sqlalchemy import exists, func, select
from sqlalchemy.orm import Session

from backoffice.errors import Broken
from backoffice.stock.models import StockMove
from backoffice.tools.models import Wear
from backoffice.visits import queries, rules
from backoffice.visits.models import (
    Fact,
    HorseState,
    Material,
    PriceLine,
    PriceShare,
    Pricing,
    Result,
    Unbilled,
    Visit,
    Wears,
    Work,
    WorkTool,
)


def check(session: Session) -> Iterator[Broken]:
    """Find every work, price and result that does not hold."""
    yield from _shares(session)
    yield from _open_works(session)
    yield from _unbilled(session)
    yield from _results(session)
    yield from _history(session)
    yield from _horses(session)


def _shares(session: Session) -> Iterator[Broken]:
    rows = session.execute(
        select(PriceLine.id, Pricing.work_id)
        .join(Pricing, Pricing.id == PriceLine.pricing_id)
        .join(PriceShare, PriceShare.line_id == PriceLine.id)
        .group_by(PriceLine.id, PriceLine.net, PriceLine.quoted, Pricing.work_id)
        .having(
            (func.sum(PriceShare.net) != PriceLine.net)
            | (func.sum(PriceShare.quoted) != PriceLine.quoted)
        )
    )
    for line_id, work_id in rows:
        yield Broken("check.shares", {"line": line_id, "work": work_id})


def _open_works(session: Session) -> Iterator[Broken]:
    """Fold the facts of every visit with open works again and compare."""
    visits = session.scalars(
        select(Visit.id)
        .join(Work, Work.visit_id == Visit.id)
        .where(Work.closing_entry_id.is_(None), Visit.sort == "stop")
        .distinct()
        .order_by(Visit.id)
    )
    for visit_id in list(visits):
        told = rules.fold(queries.facts_of(session, visit_id)).works
        works = [w for w in queries.works_of(session, visit_id) if w.closing_entry_id is None]
        ids = [work.id for work in works]
        feet = queries.feet_of(session, ids)
        once = queries.payers_once(session, ids)
        for work in works:
            state = told.get(work.subject)
            if state is None or (
                state.outcome,
                state.service_id,
                state.booked,
                state.told,
                state.travel,
                state.travel_told,
                state.finishes,
                state.payers,
                dict(state.feet),
            ) != (
                work.outcome,
                work.service_id,
                work.booked,
                work.told,
                work.travel,
                work.travel_told,
                work.finishes_id,
                once.get(work.id, ()),
                feet[work.id],
            ):
                yield Broken("check.facts", {"work": work.id})


def _unbilled(session: Session) -> Iterator[Broken]:
    rows = session.execute(
        select(Unbilled.share_id, Unbilled.work_id)
        .outerjoin(PriceShare, PriceShare.id == Unbilled.share_id)
        .outerjoin(PriceLine, PriceLine.id == PriceShare.line_id)
        .outerjoin(Pricing, Pricing.id == PriceLine.pricing_id)
        .outerjoin(Work, Work.id == Unbilled.work_id)
        .where(
            (Pricing.work_id != Unbilled.work_id)
            | (Pricing.no != Work.pricing_no)
            | (Unbilled.net != PriceShare.net)
            | (func.coalesce(Unbilled.client_id, 0) != func.coalesce(PriceShare.client_id, 0))
        )
    )
    for share_id, work_id in rows:
        yield Broken("check.unbilled", {"share": share_id, "work": work_id})


def _results(session: Session) -> Iterator[Broken]:
    frozen = (
        select(
            Result.work_id,
            func.sum(Result.net).label("net"),
            func.sum(Result.material).label("material"),
            func.sum(Result.tool).label("tool"),
        )
        .group_by(Result.work_id)
        .subquery()
    )
    priced = (
        select(Pricing.work_id, func.sum(PriceLine.net).label("net"))
        .join(PriceLine, PriceLine.pricing_id == Pricing.id)
        .join(Work, (Work.id == Pricing.work_id) & (Work.pricing_no == Pricing.no))
        .group_by(Pricing.work_id)
        .subquery()
    )
    drawn = (
        select(Material.work_id, func.sum(-StockMove.cost).label("material"))
        .join(StockMove, (StockMove.use_id == Material.use_id) & (StockMove.sort == "draw"))
        .group_by(Material.work_id)
        .subquery()
    )
    worn = (
        select(WorkTool.work_id, func.sum(Wear.cost).label("tool"))
        .join(Wear, Wear.id == WorkTool.wear_id)
        .group_by(WorkTool.work_id)
        .subquery()
    )
    rows = session.execute(
        select(Work.id)
        .outerjoin(frozen, frozen.c.work_id == Work.id)
        .outerjoin(priced, priced.c.work_id == Work.id)
        .outerjoin(drawn, drawn.c.work_id == Work.id)
        .outerjoin(worn, worn.c.work_id == Work.id)
        .where(
            Work.closing_entry_id.is_not(None),
            (func.coalesce(frozen.c.net, 0) != func.coalesce(priced.c.net, 0))
            | (func.coalesce(frozen.c.material, 0) != func.coalesce(drawn.c.material, 0))
            | (func.coalesce(frozen.c.tool, 0) != func.coalesce(worn.c.tool, 0)),
        )
    )
    for (work_id,) in rows:
        yield Broken("check.result", {"work": work_id})


def _history(session: Session) -> Iterator[Broken]:
    """Find works from before this program was used that cost, earn or wear anything."""
    rows = session.execute(
        select(Work.id)
        .join(Visit, Visit.id == Work.visit_id)
        .where(
            Visit.sort == "history",
            Work.closing_entry_id.is_not(None)
            | (Work.outcome != "done")
            | exists().where(Pricing.work_id == Work.id)
            | exists().where(Unbilled.work_id == Work.id)
            | exists().where(Material.work_id == Work.id)
            | exists().where(WorkTool.work_id == Work.id)
            | exists().where(Result.work_id == Work.id)
            | exists().where(Fact.visit_id == Work.visit_id),
        )
        .order_by(Work.id)
    )
    for (work_id,) in rows:
        yield Broken("check.history", {"work": work_id})


def _horses(session: Session) -> Iterator[Broken]:
    horses = session.scalars(
        select(Work.horse_id).where(Work.horse_id.is_not(None)).distinct().order_by(Work.horse_id)
    )
    ids = [horse for horse in horses if horse is not None]
    past = queries.past_of(session, ids)
    worn: dict[int, dict[str, tuple[int | None, ...]]] = {}
    for row in session.execute(
        select(
            Wears.horse_id,
            Wears.foot,
            Wears.work_id,
            Wears.shoe_item_id,
            Wears.nail_item_id,
            Wears.nails,
            Wears.pad_item_id,
            Wears.resets,
        )
    ):
        on = (
            row.work_id,
            row.shoe_item_id,
            row.nail_item_id,
            row.nails,
            row.pad_item_id,
            row.resets,
        )
        worn.setdefault(row.horse_id, {})[row.foot] = on
    states = {
        row.horse_id: (row.last_work_id, row.last_day)
        for row in session.execute(
            select(HorseState.horse_id, HorseState.last_work_id, HorseState.last_day)
        )
    }
    for horse in ids:
        now = rules.horse_now(past[horse])
        wears = {
            foot.value: (
                now_on.work_id,
                now_on.state.shoe,
                now_on.state.nail,
                now_on.state.nails,
                now_on.state.pad,
                now_on.resets,
            )
            for foot, now_on in now.wears.items()
        }
        if wears != worn.get(horse, {}):
            yield Broken("check.wears", {"horse": horse})
        last = (now.last_work_id, now.last_day)
        if states.get(horse, (None, None)) != last:
            yield Broken("check.horse_state", {"horse": horse})
