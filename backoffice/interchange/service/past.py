"""Bringing in what was done, what is still owed for it, and what was spent."""

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import replace
from datetime import date

from sqlalchemy.orm import Session

from backoffice.billing import queries as bills
from backoffice.billing import service as billing
from backoffice.books import service as books
from backoffice.books.rules import BillLine, SupplierBillNew
from backoffice.clients.rules import search_key
from backoffice.errors import Refused
from backoffice.interchange.queries import standing
from backoffice.interchange.rules.brought import (
    BroughtHorse,
    BroughtJob,
    BroughtOwed,
    BroughtSpending,
    Cell,
)
from backoffice.interchange.rules.report import Tally
from backoffice.interchange.service.people import HorseKey, horse_key
from backoffice.interchange.service.things import ServiceOf, SupplierOf, WornOf
from backoffice.practice import queries as practice
from backoffice.visits import queries
from backoffice.visits import service as visits
from backoffice.visits.service import PastJob

AT_ONCE = 2_000  # jobs kept in one go
_PAID_BY = {"cash": "cash", "card": "card", "cheque": "cheque"}


class Past:
    """What past jobs are made of: who did them, on which horses, and what these wear.

    All are written down as done by the first farrier, at the yard where the horse stands now.
    Raises: Refused if nobody works here.
    """

    def __init__(
        self,
        session: Session,
        horses: Sequence[BroughtHorse],
        horse_ids: Mapping[HorseKey, int],
        yard_ids: Mapping[str, int],
        service_of: ServiceOf,
        tally: Tally,
    ) -> None:
        farriers = practice.farrier_choices(session)
        if not farriers:
            raise Refused("bring.nobody_works")
        self._farrier = farriers[0][0]
        self._service_of = service_of
        self._yards = yard_ids
        self._tally = tally
        self.ids = horse_ids
        self.horses = {
            horse_key(one.name, one.clients[0][0] if one.clients else None): one for one in horses
        }
        worn_of = WornOf(session, tally)
        self._wears = {
            key: worn_of(one.at, one.wears) for key, one in self.horses.items() if one.wears
        }

    def job(self, at: Cell, key: HorseKey, day: date, what: str, *ends: str | None) -> PastJob:
        """Give a past job of a horse: what was done, in words and to fronts and hinds."""
        service_id = self._service_of(at, what, *ends)
        horse = self.horses[key]
        if service_id is None:
            name = f"{horse.name}: {what}" if what else horse.name
            self._tally.wait("bring.wait.service", name)
        return PastJob(
            farrier_id=self._farrier,
            yard_id=self._yards.get(search_key(horse.yard)),
            day=day,
            horse_id=self.ids[key],
            service_id=service_id,
            words="" if self._service_of.called(service_id, what) else what,
            wears=self._wears.get(key, {}),
        )


def bring_jobs(
    session: Session,
    jobs: Sequence[BroughtJob],
    past: Past,
    tally: Tally,
    progress: Callable[[str, int], None],
    *,
    today: date,
) -> None:
    """Keep past jobs, and of each horse the day it was last done where no job says so."""
    found: list[tuple[Cell, PastJob]] = []
    said: set[tuple[HorseKey, date]] = set()
    for one in jobs:
        key = horse_key(one.horse, one.client)
        if one.day > today:
            tally.note(one.at, one.what, "bring.left_out.to_come", on_day=one.day)
            continue
        said.add((key, one.day))
        job = past.job(one.at, key, one.day, one.what, one.fronts, one.hinds)
        found.append((one.at, replace(job, price=one.amount)))
    found += _last_done(session, past, said, tally, today=today)
    _keep(session, found, tally, progress, today=today)


def _last_done(
    session: Session,
    past: Past,
    said: set[tuple[HorseKey, date]],
    tally: Tally,
    *,
    today: date,
) -> Iterator[tuple[Cell, PastJob]]:
    done = standing.done_days(session, list(past.ids.values()))
    with_jobs = {key for key, _ in said}
    for key, horse in past.horses.items():
        day = horse.last_day
        if day is None:
            if key not in with_jobs:
                tally.wait("bring.wait.last_done", horse.name)
        elif day > today:
            tally.note(horse.at, horse.name, "bring.left_out.to_come", on_day=day)
        elif (key, day) not in said and (past.ids[key], day) not in done:
            ends = (horse.fronts, horse.hinds)
            yield horse.at, past.job(horse.at, key, day, horse.usual or "", *ends)


def _keep(
    session: Session,
    found: Sequence[tuple[Cell, PastJob]],
    tally: Tally,
    progress: Callable[[str, int], None],
    *,
    today: date,
) -> None:
    """Keep jobs, the newest first, so that what a horse wears is known before what went before."""
    known = queries.history_keys(session, sorted({job.horse_id for _, job in found}))
    for at, job in found:
        key = queries.history_key(job.horse_id, job.day, job.service_id, job.words)
        tally.count(at, "job", new=key not in known)
        known.add(key)
    jobs = sorted((job for _, job in found), key=lambda job: job.day, reverse=True)
    for start in range(0, len(jobs), AT_ONCE):
        progress("job", start)
        visits.record_history(session, jobs[start : start + AT_ONCE], today=today)


def bring_owed(
    session: Session,
    brought: Sequence[BroughtOwed],
    client_ids: Mapping[str, int],
    tally: Tally,
    *,
    today: date,
) -> None:
    """Bring in what clients still owe, each sum under its old reference."""
    old: list[billing.OldBalance] = []
    known = bills.old_references(session, set(client_ids.values()))
    for one in brought:
        client_id = client_ids[search_key(one.client)]
        key = (client_id, one.reference.strip().casefold())
        tally.count(one.at, "owed", new=key not in known, amount=one.amount)
        if key not in known:
            known.add(key)
            day = None if one.day is not None and one.day > today else one.day
            old.append(
                billing.OldBalance(
                    client_id=client_id, reference=one.reference, amount=one.amount, day=day
                )
            )
    billing.open_balance(session, old, today=today)


def bring_spending(
    session: Session,
    brought: Sequence[BroughtSpending],
    supplier_of: SupplierOf,
    tally: Tally,
    *,
    today: date,
) -> None:
    """Bring in money out as expenses; none of it becomes stock, which is counted by itself.

    Where it was not written how it was paid, it counts as paid by transfer.
    """
    there = standing.spending_there(session)
    for one in brought:
        if one.day > today:
            tally.note(one.at, one.what or "", "bring.left_out.to_come", on_day=one.day)
            continue
        supplier_id = supplier_of(one.supplier)
        key = (one.day, one.amount, supplier_id, search_key(one.what))
        known = there[key] > 0
        tally.count(one.at, "spending", new=not known, amount=one.amount)
        if known:
            there[key] -= 1
            continue
        if one.paid_by is None:
            tally.wait("bring.wait.how_paid", one.supplier or one.what or one.at.address)
        lines = (BillLine(sort="expense", amount=one.amount, what=one.what),) if one.what else ()
        books.record_bill(
            session,
            SupplierBillNew(
                supplier_id=supplier_id,
                day=one.day,
                reference="",
                total=one.amount,
                paid_by=_PAID_BY.get(one.paid_by or "", "transfer"),
                lines=lines,
            ),
        )
