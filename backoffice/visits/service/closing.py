"""Closing works: prices, stock, wear and results, in a fixed number of statements a day."""

import json
from collections.abc import Mapping, Sequence
from dataclasses import asdict, dataclass
from datetime import date
from typing import Any

from sqlalchemy import delete, func, insert, select, update
from sqlalchemy.orm import Session

from backoffice.clients import queries as clients
from backoffice.db import insert_numbered
from backoffice.practice import queries as practice
from backoffice.practice.rules import Settings
from backoffice.pricing import queries as pricing
from backoffice.pricing import rules as prices
from backoffice.stock import service as stock
from backoffice.tools import service as tools
from backoffice.units import Foot
from backoffice.visits import queries, rules
from backoffice.visits.models import (
    Fact,
    HorseState,
    Material,
    NextTime,
    PriceLine,
    PriceShare,
    Pricing,
    Result,
    Unbilled,
    Wears,
    Work,
    WorkTool,
)
from backoffice.visits.rules import FootState, Need

Payers = tuple[tuple[int | None, int], ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Gathered:
    """Everything closing decides on, read in a fixed number of statements."""

    works: tuple[queries.WorkRow, ...]
    visits: Mapping[int, queries.VisitRow]
    feet: Mapping[int, Mapping[Foot, FootState]]
    horses: Mapping[int, queries.HorseFacts]
    payers: Mapping[int, Payers]
    book: prices.PriceBook
    settings: Settings
    includes_tax: bool

    def horse_of(self, work: queries.WorkRow) -> queries.HorseFacts:
        """Give what is known of the horse of a work."""
        return self.horses.get(work.horse_id or 0, queries.UNKNOWN_HORSE)

    def payers_of(self, work: queries.WorkRow) -> Payers:
        """Give who pays for a work, in named order; nobody known is one unknown payer."""
        return self.payers.get(work.horse_id or 0, ((None, 1),))


def gather(session: Session, work_ids: Sequence[int], day: date) -> Gathered:
    """Read what closing, correcting and pricing anew decide on, for works of one day."""
    works = queries.works_by_id(session, work_ids)
    horses = [work.horse_id for work in works if work.horse_id is not None]
    return Gathered(
        works=works,
        visits=queries.visits_of(session, {work.visit_id for work in works}),
        feet=queries.feet_of(session, work_ids),
        horses=queries.horse_facts(session, horses),
        payers=clients.payers_on(session, horses, day),
        book=pricing.price_book(session, day),
        settings=practice.settings(session),
        includes_tax=practice.practice(session).prices_include_tax,
    )


def close_works(session: Session, work_ids: Sequence[int], *, entry_id: int, day: date) -> None:
    """Close works of one day: price, stock, wear, and the result frozen."""
    if not work_ids:
        return
    known = gather(session, work_ids, day)
    seen = {
        (row.visit_id, row.subject): row.seq
        for row in session.execute(
            select(Fact.visit_id, Fact.subject, func.max(Fact.seq).label("seq"))
            .where(Fact.visit_id.in_(known.visits))
            .group_by(Fact.visit_id, Fact.subject)
        )
    }
    session.execute(
        update(Work),
        [
            {
                "id": work.id,
                "closing_entry_id": entry_id,
                "closed_seq": seen.get((work.visit_id, work.subject), 0),
                "minutes": minutes_of(known, work),
                "pricing_no": 1,
            }
            for work in known.works
        ],
    )
    costs = draw_and_wear(session, known, entry_id)
    write_prices(session, known, entry_id, dict.fromkeys(work_ids, 1))
    write_results(session, known, costs)
    _forget_next_time(session, [w.horse_id for w in known.works if w.outcome == "done"])
    refresh_horses(session, list(known.horses))


def minutes_of(known: Gathered, work: queries.WorkRow) -> int:
    """Give the minutes a work took: as told, else the standard of its service and kind."""
    if work.minutes_told:
        return work.minutes
    service = known.book.services.get(work.service_id or 0)
    if service is None or work.outcome == "absent":
        return 0
    return rules.minutes_of(service.minutes, known.horse_of(work).time_factor)


def draw_and_wear(session: Session, known: Gathered, entry_id: int) -> dict[int, queries.Cost]:
    """Take the stock of works, book their wear, and write both down foot by foot."""
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
    if materials:
        session.execute(insert(Material), materials)
    if touched:
        session.execute(insert(WorkTool), touched)
    tool_cost = {
        work.id: sum(one.cost for one in all_worn)
        for work, all_worn in zip(worked, worn, strict=True)
    }
    costs = {}
    for work in known.works:
        own = [use for use in drawn if drawable[use.draw_no][0] == work.id]
        costs[work.id] = queries.Cost(
            material=sum(use.cost for use in own),
            material_est=sum(use.assumed for use in own),
            tool=tool_cost.get(work.id, 0),
        )
    return costs


def write_prices(
    session: Session,
    known: Gathered,
    entry_id: int,
    numbers: Mapping[int, int],
    lines: Mapping[int, Sequence[prices.Line]] | None = None,
) -> None:
    """Write a version of the price of each work, its lines and each payer's part of them."""
    if lines is None:
        lines = {work.id: price_of(known, work) for work in known.works}
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
        (work, {"line_id": line_id, **asdict(share)})
        for line_id, (work, _, line) in zip(line_ids, rows, strict=True)
        for share in prices.share_line(line, known.payers_of(work))
    ]
    share_ids = insert_numbered(session, PriceShare, [values for _, values in shares])
    session.execute(
        insert(Unbilled),
        [
            {
                "share_id": share_id,
                "client_id": values["client_id"],
                "work_id": work.id,
                "net": values["net"],
            }
            for share_id, (work, values) in zip(share_ids, shares, strict=True)
        ],
    )


