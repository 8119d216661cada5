"""A shelf is begun with what was found on it and what that cost; the room checks it each time."""

import sqlalchemy as sa

from backoffice.stock import checks, service
from backoffice.stock.rules import Draw
from tests.conftest import TODAY
from tests.stock.conftest import Room


def begin(room: Room, item: int, place: int, qty: int, cost: int = 0, *, priced: bool) -> bool:
    with room.entering("count") as (session, entry):
        first = service.Arrival(item_id=item, place_id=place, qty=qty, cost=cost)
        return service.first_count(session, entry, first, TODAY, priced=priced)


def test_what_was_found_is_used_at_what_it_cost(room: Room) -> None:
    assert begin(room, room.shoe, room.truck, 12, 6_600, priced=True)

    (drawn,) = room.draw(Draw(room.shoe, room.truck, 2))

    assert (drawn.cost, drawn.short, drawn.assumed) == (1_100, 0, 0)


def test_what_nobody_knows_the_cost_of_is_counted_at_nothing(room: Room) -> None:
    assert begin(room, room.nail, room.truck, 125, priced=False)

    (drawn,) = room.draw(Draw(room.nail, room.truck, 6))

    assert (drawn.cost, drawn.short) == (0, 0)


def test_a_shelf_counted_before_stays_as_it_is(room: Room) -> None:
    room.count(room.shoe, room.truck, 3)

    assert not begin(room, room.shoe, room.truck, 12, 6_600, priced=True)
    (drawn,) = room.draw(Draw(room.shoe, room.truck, 4))
    assert drawn.short == 1


def test_an_empty_shelf_is_counted_too(room: Room) -> None:
    assert begin(room, room.shoe, room.shop, 0, priced=True)

    (drawn,) = room.draw(Draw(room.shoe, room.shop, 1))

    assert drawn.short == 1


def test_what_the_books_hold_of_a_shelf_is_not_put_on_it_twice(room: Room) -> None:
    room.receive(room.shoe, room.truck, 20, 9_000)

    assert begin(room, room.shoe, room.truck, 12, 6_600, priced=True)

    with room.database.reading() as session:
        held = session.execute(sa.text("SELECT qty FROM on_hand WHERE item_id = 1")).scalar_one()
    assert held == 12


def test_what_was_used_before_the_first_count_owes_nothing(room: Room) -> None:
    room.draw(Draw(room.shoe, room.truck, 4))

    assert begin(room, room.shoe, room.truck, 12, 6_600, priced=True)

    with room.database.reading() as session:
        assert session.execute(sa.text("SELECT count(*) FROM short_use")).scalar_one() == 0


def test_a_first_count_that_does_not_hold_is_found(room: Room) -> None:
    begin(room, room.shoe, room.truck, 12, 6_600, priced=True)
    for spoilt in (
        "UPDATE on_hand SET qty = 11",
        "UPDATE lot_left SET cost = 6500",
        "UPDATE on_hand SET last_cost = 1",
    ):
        with room.database.writing() as unit:
            unit.session.execute(sa.text(spoilt))
            assert list(checks.check(unit.session)), spoilt
            unit.session.rollback()
