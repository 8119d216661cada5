"""The demo practice: a scenario in demo_db, told to the same services as everything else."""

import tomllib
from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from datetime import UTC, date, datetime, time, timedelta
from pathlib import Path
from typing import Any

from sqlalchemy.orm import Session

from backoffice import folders, schema
from backoffice.access import service as access
from backoffice.billing import queries as bills
from backoffice.billing import service as billing
from backoffice.books import service as books
from backoffice.books.rules import BillLine, SupplierBillNew
from backoffice.clients import service as clients
from backoffice.clients.rules import ClientDetails, HorseDetails, YardDetails, starting_types
from backoffice.daybook import service as daybook
from backoffice.db import Database
from backoffice.practice import queries as practice_queries
from backoffice.practice import service as practice
from backoffice.practice.rules import FarrierDetails, PlaceDetails, PracticeDetails
from backoffice.pricing import queries as pricing_queries
from backoffice.pricing import service as pricing
from backoffice.pricing.rules import ServiceDetails, planned_feet
from backoffice.stock import service as stock
from backoffice.stock.rules import ItemDetails
from backoffice.suppliers import service as suppliers
from backoffice.suppliers.queries import SupplierDetails
from backoffice.tools import service as tools
from backoffice.tools.rules import ToolDetails
from backoffice.units import Foot, FootWork
from backoffice.visits import rules
from backoffice.visits import service as visits
from backoffice.visits.rules import FactSort, FootState, Said

Plan = Mapping[str, Any]
KINDS = ("pony", "light", "stock", "sport", "draft", "donkey", "foal")
EVENING = time(19, 0)


def build(path: Path, progress: Callable[[str], None] = lambda _: None) -> None:
    """Build the demo practice as one SQLite file; it appears only once it is whole."""
    unfinished = path.with_name(f"{path.name}.unfinished")
    for leftover in path.parent.glob(f"{unfinished.name}*"):
        leftover.unlink()
    scenario = tomllib.loads((folders.demo() / "practice.toml").read_text(encoding="utf-8"))
    database = Database(f"sqlite:///{unfinished}", journal="delete")
    try:
        schema.upgrade(database)
        Builder(database, scenario, progress).run()
    finally:
        database.close()
    unfinished.replace(path)


