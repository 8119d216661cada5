"""A practice as it is after one year or after twenty: 3,000 horses a year, always the same ones.

``python -m tests.speed.growth FILE YEARS`` writes it. Five hundred horses of 150 clients at 60
yards are seen six times a year by one farrier; each year 24 clients go with their horses and others
come. After 20 years that is some 600 clients, 3,200 horses, 22,500 visits, 60,000 works and two
million rows. The past is inserted as rows, the days to come are planned as the program plans them.
"""

import sys
from collections import defaultdict, deque
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from datetime import date, timedelta
from itertools import groupby
from pathlib import Path
from random import Random

from backoffice import schema
from backoffice.clients import service as clients
from backoffice.clients.rules import search_key
from backoffice.daybook import service as daybook
from backoffice.db import Database
from backoffice.money import split
from backoffice.practice import service as practice
from backoffice.practice.rules import FarrierDetails, PlaceDetails, PracticeDetails
from backoffice.pricing import service as pricing
from backoffice.pricing.queries import services_by_id
from backoffice.stock import service as stock
from backoffice.stock.rules import ItemDetails
from backoffice.suppliers import service as suppliers
from backoffice.suppliers.queries import SupplierDetails
from backoffice.tools import service as tools
from backoffice.tools.rules import ToolDetails
from backoffice.visits import service as visits
from tests.speed.bulk import Bulk, evening
from tests.speed.purse import Owed, Purse
from tests.speed.stores import Stores

TODAY = date(2026, 3, 17)
CYCLE = 61  # days between two visits to a horse; six make a year here
CLIENTS, YARDS, HORSES, GOING = 150, 60, 500, 24
SERVICES = {"Trim": 5_800, "Fronts + trim hinds": 12_000, "Full set": 17_500}
SIZES = ("00", "0", "1", "2")
FEET = ("LF", "RF", "LH", "RH")
NAMES = (
    "Alder",
    "Bryony",
    "Cass",
    "Dunmore",
    "Elwick",
    "Fenna",
    "Garrow",
    "Hestor",
    "Ivel",
    "Jory",
)
SEED = 20_260_317


@dataclass
class Horse:
    """A horse of the herd and all that its next visit needs to know."""

    id: int
    name: str
    payers: tuple[int, ...]
    yard: int
    kind: int
    service: str
    shoe: int
    last: tuple[int, date] | None = None
    wears: dict[str, int] = field(default_factory=dict)


@dataclass(frozen=True)
class Base:
    """The numbers of what a practice has before its first visit."""

    truck: int
    farrier: int
    supplier: int
    services: dict[str, int]
    shoes: tuple[int, ...]
    nail: int


def _base(path: Path, first: date) -> Base:
    """Set a practice up the way its pages would."""
    database = Database(f"sqlite:///{path}", journal="delete")
    schema.upgrade(database)
    with database.writing(at=evening(first)) as unit:
        session = unit.session
        details = PracticeDetails(name="Garrow Forge", address="Forge Lane 1", demo_today=TODAY)
        practice.save_practice(session, details)
        truck = practice.save_place(session, PlaceDetails(name="Truck"))
        farrier = practice.save_farrier(session, FarrierDetails(name="Jory", place_id=truck))
        clients.start_types(session, "us")
        pricing.start_services(session, "us")
        supplier = suppliers.save_supplier(session, SupplierDetails(name="Ivel Counter"))
        shoes = tuple(
            stock.save_item(session, ItemDetails(sort="shoe", name="Shoe", size_text=size, pack=2))
            for size in SIZES
        )
        nail = stock.save_item(
            session, ItemDetails(sort="nail", name="Nail", size_text="5", pack=250)
        )
        for item in (*shoes, nail):
            entry_id = daybook.record(session, "count", first)
            stock.count(session, entry_id, item, truck, 0, first)
        for sort in ("knife", "rasp", "nippers", "clinchers", "hammer", "stand"):
            tools.save_tool(
                session,
                ToolDetails(
                    sort=sort, name=sort.title(), place_id=truck, share=1_000, price=6_000,
                    life=1_200_000, edge=15_000 if sort == "knife" else None, bought=first,
                ),
            )  # fmt: skip
    with database.reading() as session:
        services = {one.name: number for number, one in services_by_id(session).items()}
    database.close()
    return Base(
        truck=truck, farrier=farrier, supplier=supplier, services=services, shoes=shoes, nail=nail
    )


