"""The demo practice: a scenario in demo_db, told to the same services as everything else."""

from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import UTC, date, datetime, time, timedelta
from pathlib import Path
from typing import Any

from sqlalchemy.orm import Session

from backoffice import schema
from backoffice.access import service as access
from backoffice.billing import queries as bills
from backoffice.billing import service as billing
from backoffice.books import service as books
from backoffice.books.rules import BillLine, SupplierBillNew
from backoffice.clients import service as clients
from backoffice.clients.rules import ClientDetails, HorseDetails, YardDetails, starting_types
from backoffice.daybook import service as daybook
from backoffice.db import Database
from backoffice.demo import scenario as told_by
from backoffice.demo.shoeing import KINDS
from backoffice.demo.teller import Teller
from backoffice.demo.told import DayTold
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
from backoffice.units import Foot, FootWork
from backoffice.visits import rules
from backoffice.visits import service as visits
from backoffice.visits.rules import FactSort, FootState, Said

Plan = Mapping[str, Any]
EVENING = time(19, 0)


Step = Callable[[Session, date], None]


@dataclass(frozen=True, slots=True, kw_only=True)
class Size:
    """How large a demo is: whole years before its own, horses, trucks; its dice by one seed."""

    years: int = 0
    horses: int = 180
    trucks: int = 2
    seed: int = 1717


SMALL = Size()


def build(path: Path, progress: Callable[[str], None] = lambda _: None, size: Size = SMALL) -> None:
    """Build the demo practice as one SQLite file; it appears only once it is whole."""
    unfinished = path.with_name(f"{path.name}.unfinished")
    for leftover in path.parent.glob(f"{unfinished.name}*"):
        leftover.unlink()
    database = Database(f"sqlite:///{unfinished}", journal="memory")
    try:
        schema.upgrade(database)
        Builder(database, told_by.load().small, progress, size).run()
    finally:
        database.close()
    unfinished.replace(path)


def span(size: Size) -> tuple[date, date]:
    """Give the first day that is told of a demo, and its today."""
    scenario = told_by.load()
    return scenario.first(size.years), scenario.small["today"]


class Builder:
    """Tells a scenario to the services, one transaction for each day of it."""

    def __init__(
        self,
        database: Database,
        scenario: Plan,
        progress: Callable[[str], None],
        size: Size = SMALL,
    ) -> None:
        self.database = database
        self.scenario = scenario
        self.years = told_by.load()
        self.progress = progress
        self.size = size
        self.today: date = scenario["today"]
        self.ids: dict[tuple[str, str], int] = {}
        self.teller = Teller(self.years.years, scenario["tool"], self.ids)

    def run(self) -> None:
        """Tell the whole scenario, in order of its days."""
        days: dict[date, list[Step]] = {}
        for day, step in self._told_one_by_one():
            days.setdefault(day, []).append(step)
        told = {}
        for one in self._years():
            if one.to_come:
                eve = self.today - timedelta(days=1)
                days.setdefault(eve, []).append(self._booking(one))
            else:
                told[one.day] = one
        begins = min((*days, *told)) - timedelta(days=1)
        days[begins] = [self._records]
        for day in sorted({*days, *told}):
            with self._evening_of(day) as session:
                if day in told:
                    self.teller.tell(session, told[day])
                for step in days.get(day, ()):
                    step(session, day)
            self.progress(day.isoformat())

    def _years(self) -> Iterator[DayTold]:
        size = self.size
        return told_by.days(
            self.years,
            seed=size.seed,
            years=size.years,
            horses=size.horses,
            trucks=size.trucks,
        )

    def _booking(self, told: DayTold) -> Step:
        return lambda session, day: self.teller.plan(session, told, day)

    def _told_one_by_one(self) -> Iterator[tuple[date, Step]]:
        for name, tell in (
            ("delivery", self._delivery), ("past", self._past), ("tool_event", self._tool_event),
        ):  # fmt: skip
            for row in self._rows(name):
                yield row["day"], self._teller(tell, row)
        for row in self._rows("past"):
            for paid in row.get("paid", ()):
                yield date.fromisoformat(paid[1]), self._teller(self._payment, {"paid": paid})
        for row in self._rows("stop"):
            yield row["booked"], self._teller(self._stop, row)
        for row in self._rows("agreed"):
            yield row["from"], self._teller(self._agreed, row)

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
            self.teller.new_tool(session, row, self.scenario["place"][0]["name"], day)
        if self.size.years:
            self._of_the_years(session, day)
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
            self._price(session, row["name"], kind, amount, day)

    def _price(self, session: Session, service: str, kind: str, amount: int, day: date) -> None:
        """Set a price of today, and what it was in the years before, in whole units."""
        levels: Mapping[str, int] = self.years.years["prices"] if self.size.years else {}
        dated = {max(day, date(int(year), 1, 1)): level for year, level in levels.items()}
        if self.size.years:
            dated.setdefault(day, min(levels.values()))
        for from_day, level in (dated or {day: 1_000}).items():
            then = amount if level == 1_000 else amount * level // 100_000 * 100
            pricing.set_price(
                session, self.ids["service", service], self.ids["kind", kind], from_day, then
            )

    def _of_the_years(self, session: Session, day: date) -> None:
        """Save what the years have and the days told one by one do without."""
        rows = self.years.years
        trucks = rows["truck"][: self.size.trucks]
        for row in trucks[1:]:
            place = PlaceDetails(name=row["name"])
            self._keep("place", row["name"], practice.save_place(session, place))
            person = FarrierDetails(name=row["farrier"], place_id=self.ids["place", row["name"]])
            self._keep("farrier", row["farrier"], practice.save_farrier(session, person))
        for row in rows["supplier"]:
            made = suppliers.save_supplier(session, SupplierDetails(**row))
            self._keep("supplier", row["name"], made)
        for row in rows["item"]:
            self._item(session, row, day)
        self._more_services(session, day)
        for row in trucks[1:]:
            self._on_truck(session, row["name"], day)

    def _more_services(self, session: Session, day: date) -> None:
        rows = self.years.years
        for place_no, row in enumerate(rows["service"], len(self._rows("service")) + 1):
            self._service(session, row, place_no, day)
            for key, qty, per in row.get("takes", ()):
                service, item = self.ids["service", row["name"]], self.ids["item", key]
                pricing.set_recipe(session, service, item, qty, per)
        for name, prices in rows["more_prices"].items():
            for kind, amount in prices.items():
                self._price(session, name, kind, amount, day)

    def _on_truck(self, session: Session, place: str, day: date) -> None:
        """Begin a truck's shelves with nothing on them, and give it its tools."""
        entry_id = daybook.record(session, "count", day)
        for item in (*self._rows("item"), *self.years.years["item"]):
            item_id, here = self.ids["item", item["key"]], self.ids["place", place]
            stock.count(session, entry_id, item_id, here, 0, day)
        for tool in self._rows("tool"):
            self.teller.new_tool(session, tool, place, day)

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
        tool_id = self.ids["tool", f"{row['tool']} of {self.scenario['place'][0]['name']}"]
        tools.record_event(session, entry_id, tool_id, row["sort"], note=row.get("note", ""))
