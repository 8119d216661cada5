"""Which clients and which kinds of horse pay, and which horses make up each figure?

Every grouping reads the same rows, the results frozen at closing, and the same late rows, kept by
work and payer: so every grouping sums to the same total.
"""

from collections.abc import Collection, Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from enum import StrEnum
from itertools import groupby

from sqlalchemy import ColumnElement, func, literal_column, select
from sqlalchemy.orm import InstrumentedAttribute, Session

from backoffice.billing.models import Document, DocumentLine
from backoffice.clients.models import Client, Horse, HorseType
from backoffice.daybook.models import Entry
from backoffice.pricing.models import Service
from backoffice.reports import rules
from backoffice.reports.rules import Line, Period, Sums
from backoffice.stock.models import StockMove
from backoffice.visits.models import Material, PriceLine, PriceShare, Pricing, Result, Visit, Work


class By(StrEnum):
    """How results are grouped; ``WORKS`` is the finest, one horse at a visit."""

    CLIENTS = "clients"
    KINDS = "kinds"
    WORKS = "works"


_COLUMN: Mapping[By, InstrumentedAttribute[int | None] | InstrumentedAttribute[int]] = {
    By.CLIENTS: Result.client_id,
    By.KINDS: Result.type_id,
    By.WORKS: Result.work_id,
}
_SUMS = tuple(
    func.sum(column)
    for column in (
        Result.net,
        Result.material,
        Result.drive,
        Result.tool,
        Result.minutes,
        Result.minutes_est,
        Result.drive_est,
        Result.material_est,
    )
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Late:
    """What came after a result was frozen, for one payer: taken back, or a delivery settled it."""

    sort: str
    work_id: int
    client_id: int | None
    type_id: int | None
    sums: Sums

    def key(self, by: By) -> int | None:
        """Give the group this belongs to."""
        keys = {By.CLIENTS: self.client_id, By.KINDS: self.type_id, By.WORKS: self.work_id}
        return keys[by]


@dataclass(frozen=True, slots=True, kw_only=True)
class Margin:
    """What is left in a period, group by group, and in all."""

    lines: tuple[Line, ...]
    total: Line


@dataclass(frozen=True, slots=True, kw_only=True)
class Detail:
    """What makes up one line: its horses, the latest first, and what came later of them."""

    line: Line
    works: tuple[Line, ...]
    late: tuple[Late, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Worked:
    """Which horse a work was done on, when, and what for."""

    day: date
    name: str | None
    words: str | None
    service: str | None


def margin(
    session: Session, period: Period, by: By, *where: ColumnElement[bool]
) -> dict[int | None, Sums]:
    """Sum the results of a period by group, as they were frozen; works come the latest first."""
    group = _COLUMN[by]
    grouped = (
        select(group, *_SUMS)
        .where(Result.day.between(period.first, period.last), *where)
        .group_by(group)
    )
    if by is By.WORKS:
        grouped = grouped.order_by(func.max(Result.day).desc(), Result.work_id.desc())
    return {key: Sums(*sums) for key, *sums in session.execute(grouped)}


def late_rows(session: Session, period: Period) -> tuple[Late, ...]:
    """Give what came after the results of a period were frozen, for each work and payer."""
    return (*_taken_back(session, period), *_settled(session, period))


def _taken_back(session: Session, period: Period) -> Iterator[Late]:
    """Give what bills taken back for good took off; where one was fixed, the price is new."""
    rows = session.execute(
        select(
            Result.work_id,
            Result.client_id,
            Result.type_id,
            func.sum(DocumentLine.net).label("net"),
        )
        .join(PriceShare, PriceShare.id == DocumentLine.share_id)
        .join(PriceLine, PriceLine.id == PriceShare.line_id)
        .join(Pricing, Pricing.id == PriceLine.pricing_id)
        .join(Document, Document.id == DocumentLine.document_id)
        .join(Entry, Entry.id == Document.entry_id)
        # As the unique index of results has it, so each is looked up by its key.
        .join(
            Result,
            (Result.work_id == Pricing.work_id)
            & (func.coalesce(Result.client_id, 0) == PriceShare.client_id),
        )
        .where(
            DocumentLine.credits_line_id.is_not(None),
            Entry.sort == "credit",
            Result.day.between(period.first, period.last),
        )
        .group_by(Result.id, Result.work_id, Result.client_id, Result.type_id)
        .order_by(Result.id)
    )
    for row in rows:
        yield Late(
            sort="taken_back",
            work_id=row.work_id,
            client_id=row.client_id,
            type_id=row.type_id,
            sums=Sums(net=-row.net),
        )


def _settled(session: Session, period: Period) -> Iterator[Late]:
    """Give what deliveries since changed in the cost of works, shared over their payers."""
    changed = (
        select(
            Material.work_id,
            func.sum(-StockMove.cost).label("material"),
            func.sum(-StockMove.cost).filter(StockMove.lot_id.is_(None)).label("estimate"),
        )
        .join(StockMove, StockMove.use_id == Material.use_id)
        # A literal, for an index that holds only these.
        .where(StockMove.sort == literal_column("'true_up'"))
        .group_by(Material.work_id)
        .subquery()
    )
    rows = session.execute(
        select(
            Result.work_id,
            Result.client_id,
            Result.type_id,
            Result.net,
            changed.c.material,
            changed.c.estimate,
        )
        .join(changed, changed.c.work_id == Result.work_id)
        .where(Result.day.between(period.first, period.last))
        .order_by(Result.work_id, Result.id)
    ).all()
    for _, same in groupby(rows, key=lambda row: row.work_id):
        payers = list(same)
        first = payers[0]
        shares = rules.settled(
            int(first.material), int(first.estimate or 0), [row.net for row in payers]
        )
        for row, sums in zip(payers, shares, strict=True):
            yield Late(
                sort="settled",
                work_id=row.work_id,
                client_id=row.client_id,
                type_id=row.type_id,
                sums=sums,
            )


def what_pays(session: Session, period: Period, by: By, *, hour_cents: int) -> Margin:
    """Say what is left in a period by client or by kind of horse, what left most first."""
    return _lines(margin(session, period, by), late_rows(session, period), by, hour_cents)


def _lines(
    frozen: Mapping[int | None, Sums], late: Sequence[Late], by: By, hour_cents: int
) -> Margin:
    sums = dict(frozen)
    for row in late:
        sums[row.key(by)] = rules.add_up((sums[row.key(by)], row.sums))
    keys = sorted(sums, key=lambda key: key or 0)
    whole = rules.add_up(sums.values())
    cost = rules.time_cost(whole.minutes, hour_cents)
    times = rules.share_time(cost, [sums[key].minutes for key in keys])
    lines = [Line(key=key, sums=sums[key], time=t) for key, t in zip(keys, times, strict=True)]
    return Margin(
        lines=tuple(sorted(lines, key=lambda line: -line.left)),
        total=Line(key=None, sums=whole, time=cost),
    )


def detail(session: Session, period: Period, by: By, key: int | None, *, hour_cents: int) -> Detail:
    """Give what makes up one line of ``what_pays``; without work there is nothing in it.

    It is the same statement grouped by work, so the horses and what came later are the line.
    """
    late = late_rows(session, period)
    found = _lines(margin(session, period, by), late, by, hour_cents).lines
    line = next((one for one in found if one.key == key), Line(key=key, sums=Sums(), time=0))
    group = _COLUMN[by]
    works = margin(session, period, By.WORKS, group.is_(None) if key is None else group == key)
    times = rules.share_time(line.time, [sums.minutes for sums in works.values()])
    return Detail(
        line=line,
        works=tuple(
            Line(key=work_id, sums=sums, time=time)
            for (work_id, sums), time in zip(works.items(), times, strict=True)
        ),
        late=tuple(row for row in late if row.key(by) == key),
    )


def worked(session: Session, work_ids: Collection[int]) -> dict[int, Worked]:
    """Say of works which horse it was, when, and what for."""
    rows = session.execute(
        select(
            Work.id,
            Visit.day,
            Horse.name,
            func.coalesce(Horse.words, Work.words).label("words"),
            Service.name.label("service"),
        )
        .join(Visit, Visit.id == Work.visit_id)
        .outerjoin(Horse, Horse.id == Work.horse_id)
        .outerjoin(Service, Service.id == Work.service_id)
        .where(Work.id.in_(work_ids))
    )
    return {
        row.id: Worked(day=row.day, name=row.name, words=row.words, service=row.service)
        for row in rows
    }


def names(session: Session, by: By, keys: Collection[int]) -> dict[int, str | None]:
    """Give the names of clients or of kinds of horse."""
    named = Client if by is By.CLIENTS else HorseType
    rows = session.execute(select(named.id, named.name).where(named.id.in_(keys)))
    return {row.id: row.name for row in rows}