class Builder:
    """Tells a scenario to the services, one transaction for each day of it."""

    def __init__(self, database: Database, scenario: Plan, progress: Callable[[str], None]) -> None:
        self.database = database
        self.scenario = scenario
        self.progress = progress
        self.today: date = scenario["today"]
        self.ids: dict[tuple[str, str], int] = {}

    def run(self) -> None:
        """Tell the whole scenario, in order of its days."""
        days: dict[date, list[Callable[[Session, date], None]]] = {}
        opened = min(row["day"] for row in self.scenario["delivery"]) - timedelta(days=1)
        steps: list[tuple[date, Callable[[Session, date], None]]] = [(opened, self._records)]
        steps += [(row["day"], self._teller(self._delivery, row)) for row in self._rows("delivery")]
        steps += [(row["day"], self._teller(self._past, row)) for row in self._rows("past")]
        steps += [
            (row["day"], self._teller(self._tool_event, row)) for row in self._rows("tool_event")
        ]
        steps += [
            (date.fromisoformat(paid[1]), self._teller(self._payment, {"paid": paid}))
            for row in self._rows("past")
            for paid in row.get("paid", ())
        ]
        steps += [(row["booked"], self._teller(self._stop, row)) for row in self._rows("stop")]
        steps += [(row["from"], self._teller(self._agreed, row)) for row in self._rows("agreed")]
        for day, step in steps:
            days.setdefault(day, []).append(step)
        for day in sorted(days):
            self.progress(day.isoformat())
            with self._evening_of(day) as session:
                for step in days[day]:
                    step(session, day)

    def _rows(self, name: str) -> Sequence[Plan]:
        rows: Sequence[Plan] = self.scenario.get(name, ())
        return rows

    @staticmethod
    def _teller(
        tell: Callable[[Session, Plan, date], None], row: Plan
    ) -> Callable[[Session, date], None]:
        return lambda session, day: tell(session, row, day)

    @contextmanager
    def _evening_of(self, day: date) -> Iterator[Session]:
        with self.database.writing(at=datetime.combine(day, EVENING, UTC)) as unit:
            yield unit.session

    def _records(self, session: Session, day: date) -> None:
        business = {name: text.strip() for name, text in self.scenario["practice"].items()}
        practice.save_practice(session, PracticeDetails(**business, demo_today=self.today))
        access.first_owner(session, self.scenario["farrier"][0]["name"])
        self._business(session)
        words = practice_queries.practice(session).words
        for kind, details in zip(KINDS, starting_types(words), strict=True):
            self._keep("kind", kind, clients.save_horse_type(session, details))
        for place_no, row in enumerate(self._rows("service"), 1):
            self._service(session, row, place_no, day)
        for row in self._rows("item"):
            self._item(session, row, day)
        for row in self._rows("tool"):
            tool = ToolDetails(place_id=self._truck, bought=day, **row)
            self._keep("tool", row["name"], tools.save_tool(session, tool))
        self._people(session, day)

    def _business(self, session: Session) -> None:
        for row in self._rows("place"):
            self._keep("place", row["name"], practice.save_place(session, PlaceDetails(**row)))
        for row in self._rows("farrier"):
            place = self.ids["place", row["place"]]
            details = FarrierDetails(
                name=row["name"],
                place_id=place,
                sort=row.get("sort", "farrier"),
                day_pay=row.get("day_pay"),
            )
            made = practice.save_farrier(session, details)
            self._keep("farrier", row["name"], made)
        for row in self._rows("supplier"):
            made = suppliers.save_supplier(session, SupplierDetails(**row))
            self._keep("supplier", row["name"], made)

    def _people(self, session: Session, day: date) -> None:
        for row in self._rows("yard"):
            self._keep("yard", row["name"], clients.save_yard(session, YardDetails(**row)))
        for row in self._rows("client"):
            self._keep("client", row["name"], clients.save_client(session, ClientDetails(**row)))
        for row in self._rows("horse"):
            self._horse(session, row, day)

    @property
    def _truck(self) -> int:
        return self.ids["place", self.scenario["place"][0]["name"]]

    @property
    def _farrier(self) -> int:
        return self.ids["farrier", self.scenario["farrier"][0]["name"]]

    def _keep(self, sort: str, name: str, number: int) -> None:
        self.ids[sort, name] = number

    def _service(self, session: Session, row: Plan, place_no: int, day: date) -> None:
        details = ServiceDetails(
            name=row["name"],
            front=row["front"],
            hind=row["hind"],
            minutes=row["minutes"],
            place_no=place_no,
        )
        made = pricing.save_service(session, details)
        self._keep("service", row["name"], made)
        for kind, amount in row["prices"].items():
            pricing.set_price(session, made, self.ids["kind", kind], day, amount)

    def _item(self, session: Session, row: Plan, day: date) -> None:
        details = ItemDetails(
            sort=row["sort"],
            name=row["name"],
            size_text=row["size"],
            pack=row["pack"],
            care=row.get("care", ""),
        )
        made = stock.save_item(session, details)
        self._keep("item", row["key"], made)
        entry_id = daybook.record(session, "count", day)
        stock.count(session, entry_id, made, self._truck, 0, day)

    def _horse(self, session: Session, row: Plan, day: date) -> None:
        details = HorseDetails(
            name=row["name"],
            type_id=self.ids["kind", row["type"]],
            yard_id=self.ids["yard", row["yard"]],
            owner_id=self.ids["client", row["owner"]] if "owner" in row else None,
            cycle_days=row.get("cycle"),
        )
        made = clients.save_horse(session, details)
        self._keep("horse", row["name"], made)
        payers = [(self.ids["client", name], parts) for name, parts in row["payers"]]
        clients.set_payers(session, made, day, payers)
        for flag, note in row.get("flags", ()):
            clients.flag(session, made, flag, note or None, day)

    def _delivery(self, session: Session, row: Plan, day: date) -> None:
        place = self.ids["place", row["place"]]
        lines = [
            BillLine(
                sort="stock", item_id=self.ids["item", key], place_id=place, qty=qty, amount=amount
            )
            for key, qty, amount in row["lines"]
        ]
        lines += [
            BillLine(sort="expense", what=what, amount=amount)
            for what, amount in row.get("expense", ())
        ]
        bill = SupplierBillNew(
            supplier_id=self.ids["supplier", row["supplier"]],
            day=day,
            reference=row["reference"],
            total=sum(line.amount for line in lines),
            paid_by=row["paid_by"],
            lines=tuple(lines),
        )
        books.record_bill(session, bill)

    def _booked(self, session: Session, row: Plan, *, today: date) -> int:
        stop = visits.NewStop(
            farrier_id=self._farrier,
            yard_id=self.ids["yard", row["yard"]],
            day=row["day"],
            horses=tuple(self.ids["horse", name] for name in row["horses"]),
            services={
                self.ids["horse", name]: self.ids["service", service] if service else None
                for name, service in row["horses"].items()
            },
        )
        return visits.plan_stop(session, stop, today=today)

    def _agreed(self, session: Session, row: Plan, day: date) -> None:
        client, service = self.ids["client", row["client"]], self.ids["service", row["service"]]
        pricing.agree_price(session, client, service, day, row["amount"])

    def _stop(self, session: Session, row: Plan, day: date) -> None:
        self._booked(session, row, today=day)

    def _past(self, session: Session, row: Plan, day: date) -> None:
        visit_id = self._booked(session, row, today=day - timedelta(days=1))
        facts = [self._done(session, row, name) for name in row["horses"]]
        visits.say(session, visit_id, facts)
        billing.close_day(session, day, today=day)
        for client in row.get("issue", ()):
            client_id = self.ids["client", client]
            ready = bills.ready_bills(session, includes_tax=False, client_id=client_id)[0]
            bill = billing.NewBill(
                client_id=client_id, expected=ready.totals.payable, first_no=1001
            )
            document_id = billing.issue(session, bill, today=day)
            billing.hand_over(session, document_id, today=day)
            self._keep("bill", client, document_id)

    def _done(self, session: Session, row: Plan, name: str) -> Said:
        horse, wears = self._horse_row(name), self._horse_row(name).get("wears", {})
        service_id = self.ids["service", row["horses"][name]]
        service = pricing_queries.services_by_id(session)[service_id]
        feet = {
            foot: self._foot(foot, done, wears)
            for foot, done in planned_feet(service.front, service.hind).items()
        }
        subject = str(self.ids["horse", horse["name"]])
        return Said(
            id=f"demo|{row['day']}|{subject}",
            subject=subject,
            sort=FactSort.FEET,
            data={"feet": {foot.value: rules.foot_facts(state) for foot, state in feet.items()}},
        )

    def _horse_row(self, name: str) -> Plan:
        return next(row for row in self._rows("horse") if row["name"] == name)

    def _foot(self, foot: Foot, done: FootWork, wears: Plan) -> FootState:
        if not done.shod:
            return FootState(planned=done, done=done)
        size = wears["front" if foot.front else "hind"]
        return FootState(
            planned=done,
            done=done,
            shoe=self.ids["item", size],
            nail=self.ids["item", wears["nail"]],
            nails=wears["nails"],
        )

    def _payment(self, session: Session, row: Plan, day: date) -> None:
        client, _, method = row["paid"]
        document_id = self.ids["bill", client]
        card = bills.bill_card(session, document_id)
        if card is None or not card.line.open:
            raise ValueError(f"the scenario pays {client} too early")
        payment = billing.NewPayment(
            client_id=self.ids["client", client],
            amount=card.line.open,
            tip=0,
            method=method,
            day=day,
            document_id=document_id,
        )
        billing.record_payment(session, payment)

    def _tool_event(self, session: Session, row: Plan, day: date) -> None:
        entry_id = daybook.record(session, "tool", day)
        tool_id = self.ids["tool", row["tool"]]
        tools.record_event(session, entry_id, tool_id, row["sort"], note=row.get("note", ""))
