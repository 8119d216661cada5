"""Told days become records, visits, bills and money, through the same services as everything."""

from collections.abc import Mapping, Sequence
from datetime import date, timedelta
from typing import Any

from sqlalchemy.orm import Session

from backoffice.billing import queries as bills
from backoffice.billing import service as billing
from backoffice.books import service as books
from backoffice.books.rules import BillLine, SupplierBillNew
from backoffice.clients import service as clients
from backoffice.clients.rules import ClientDetails, HorseDetails, YardDetails
from backoffice.daybook import service as daybook
from backoffice.demo.told import (
    DayTold,
    DeliveryTold,
    FootTold,
    PaidTold,
    SpentTold,
    StopTold,
    ToolTold,
    WorkTold,
)
from backoffice.pricing import service as pricing
from backoffice.stock import service as stock
from backoffice.tools import service as tools
from backoffice.tools.rules import ToolDetails
from backoffice.visits import queries
from backoffice.visits import service as visits
from backoffice.visits.rules import FactSort, FootState, Said, foot_facts

Plan = Mapping[str, Any]
FIRST_BILL = 1001


class Teller:
    """Tells days to the services; ``ids`` knows the number of everything by its name."""

    def __init__(self, rows: Plan, tool_rows: Sequence[Plan], ids: dict[tuple[str, str], int]):
        self.rows = rows
        self.tool_rows = {row["name"]: row for row in tool_rows}
        self.ids = ids
        self.documents: dict[tuple[str, date], int] = {}
        self.unfinished: dict[str, int] = {}
        self.references = 0

    def tell(self, session: Session, told: DayTold) -> None:
        """Tell a day: what came, what was done, what was billed, and what was paid."""
        self._records(session, told)
        for delivery in told.deliveries:
            self._delivery(session, delivery, told.day)
        for spent in told.spent:
            self._spent(session, spent, told.day)
        for stop in told.stops:
            self._stop(session, stop, told.day)
        if told.stops:
            billing.close_day(session, told.day, today=told.day)
        for helper in {stop.helper for stop in told.stops if stop.helper}:
            books.come_along(session, told.day, self.ids["farrier", helper], today=told.day)
        self._evening(session, told)
        if told.bills:
            self._bills(session, told.bills, told.day)
        for paid in told.paid:
            self._paid(session, paid, told.day)
        for client, billed in told.given_up:
            document_id = self.documents.get((client, billed))
            if document_id is not None:
                billing.credit(session, document_id, today=told.day, reason="Never paid.")

    def plan(self, session: Session, told: DayTold, today: date) -> None:
        """Book the stops of a day still to come."""
        for stop in told.stops:
            works = [work for work in stop.works if not work.finishes and not work.extra]
            if works:
                visits.plan_stop(session, self._booked(stop, works, told.day), today=today)

    def _records(self, session: Session, told: DayTold) -> None:
        for yard in told.yards:
            if ("yard", yard.name) not in self.ids:
                place = YardDetails(
                    name=yard.name, address=yard.address, gate_note=yard.gate_note,
                    ground=yard.ground, miles=yard.miles, call_out=yard.call_out,
                )  # fmt: skip
                self.ids["yard", yard.name] = clients.save_yard(session, place)
        for client in told.clients:
            if ("client", client.name) not in self.ids:
                person = ClientDetails(
                    name=client.name, phone=client.phone, sort=client.sort,
                    bill_when=client.bill_when, bill_how=client.bill_how,
                )  # fmt: skip
                self.ids["client", client.name] = clients.save_client(session, person)
                self._agreed(session, client.name, told.day)
        for horse in told.came:
            if ("horse", horse.name) in self.ids:
                continue
            details = HorseDetails(
                name=horse.name,
                type_id=self.ids["kind", horse.kind],
                yard_id=self.ids["yard", horse.yard],
                cycle_days=horse.cycle,
            )
            made = clients.save_horse(session, details)
            self.ids["horse", horse.name] = made
            parts = [(self.ids["client", name], part) for name, part in horse.payers]
            clients.set_payers(session, made, told.day, parts)
            if horse.flag is not None:
                flag, note = horse.flag
                clients.flag(session, made, flag, note or None, told.day)
        for name, state in told.left:
            clients.set_life(session, self.ids["horse", name], told.day, state)

    def _agreed(self, session: Session, client: str, day: date) -> None:
        for row in self.rows["agreed"]:
            if row["client"] == client:
                service = self.ids["service", row["service"]]
                pricing.agree_price(
                    session, self.ids["client", client], service, day, row["amount"]
                )

    def _delivery(self, session: Session, told: DeliveryTold, day: date) -> None:
        place = self.ids["place", told.place]
        lines = tuple(
            BillLine(
                sort="stock", item_id=self.ids["item", key], place_id=place, qty=qty, amount=amount
            )
            for key, qty, amount in told.lines
        )
        self._bought(session, told.supplier, lines, "card", day)

    def _spent(self, session: Session, told: SpentTold, day: date) -> None:
        line = BillLine(sort="expense", what=told.what, amount=told.amount)
        self._bought(session, told.supplier, (line,), told.paid_by, day)

    def _bought(
        self,
        session: Session,
        supplier: str,
        lines: tuple[BillLine, ...],
        paid_by: str,
        day: date,
    ) -> None:
        self.references += 1
        bill = SupplierBillNew(
            supplier_id=self.ids["supplier", supplier],
            day=day,
            reference=f"{supplier[0]}{day:%y}-{self.references:04d}",
            total=sum(line.amount for line in lines),
            paid_by=paid_by,
            lines=lines,
        )
        books.record_bill(session, bill)

    def _stop(self, session: Session, told: StopTold, day: date) -> None:
        before = day - timedelta(days=1)
        parts = {
            "finish": [work for work in told.works if work.finishes],
            "booked": [work for work in told.works if not work.finishes and not work.extra],
            "extra": [work for work in told.works if work.extra],
        }
        visit_id, along = 0, self._along(told, day)
        for finished in parts["finish"]:
            work_id = self.unfinished.pop(finished.horse)
            visit_id = visits.plan_finish(session, work_id, day, today=before)
        if parts["finish"]:
            visits.say(session, visit_id, [*self._facts(parts["finish"], day), *along])
            along = ()
        for name, today in (("booked", before), ("extra", day)):
            works = parts[name]
            if works:
                stop = self._booked(told, works, day)
                facts = [*self._facts(works, day), *along]
                visit_id = visits.plan_stop(session, stop, today=today, told=facts)
                along = ()
        self._begun(session, told, visit_id)

    def _booked(self, told: StopTold, works: Sequence[WorkTold], day: date) -> visits.NewStop:
        services = {
            self.ids["horse", work.horse]: self.ids["service", work.service] for work in works
        }
        return visits.NewStop(
            farrier_id=self.ids["farrier", told.farrier],
            yard_id=self.ids["yard", told.yard],
            day=day,
            horses=tuple(services),
            services=services,
        )

    def _begun(self, session: Session, told: StopTold, visit_id: int) -> None:
        """Keep the works that were done in part, to be finished."""
        begun = {self.ids["horse", w.horse]: w.horse for w in told.works if w.outcome == "part"}
        if begun:
            for row in queries.works_of(session, visit_id):
                if row.horse_id in begun:
                    self.unfinished[begun[row.horse_id]] = row.id

    def _along(self, told: StopTold, day: date) -> tuple[Said, ...]:
        """Say who came along, if anybody did; once a stop."""
        if told.helper is None:
            return ()
        data = {"farrier": self.ids["farrier", told.helper]}
        key = f"demo|{day}|{told.yard}|along"
        return (Said(id=key, subject="", sort=FactSort.ALONG, data=data),)

    def _facts(self, works: Sequence[WorkTold], day: date) -> list[Said]:
        return [fact for work in works for fact in self._said(work, day)]

    def _said(self, work: WorkTold, day: date) -> list[Said]:
        subject = str(self.ids["horse", work.horse])
        key = f"demo|{day}|{subject}"
        if work.outcome == "absent":
            return [Said(id=key, subject=subject, sort=FactSort.ABSENT)]
        if any(foot.done.shod for foot in work.feet.values()):
            feet = {foot.value: self._foot(done) for foot, done in work.feet.items()}
            done = Said(id=key, subject=subject, sort=FactSort.FEET, data={"feet": feet})
        else:
            done = Said(id=key, subject=subject, sort=FactSort.AS_PLANNED)
        if work.minutes is None:
            return [done]
        took = {"minutes": work.minutes}
        said = Said(id=f"{key}|minutes", subject=subject, sort=FactSort.MINUTES, data=took)
        return [done, said]

    def _foot(self, told: FootTold) -> dict[str, Any]:
        state = FootState(
            planned=told.done,
            done=told.done,
            shoe=self._item(told.shoe),
            nail=self._item(told.nail),
            nails=told.nails,
            pad=self._item(told.pad),
            lost=told.lost,
        )
        return foot_facts(state)

    def _item(self, key: str | None) -> int | None:
        return None if key is None else self.ids["item", key]

    def _evening(self, session: Session, told: DayTold) -> None:
        if told.tools:
            entry_id = daybook.record(session, "tool", told.day)
            for one in told.tools:
                self._tool(session, one, entry_id, told.day)
        if told.counted:
            entry_id = daybook.record(session, "count", told.day)
            for place, key, found in told.counted:
                item, here = self.ids["item", key], self.ids["place", place]
                stock.count(session, entry_id, item, here, found, told.day)

    def _tool(self, session: Session, told: ToolTold, entry_id: int, day: date) -> None:
        key = ("tool", f"{told.tool} of {told.place}")
        if told.what != "replaced":
            tools.record_event(session, entry_id, self.ids[key], told.what, cost=told.cost)
            return
        tools.record_event(session, entry_id, self.ids[key], "put_away")
        self.new_tool(session, self.tool_rows[told.tool], told.place, day)

    def new_tool(self, session: Session, row: Plan, place: str, day: date) -> int:
        """Put a new tool on a truck, in place of the last one of its name there."""
        details = ToolDetails(place_id=self.ids["place", place], bought=day, **row)
        made = tools.save_tool(session, details)
        self.ids["tool", f"{row['name']} of {place}"] = made
        return made

    def _bills(self, session: Session, names: Sequence[str], day: date) -> None:
        wanted = {self.ids["client", name]: name for name in names}
        ready = [
            bill
            for bill in bills.ready_bills(session, includes_tax=False)
            if bill.client_id in wanted and bill.totals.payable > 0
        ]
        if not ready:
            return
        new = [
            billing.NewBill(
                client_id=bill.client_id or 0, expected=bill.totals.payable, first_no=FIRST_BILL
            )
            for bill in ready
        ]
        for bill, document_id in zip(new, billing.issue_all(session, new, today=day), strict=True):
            billing.hand_over(session, document_id, today=day)
            self.documents[wanted[bill.client_id], day] = document_id

    def _paid(self, session: Session, told: PaidTold, day: date) -> None:
        document_id = self.documents.get((told.client, told.billed))
        client_id = self.ids["client", told.client]
        still = dict(bills.open_amounts(session, client_id)).get(document_id or 0, 0)
        amount = still * told.part // 1_000
        if amount:
            payment = billing.NewPayment(
                client_id=client_id,
                amount=amount,
                tip=told.tip,
                method=told.method,
                day=day,
                document_id=document_id,
            )
            billing.record_payment(session, payment)
