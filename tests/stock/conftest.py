"""A truck, a shop, shoes and nails to try stock on."""

from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import date

import pytest

from backoffice.daybook import service as daybook
from backoffice.db import Database, Session
from backoffice.practice.models import Place
from backoffice.stock import checks, service
from backoffice.stock.rules import Draw, ItemDetails
from backoffice.stock.service import Arrival, Drawn
from tests.conftest import TODAY


@dataclass(frozen=True)
class Room:
    """A stock room on one of the databases, checked after everything that is done in it."""

    database: Database
    truck: int
    shop: int
    shoe: int
    nail: int

    @contextmanager
    def entering(self, sort: str = "delivery", day: date = TODAY) -> Iterator[tuple[Session, int]]:
        with self.database.writing() as unit:
            yield unit.session, daybook.record(unit.session, sort, day)
        with self.database.reading() as session:
            assert list(checks.check(session)) == []

    def receive(self, item: int, place: int, qty: int, cost: int) -> int:
        with self.entering() as (session, entry):
            arrival = Arrival(item_id=item, place_id=place, qty=qty, cost=cost)
            return service.receive(session, entry, [arrival])[0]

    def count(self, item: int, place: int, found: int) -> service.Counted:
        with self.entering("count") as (session, entry):
            return service.count(session, entry, item, place, found, TODAY)

    def draw(self, *draws: Draw, waste_ppm: int = 0) -> tuple[Drawn, ...]:
        with self.entering("closing") as (session, entry):
            return service.draw(session, entry, draws, waste_ppm=waste_ppm)

    def undo(self, *use_ids: int) -> None:
        with self.entering("correction") as (session, entry):
            service.undo(session, entry, use_ids)

    def transfer(self, item: int, here: int, there: int, qty: int) -> None:
        with self.entering("transfer") as (session, entry):
            service.transfer(session, entry, item, here, there, qty)


@pytest.fixture
def room(both: Database) -> Room:
    """A truck and the shop, nothing counted yet."""
    with both.writing() as unit:
        session = unit.session
        places = [
            Place(name="Truck A", sort="truck", hidden=False),
            Place(name="Shop", sort="shop", hidden=False),
        ]
        session.add_all(places)
        session.flush()
        shoe = ItemDetails(sort="shoe", name="Plain front", size_text="0", pattern="front", pack=20)
        nail = ItemDetails(sort="nail", name="Slim nail", size_text="5", pack=250)
        return Room(
            both,
            places[0].id,
            places[1].id,
            service.save_item(session, shoe),
            service.save_item(session, nail),
        )
