"""One horse at a visit, with everything that came of it."""

import json
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date
from typing import Any

from sqlalchemy import func, select
from sqlalchemy.orm import Session

from backoffice.clients.models import Client, Yard
from backoffice.practice.models import Farrier
from backoffice.pricing.models import Service
from backoffice.stock.models import Item, StockMove
from backoffice.tools.models import Tool, Wear
from backoffice.visits.models import (
    Material,
    PriceLine,
    Pricing,
    Result,
    Visit,
    Work,
    WorkTool,
)
from backoffice.visits.queries.day import DayWork, day_works


@dataclass(frozen=True, slots=True, kw_only=True)
class PricedLine:
    """A line of a live price, with its reason as code and facts."""

    sort: str
    service_name: str | None
    quoted: int
    net: int
    waived: int
    reason: str
    facts: Mapping[str, Any]


@dataclass(frozen=True, slots=True, kw_only=True)
class MaterialLine:
    """What a work took from stock; cost as it was drawn, and what deliveries since made of it."""

    foot: str | None
    item_id: int | None
    name: str | None
    size: str | None
    qty: int
    waste: bool
    cost: int
    settled: int


@dataclass(frozen=True, slots=True, kw_only=True)
class WearLine:
    """What a work put on a tool, in thousandths of an ordinary horse."""

    tool_id: int
    name: str
    units: int
    cost: int


@dataclass(frozen=True, slots=True, kw_only=True)
class ResultLine:
    """What a work left, for one payer."""

    client_id: int | None
    name: str | None
    net: int
    material: int
    drive: int
    tool: int
    minutes: int
    estimated: bool

    @property
    def left(self) -> int:
        """What is left after materials, drive and tools."""
        return self.net - self.material - self.drive - self.tool


@dataclass(frozen=True, slots=True, kw_only=True)
class WorkCard:
    """One horse at a visit with everything that came of it."""

    work: DayWork
    day: date
    visit_key: str
    yard_id: int | None
    yard_name: str | None
    farrier_name: str
    minutes: int
    minutes_told: bool
    from_before: bool
    lines: tuple[PricedLine, ...]
    materials: tuple[MaterialLine, ...]
    wear: tuple[WearLine, ...]
    results: tuple[ResultLine, ...]


def work_card(session: Session, work_id: int) -> WorkCard | None:
    """Give one work, or None if there is no such work."""
    works = day_works(session, Work.id == work_id)
    if not works:
        return None
    head = session.execute(
        select(
            Visit.day,
            Visit.key,
            Visit.yard_id,
            Yard.name,
            Farrier.name.label("farrier_name"),
            Work.minutes,
            Work.minutes_told,
            Visit.sort,
        )
        .join(Work, Work.visit_id == Visit.id)
        .join(Farrier, Farrier.id == Visit.farrier_id)
        .outerjoin(Yard, Yard.id == Visit.yard_id)
        .where(Work.id == work_id)
    ).one()
    return WorkCard(
        work=works[0],
        day=head.day,
        visit_key=head.key,
        yard_id=head.yard_id,
        yard_name=head.name,
        farrier_name=head.farrier_name,
        minutes=head.minutes,
        minutes_told=head.minutes_told,
        from_before=head.sort == "history",
        lines=_priced(session, work_id),
        materials=_materials(session, work_id),
        wear=_wear(session, work_id),
        results=_results(session, work_id),
    )


def _priced(session: Session, work_id: int) -> tuple[PricedLine, ...]:
    rows = session.execute(
        select(
            PriceLine.sort,
            Service.name,
            PriceLine.quoted,
            PriceLine.net,
            PriceLine.waived,
            PriceLine.reason,
            PriceLine.facts,
        )
        .join(Pricing, Pricing.id == PriceLine.pricing_id)
        .join(Work, (Work.id == Pricing.work_id) & (Work.pricing_no == Pricing.no))
        .outerjoin(Service, Service.id == PriceLine.service_id)
        .where(Work.id == work_id)
        .order_by(PriceLine.id)
    )
    return tuple(
        PricedLine(
            sort=row.sort,
            service_name=row.name,
            quoted=row.quoted,
            net=row.net,
            waived=row.waived,
            reason=row.reason,
            facts=json.loads(row.facts),
        )
        for row in rows
    )


def _materials(session: Session, work_id: int) -> tuple[MaterialLine, ...]:
    drawn = func.coalesce(func.sum(-StockMove.cost).filter(StockMove.sort == "draw"), 0)
    settled = func.coalesce(func.sum(-StockMove.cost).filter(StockMove.sort == "true_up"), 0)
    rows = session.execute(
        select(
            Material.foot,
            Material.item_id,
            Item.name,
            Item.size_text,
            Material.qty,
            Material.waste,
            drawn.label("cost"),
            settled.label("settled"),
        )
        .outerjoin(Item, Item.id == Material.item_id)
        .outerjoin(StockMove, StockMove.use_id == Material.use_id)
        .where(Material.work_id == work_id)
        .group_by(Material.id, Item.name, Item.size_text)
        .order_by(Material.id)
    )
    return tuple(
        MaterialLine(
            foot=row.foot,
            item_id=row.item_id,
            name=row.name,
            size=row.size_text,
            qty=row.qty,
            waste=row.waste,
            cost=int(row.cost),
            settled=int(row.settled),
        )
        for row in rows
    )


def _wear(session: Session, work_id: int) -> tuple[WearLine, ...]:
    rows = session.execute(
        select(Tool.id, Tool.name, Wear.units, Wear.cost)
        .join(Wear, Wear.tool_id == Tool.id)
        .join(WorkTool, WorkTool.wear_id == Wear.id)
        .where(WorkTool.work_id == work_id)
        .order_by(Wear.id)
    )
    return tuple(WearLine(tool_id=i, name=n, units=u, cost=c) for i, n, u, c in rows)


def _results(session: Session, work_id: int) -> tuple[ResultLine, ...]:
    rows = session.execute(
        select(
            Result.client_id,
            Client.name,
            Result.net,
            Result.material,
            Result.drive,
            Result.tool,
            Result.minutes,
            Result.minutes_est,
            Result.drive_est,
            Result.material_est,
        )
        .outerjoin(Client, Client.id == Result.client_id)
        .where(Result.work_id == work_id)
        .order_by(Result.id)
    )
    return tuple(
        ResultLine(
            client_id=row.client_id,
            name=row.name,
            net=row.net,
            material=row.material,
            drive=row.drive,
            tool=row.tool,
            minutes=row.minutes,
            estimated=bool(row.minutes_est or row.drive_est or row.material_est),
        )
        for row in rows
    )