def price_of(known: Gathered, work: queries.WorkRow) -> tuple[prices.Line, ...]:
    """Price one work by the rules in force on its day; a horse done in part waits for its price."""
    paying = tuple(client for client, _ in known.payers_of(work) if client is not None)
    return prices.price_work(
        prices.PriceFacts(
            service_id=work.service_id,
            outcome=work.outcome,
            told=work.told,
            booked=work.booked,
            listed=known.book.price_of(work.service_id, work.type_id, paying),
            travel=work.travel,
            taxes=known.book.taxes,
            includes_tax=known.includes_tax,
        )
    )


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


def refresh_horses(session: Session, horses: Sequence[int]) -> None:
    """Work out again what horses wear, when they were last done and when they are due.

    Called after a closing or a correction, and after a horse's own cycle or kind was edited.
    What the farrier set for next time himself stays.
    """
    past = queries.past_of(session, horses)
    now = {horse: rules.horse_now(feet) for horse, feet in past.items()}
    facts = queries.horse_facts(session, horses)
    session.execute(delete(Wears).where(Wears.horse_id.in_(horses)))
    session.execute(delete(HorseState).where(HorseState.horse_id.in_(horses)))
    wears = [
        {
            "horse_id": horse,
            "foot": foot.value,
            "work_id": worn.work_id,
            "shoe_item_id": worn.state.shoe,
            "nail_item_id": worn.state.nail,
            "nails": worn.state.nails,
            "pad_item_id": worn.state.pad,
            "resets": worn.resets,
        }
        for horse, standing in now.items()
        for foot, worn in standing.wears.items()
    ]
    states: list[dict[str, Any]] = [
        {
            "horse_id": horse,
            "last_work_id": standing.last_work_id,
            "last_day": standing.last_day,
            "due_day": due_of(facts[horse], standing),
        }
        for horse, standing in now.items()
        if standing.last_work_id is not None
    ]
    if wears:
        session.execute(insert(Wears), wears)
    if states:
        session.execute(insert(HorseState), states)
    _propose(session, horses, {row["horse_id"]: row["due_day"] for row in states})


def due_of(horse: queries.HorseFacts, now: rules.HorseNow) -> date | None:
    """Give when a horse is due: its own cycle, else that of its kind, shod or trimmed."""
    usual = horse.shod_days if now.shod else horse.trim_days
    return rules.due_after(now.last_day, horse.own_cycle or usual) if now.last_day else None


def _propose(session: Session, horses: Sequence[int], due: Mapping[int, date | None]) -> None:
    set_by_hand = set(
        session.scalars(
            select(NextTime.horse_id).where(NextTime.horse_id.in_(horses), NextTime.proposed == 0)
        )
    )
    open_horses = [horse for horse in horses if horse not in set_by_hand]
    done = queries.services_done(session, open_horses)
    book_services = pricing.services_by_id(session)
    session.execute(
        delete(NextTime).where(NextTime.horse_id.in_(open_horses), NextTime.proposed == 1)
    )
    rows = [
        {
            "horse_id": horse,
            "service_id": prices.propose_next(done[horse], book_services),
            "day": due.get(horse),
            "note": None,
            "proposed": True,
        }
        for horse in open_horses
        if done[horse]
    ]
    if rows:
        session.execute(insert(NextTime), rows)


def set_next_time(
    session: Session, horse_id: int, service_id: int | None, day: date | None, note: str | None
) -> None:
    """Set what a horse gets next time and when, in place of what was proposed."""
    row = session.get(NextTime, horse_id)
    if row is None:
        row = NextTime(horse_id=horse_id, proposed=False)
        session.add(row)
    row.service_id, row.day, row.note, row.proposed = service_id, day, note, False
    session.flush()


def _forget_next_time(session: Session, horses: Sequence[int | None]) -> None:
    """Let what was set for next time go once it has been done."""
    gone = update(NextTime).where(NextTime.horse_id.in_(horses)).values(proposed=True)
    session.execute(gone)
