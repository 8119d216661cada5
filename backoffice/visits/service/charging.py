"""What works cost who, version by version."""

import json
from collections.abc import Collection, Mapping
from dataclasses import asdict

from sqlalchemy import insert
from sqlalchemy.orm import Session

from backoffice.db import insert_numbered
from backoffice.pricing import rules as prices
from backoffice.visits import queries
from backoffice.visits.models import (
    PriceLine,
    PriceShare,
    Pricing,
    Unbilled,
)
from backoffice.visits.service.gathering import Gathered


def write_prices(
    session: Session,
    known: Gathered,
    entry_id: int,
    numbers: Mapping[int, int],
    carried: Collection[int] = (),
) -> None:
    """Write a version of the price of each work, its lines and each payer's part of them.

    The parts of the clients ``carried`` are on a bill that stands and are not billed again. A part
    of nothing of the trip is never billed; any other line of nothing goes on the next bill.
    """
    lines = price_works(session, known)
    pricing_ids = insert_numbered(
        session,
        Pricing,
        [
            {"work_id": work.id, "entry_id": entry_id, "no": numbers[work.id]}
            for work in known.works
        ],
    )
    rows = [
        (work, pricing_id, line)
        for work, pricing_id in zip(known.works, pricing_ids, strict=True)
        for line in lines[work.id]
    ]
    if not rows:
        return
    line_ids = insert_numbered(
        session,
        PriceLine,
        [
            {
                "pricing_id": pricing_id,
                "sort": line.sort,
                "service_id": line.service_id,
                "qty": line.qty,
                "quoted": line.quoted,
                "net": line.net,
                "waived": line.waived,
                "tax_kind": line.tax_kind,
                "category": line.category,
                "rate_ppm": line.rate_ppm,
                "reason": line.reason,
                "facts": json.dumps(dict(line.facts), sort_keys=True),
            }
            for _, pricing_id, line in rows
        ],
    )
    shares = [
        (work, line, {"line_id": line_id, **asdict(share)})
        for line_id, (work, _, line) in zip(line_ids, rows, strict=True)
        for share in prices.share_line(line, known.payers_of(work))
    ]
    share_ids = insert_numbered(session, PriceShare, [values for _, _, values in shares])
    unbilled = [
        {
            "share_id": share_id,
            "client_id": values["client_id"],
            "work_id": work.id,
            "net": values["net"],
        }
        for share_id, (work, line, values) in zip(share_ids, shares, strict=True)
        if values["client_id"] not in carried and (values["quoted"] or line.sort != "travel")
    ]
    if unbilled:
        session.execute(insert(Unbilled), unbilled)


def facts_of(known: Gathered, work: queries.WorkRow) -> prices.PriceFacts:
    """Gather what the price of one work is decided on."""
    paying = known.paying(work)
    done = {foot: state.done for foot, state in known.feet[work.id].items()}
    in_part = work.outcome == "part"
    return prices.PriceFacts(
        service_id=work.service_id,
        outcome=work.outcome,
        told=work.told,
        booked=work.booked,
        listed=known.book.price_of(work.service_id, work.type_id, paying),
        part=known.book.price_of_part(done, work.type_id, paying) if in_part else None,
        travel=work.travel,
        travel_told=work.travel_told,
        finish=work.finishes_id is not None,
        guarantee=known.guarantee_of(work),
        taxes=known.book.taxes,
        includes_tax=known.includes_tax,
    )


def price_works(session: Session, known: Gathered) -> dict[int, tuple[prices.Line, ...]]:
    """Price works by the rules in force on their day, each stop up to its minimum once."""
    facts = {work.id: facts_of(known, work) for work in known.works}
    lines = {work_id: prices.price_work(facts[work_id]) for work_id in facts}
    minimum = known.settings["minimum_cents"]
    if not minimum:
        return lines
    before = queries.charged_before(session, known.visits, [work.id for work in known.works])
    for visit_id in known.visits:
        there = [work for work in known.works if work.visit_id == visit_id]
        counted = [work.id for work in there if prices.has_minimum(facts[work.id], lines[work.id])]
        charged = sum(line.quoted for work in there for line in lines[work.id])
        charged += before.get(visit_id, 0)
        parts = prices.minimum_parts(minimum, charged, len(counted))
        for work_id, part in zip(counted, parts, strict=True):
            if part:
                line = prices.minimum_line(facts[work_id], part, minimum)
                lines[work_id] = (*lines[work_id], line)
    return lines
