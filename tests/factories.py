"""A small practice for tests: one truck, a few services and items, yards, horses and payers."""

from dataclasses import dataclass
from datetime import date

from sqlalchemy.orm import Session

from backoffice.clients import service as clients
from backoffice.clients.rules import ClientDetails, HorseDetails, HorseTypeDetails, YardDetails
from backoffice.daybook import service as daybook
from backoffice.practice import service as practice
from backoffice.practice.rules import FarrierDetails, PlaceDetails, PracticeDetails
from backoffice.pricing import service as pricing
from backoffice.pricing.rules import ServiceDetails
from backoffice.stock import service as stock
from backoffice.stock.rules import ItemDetails
from backoffice.tools import service as tools
from backoffice.tools.rules import ToolDetails
from backoffice.units import Foot, FootWork
from backoffice.visits import service as visits
from backoffice.visits.rules import FactSort, FootState, Said

OPENED = date(2026, 1, 5)


@dataclass(frozen=True, slots=True, kw_only=True)
class Small:
    """The numbers of the records of a small practice."""

    truck: int
    shop: int
    farrier: int
    yard: int
    stock_horse: int
    draft: int
    trim: int
    fronts: int
    fronts_reset: int
    full: int
    shoe: int
    nail: int
    knife: int
    rasp: int
    stand: int
    owner: int
    other: int
    bay: int
    shared: int
    stray: int


def small_practice(session: Session, *, words: str = "us", includes_tax: bool = False) -> Small:
    """Set up a practice: shoes at 5.50 each from one delivery, nails at 0.10, prices as below."""
    uk = words == "uk"
    practice.save_practice(
        session,
        PracticeDetails(
            name="Marlpit Forge",
            address="Marlpit Lane 1\nAverdale",
            how_to_pay="Cash on the day",
            words=words,
            country="GB" if uk else "US",
            currency="GBP" if uk else "USD",
            paper="a4" if uk else "us-letter",
            prices_include_tax=includes_tax,
        ),
    )
    truck = practice.save_place(session, PlaceDetails(name="Truck A"))
    shop = practice.save_place(session, PlaceDetails(name="Shop", sort="shop"))
    farrier = practice.save_farrier(session, FarrierDetails(name="Idris Thorn", place_id=truck))
    stock_horse = clients.save_horse_type(session, HorseTypeDetails(name="Stock horse"))
    draft = clients.save_horse_type(
        session,
        HorseTypeDetails(name="Draft", wear_factor=3_000, time_factor=2_100, nails=8),
    )

    def service(name: str, front: str, hind: str, minutes: int, amount: int) -> int:
        made = pricing.save_service(
            session, ServiceDetails(name=name, front=front, hind=hind, minutes=minutes)
        )
        pricing.set_price(session, made, None, OPENED, amount)
        return made

    trim = service("Trim", "trim", "trim", 20, 5_800)
    fronts = service("Fronts + trim hinds", "new", "trim", 55, 12_000)
    fronts_reset = service("Fronts reset + trim hinds", "reset", "trim", 48, 11_200)
    full = service("Full set", "new", "new", 85, 17_500)
    shoe = stock.save_item(session, ItemDetails(sort="shoe", name="Shoe", size_text="1", pack=2))
    nail = stock.save_item(session, ItemDetails(sort="nail", name="Nail", size_text="5", pack=250))
    entry_id = daybook.record(session, "count", OPENED)
    for item in (shoe, nail):
        stock.count(session, entry_id, item, truck, 0, OPENED)
    entry_id = daybook.record(session, "delivery", OPENED)
    stock.receive(
        session,
        entry_id,
        [
            stock.Arrival(item_id=shoe, place_id=truck, qty=20, cost=11_000),
            stock.Arrival(item_id=nail, place_id=truck, qty=250, cost=2_500),
        ],
    )
    knife = tools.save_tool(
        session,
        ToolDetails(
            sort="knife", name="Knife", place_id=truck, share=1_000,
            price=6_000, life=1_200_000, edge=15_000, edge_cost=150,
        ),
    )  # fmt: skip
    rasp = tools.save_tool(
        session,
        ToolDetails(
            sort="rasp", name="Rasp", place_id=truck, share=1_000, price=2_400, life=34_000
        ),
    )
    stand = tools.save_tool(
        session,
        ToolDetails(sort="stand", name="Stand", place_id=truck, share=1_000, look_days=30),
    )
    yard = clients.save_yard(session, YardDetails(name="Larkmoss", miles=10, call_out=1_000))
    owner = clients.save_client(session, ClientDetails(name="Wenna Harrow", address="Alder Row"))
    other = clients.save_client(session, ClientDetails(name="Corbin Ash"))

    def horse(name: str, *payers: tuple[int, int]) -> int:
        made = clients.save_horse(
            session, HorseDetails(name=name, type_id=stock_horse, yard_id=yard)
        )
        if payers:
            clients.set_payers(session, made, OPENED, payers)
        return made

    return Small(
        truck=truck, shop=shop, farrier=farrier, yard=yard, stock_horse=stock_horse, draft=draft,
        trim=trim, fronts=fronts, fronts_reset=fronts_reset, full=full, shoe=shoe, nail=nail,
        knife=knife, rasp=rasp, stand=stand, owner=owner, other=other,
        bay=horse("Bramble", (owner, 1)),
        shared=horse("Tolliver", (owner, 1), (other, 1)),
        stray=horse("Stray"),
    )  # fmt: skip


def new_shoe(small: Small, nails: int = 6) -> FootState:
    """A foot with a new shoe of the small practice on it."""
    return FootState(
        planned=FootWork.NEW, done=FootWork.NEW, shoe=small.shoe, nail=small.nail, nails=nails
    )


def fronts_on(small: Small, nails: int = 6) -> dict[Foot, FootState]:
    """New fronts, trimmed hinds."""
    trimmed = FootState(planned=FootWork.TRIM, done=FootWork.TRIM)
    shod = new_shoe(small, nails)
    return {Foot.LF: shod, Foot.RF: shod, Foot.LH: trimmed, Foot.RH: trimmed}


def plan(session: Session, small: Small, day: date, *horses: int, service: int) -> int:
    """Put horses on a day, all for one service, on the evening before."""
    return visits.plan_stop(
        session,
        visits.NewStop(
            farrier_id=small.farrier,
            yard_id=small.yard,
            day=day,
            horses=horses,
            services=dict.fromkeys(horses, service),
        ),
        today=date.fromordinal(day.toordinal() - 1),
    )


def feet_said(horse: int, feet: dict[Foot, FootState], fact_id: str = "") -> Said:
    """The fact that says what was done to which feet of a horse."""
    from backoffice.visits import rules

    return Said(
        id=fact_id or f"feet-{horse}",
        subject=str(horse),
        sort=FactSort.FEET,
        data={"feet": {foot.value: rules.foot_facts(state) for foot, state in feet.items()}},
    )


def said(horse: int, sort: FactSort, fact_id: str = "", **data: object) -> Said:
    """Any other fact about a horse."""
    return Said(id=fact_id or f"{sort}-{horse}", subject=str(horse), sort=sort, data=data)