class Growth:
    """A practice that grows day by day."""

    def __init__(self, path: Path, base: Base, first: date) -> None:
        self.bulk, self.base, self.dice = Bulk(path), base, Random(SEED)
        self.clients: deque[int] = deque()
        self.names: dict[int, str] = {}
        self.herd: list[Horse] = []
        self.gone: list[Horse] = []
        self.born = 0
        self.stores = Stores(self.bulk, base.truck, base.supplier)
        self.purse = Purse(self.bulk, self.names)
        self.yards = [
            self.bulk.add(
                "yard", name=f"{NAMES[n % 10]} Barn {n}", address=f"Lane {n}", miles=5 + n % 20,
                call_out=1_500 if n % 2 else None, hidden=False, version=1,
            )
            for n in range(YARDS)
        ]  # fmt: skip
        for _ in range(CLIENTS):
            self._client()
        self._fill(first)

    def _client(self) -> int:
        number = len(self.names) + 1
        name = f"{NAMES[number % 10]} {NAMES[number // 10 % 10]}wick {number}"
        phone = f"555 {number:04d}"
        made = self.bulk.add(
            "client", name=name, phone=phone, address=f"Row {number}", sort="private",
            search_key=search_key(name, phone), bill_how="paper", hidden=False, version=1,
            bill_when="monthly" if number % 5 == 0 else "tonight",
        )  # fmt: skip
        self.names[made] = name
        self.clients.append(made)
        return made

    def _fill(self, day: date) -> None:
        """Let new horses come until there are as many as one farrier can do."""
        while len(self.herd) < HORSES:
            owner = self.clients[self.dice.randrange(len(self.clients))]
            payers = (owner,)
            if self.dice.random() < 0.08:
                payers += tuple({self.clients[0], self.clients[-1]} - {owner})[:1]
            kind = 5 if self.dice.random() < 0.05 else 2
            yard = self.yards[owner % YARDS]
            service = self.dice.choices(list(SERVICES), (55, 30, 15))[0]
            self.born += 1
            name = f"{NAMES[self.dice.randrange(10)]} {self.born}"
            number = self.bulk.add(
                "horse", name=name, search_key=search_key(name), type_id=kind, yard_id=yard,
                owner_id=owner, hidden=False, version=1,
            )  # fmt: skip
            set_id = self.bulk.add("payer_set", horse_id=number, from_day=day)
            for place, payer in enumerate(payers, 1):
                self.bulk.add("payer_part", set_id=set_id, client_id=payer, place_no=place, parts=1)
            if number % 10 == 0:
                self.bulk.add(
                    "horse_flag", horse_id=number, flag="kicks", note="left hind", from_day=day
                )
            shoe = self.base.shoes[self.dice.randrange(len(SIZES))]
            self.herd.append(Horse(number, name, payers, yard, kind, service, shoe))

    def turn(self, day: date, year: int) -> None:
        """Let a year begin: prices rise, the oldest clients go with their horses, others come."""
        for name, amount in SERVICES.items():
            self.bulk.add(
                "price", service_id=self.base.services[name], from_day=day,
                amount=amount + 200 * year,
            )  # fmt: skip
        if not year:
            return
        gone = {self.clients.popleft() for _ in range(GOING)}
        leaving = [horse for horse in self.herd if gone & {*horse.payers}]
        leaving += self.dice.sample(
            [horse for horse in self.herd if horse not in leaving], max(0, 105 - len(leaving))
        )
        for horse in leaving:
            self.bulk.add("horse_life", horse_id=horse.id, from_day=day, state="gone")
        self.gone += leaving
        staying = {horse.id for horse in self.herd} - {horse.id for horse in leaving}
        self.herd = [horse for horse in self.herd if horse.id in staying]
        for _ in range(GOING):
            self._client()
        self._fill(day)

    def cycle(self, first: date, year: int) -> None:
        """See every horse once, three at a stop, some stops on each working day."""
        stops: list[list[Horse]] = []
        ordered = sorted(self.herd, key=lambda horse: (horse.yard, horse.id))
        for _, standing in groupby(ordered, key=lambda horse: horse.yard):
            here = list(standing)
            stops += [here[at : at + 3] for at in range(0, len(here), 3)]
        self.dice.shuffle(stops)
        days = [day for n in range(CYCLE) if (day := first + timedelta(days=n)).weekday() < 6]
        for number, stop in enumerate(stops):
            self._stop(stop, days[number * len(days) // len(stops)], number, year)

    def _stop(self, horses: Sequence[Horse], day: date, number: int, year: int) -> None:
        add, base = self.bulk.add, self.base
        self.stores.look_after(day)
        yard, entry_id = horses[0].yard, self.bulk.entry(day, "closing")
        visit = add(
            "visit", key=f"{yard}|{day}|{base.farrier}|{number}", day=day, farrier_id=base.farrier,
            place_id=base.truck, yard_id=yard, sort="stop", ground="ordinary", place_no=1,
            drive=1_200, drive_told=False, version=1,
            closed_seq=self.bulk.last("fact") + 20,  # all that is said of these three, and paid
        )  # fmt: skip
        bills: dict[int, list[Owed]] = defaultdict(list)
        drives = split(1_200, [1] * len(horses))
        for place, (horse, drive) in enumerate(zip(horses, drives, strict=True), 1):
            price = SERVICES[horse.service] + 200 * year
            travel = 500 if yard % 2 else 0
            for owed in self._work(horse, visit, place, day, entry_id, price, travel, drive):
                bills[owed.client].append(owed)
        for client, shares in bills.items():
            if client % 5 == 0 and day > TODAY - timedelta(days=20):
                for owed in shares:
                    add(
                        "unbilled", share_id=owed.share, client_id=client, work_id=owed.work,
                        net=owed.net,
                    )  # fmt: skip
            else:
                self.purse.bill(client, visit, day, shares, last=TODAY)

    def _work(
        self, horse: Horse, visit: int, place: int, day: date, entry_id: int, price: int,
        travel: int, drive: int,
    ) -> Iterator[Owed]:  # fmt: skip
        """Write one horse up, and give who pays which share of which line."""
        add, base = self.bulk.add, self.base
        shod = {"Trim": (), "Fronts + trim hinds": FEET[:2], "Full set": FEET}[horse.service]
        service, subject = base.services[horse.service], str(horse.id)
        said = [
            ("booked", f'{{"horse": {horse.id}, "place_no": {place}, "say": {price}}}'),
            ("as_planned", "{}"),
        ]
        for counter, (sort, data) in enumerate(said):
            seq = add(
                "fact", id=f"{visit}|{sort}|{subject}", visit_id=visit, subject=subject, sort=sort,
                v=1, device="table", counter=counter, recorded_at=evening(day), data=data,
            )  # fmt: skip
        minutes = 20 + 16 * len(shod)
        work = add(
            "work", visit_id=visit, subject=subject, place_no=place, horse_id=horse.id,
            type_id=horse.kind, service_id=service, outcome="done", booked=price, travel=travel,
            minutes=minutes, minutes_told=False, closing_entry_id=entry_id, closed_seq=seq,
            pricing_no=1,
        )  # fmt: skip
        material = 0
        for foot in FEET:
            done, on = ("new", horse.shoe) if foot in shod else ("trim", None)
            nail, nails = (base.nail, 6) if on else (None, None)
            add(
                "foot", work_id=work, foot=foot, planned=done, done=done, shoe_item_id=on,
                nail_item_id=nail, nails=nails,
            )  # fmt: skip
            for item, qty in ((on, 1), (nail, nails)):
                if item is not None and qty is not None:
                    use, cost = self.stores.draw(item, qty, day, entry_id)
                    material += cost
                    add(
                        "material", work_id=work, foot=foot, item_id=item, qty=qty, waste=False,
                        use_id=use,
                    )  # fmt: skip
            if on:
                horse.wears[foot] = work
        horse.last = (work, day)
        tool = self.stores.wear(work, entry_id, shod=bool(shod))
        pricing_id = add("pricing", work_id=work, entry_id=entry_id, no=1)
        owed = [0] * len(horse.payers)
        for sort, amount, kind in (("service", price, "labour"), ("travel", travel, "travel")):
            if not amount:
                continue
            line = add(
                "price_line", pricing_id=pricing_id, sort=sort, qty=1, quoted=amount, net=amount,
                service_id=service if sort == "service" else None, waived=0, tax_kind=kind,
                category="O", rate_ppm=0, facts="{}",
                reason="price.booked" if sort == "service" else "price.travel_booked",
            )  # fmt: skip
            parts = split(amount, [1] * len(horse.payers))
            for at, (payer, part) in enumerate(zip(horse.payers, parts, strict=True)):
                share = add("price_share", line_id=line, client_id=payer, quoted=part, net=part)
                owed[at] += part
                yield Owed(
                    client=payer, share=share, net=part, sort=sort, work=work, horse=horse.name
                )
        costs = [split(whole, [1] * len(owed)) for whole in (material, drive, tool, minutes)]
        for at, (payer, net) in enumerate(zip(horse.payers, owed, strict=True)):
            mine = [parts[at] for parts in costs]
            add(
                "result", work_id=work, client_id=payer, day=day, farrier_id=base.farrier,
                yard_id=horse.yard, type_id=horse.kind, horse_id=horse.id, service_id=service,
                net=net, material=mine[0], drive=mine[1], tool=mine[2], minutes=mine[3],
                minutes_est=mine[3], drive_est=mine[1], material_est=0,
            )  # fmt: skip

    def finish(self) -> None:
        """Write down how every horse, shelf, tool and client stands at the end."""
        for horse in (*self.gone, *self.herd):
            for foot, work in horse.wears.items():
                self.bulk.add(
                    "wears", horse_id=horse.id, foot=foot, work_id=work, shoe_item_id=horse.shoe,
                    nail_item_id=self.base.nail, nails=6, resets=0,
                )  # fmt: skip
            if horse.last is None:
                continue
            work, day = horse.last
            due = day + timedelta(days=56 if horse.service == "Trim" else 42)
            self.bulk.add(
                "horse_state", horse_id=horse.id, last_work_id=work, last_day=day, due_day=due
            )
            self.bulk.add(
                "next_time", horse_id=horse.id, day=due, proposed=True,
                service_id=self.base.services[horse.service],
            )  # fmt: skip
        self.stores.finish()
        self.purse.finish()
        self.bulk.close()


def _plan(path: Path, growth: Growth) -> None:
    """Plan today and the five days after it, four stops of three horses each."""
    longest = sorted(growth.herd, key=lambda horse: (horse.last or (0, TODAY))[1])
    by_yard: dict[int, list[int]] = defaultdict(list)
    for horse in longest[:200]:
        by_yard[horse.yard].append(horse.id)
    stops = [(yard, here[:3]) for yard, here in by_yard.items() if len(here) >= 3][:24]
    database = Database(f"sqlite:///{path}", journal="delete")
    for number, (yard, horses) in enumerate(stops):
        with database.writing(at=evening(TODAY - timedelta(days=1))) as unit:
            stop = visits.NewStop(
                farrier_id=growth.base.farrier, yard_id=yard, horses=tuple(horses),
                day=TODAY + timedelta(days=number // 4), services=dict.fromkeys(horses),
            )  # fmt: skip
            visits.plan_stop(unit.session, stop, today=TODAY - timedelta(days=1))
    database.close()


def grow(path: Path, years: int) -> int:
    """Write a practice of some years into a new file; give how many rows it took."""
    first = TODAY - timedelta(days=6 * CYCLE * years)
    growth = Growth(path, _base(path, first), first)
    for number in range(6 * years):
        day = first + timedelta(days=CYCLE * number)
        if number % 6 == 0:
            growth.turn(day, number // 6)
        growth.cycle(day, number // 6)
        growth.bulk.flush()
    growth.finish()
    _plan(path, growth)
    return growth.bulk.written


if __name__ == "__main__":
    sys.stdout.write(f"{grow(Path(sys.argv[1]), int(sys.argv[2])):,} rows\n")
