"""What a shelf list and an item's card say, on both databases."""

from datetime import date

import pytest

from backoffice.errors import Refused
from backoffice.stock import queries, service
from backoffice.stock.models import MOVES
from backoffice.stock.rules import Draw, ItemDetails
from backoffice.stock.service import Arrival
from backoffice.words import Speech
from tests.conftest import TODAY
from tests.stock.conftest import Room


def test_the_shelf_list_says_what_is_where_and_what_it_cost(room: Room) -> None:
    room.count(room.shoe, room.truck, 0)
    room.receive(room.shoe, room.truck, 20, 9000)
    room.receive(room.shoe, room.shop, 10, 5000)
    room.draw(Draw(room.shoe, room.truck, 5))
    with room.database.reading() as session:
        shoe, nail = queries.shelf_list(session)

    assert (shoe.item.label, shoe.qty, shoe.value) == ("Plain front 0", 25, 11_750)
    assert shoe.places == (
        queries.OnShelf(place_id=room.truck, qty=15, value=6750, counted_since=TODAY),
        queries.OnShelf(place_id=room.shop, qty=10, value=5000, counted_since=None),
    )
    assert [place.counted for place in shoe.places] == [True, False]
    assert (nail.places, nail.qty, nail.value) == ((), 0, 0)


def test_the_shelf_list_goes_by_sort_then_size_and_leaves_out_what_is_hidden(room: Room) -> None:
    with room.entering() as (session, _):
        service.save_item(session, ItemDetails(sort="pad", name="Rim pad"))
        service.save_item(session, ItemDetails(sort="shoe", name="Plain front", size_text="00"))
        service.save_item(session, ItemDetails(sort="shoe", name="Old pattern", hidden=True))
    with room.database.reading() as session:
        labels = [line.item.label for line in queries.shelf_list(session)]
        shoes = queries.choices(session, "shoe")

    assert labels == ["Plain front 00", "Plain front 0", "Slim nail 5", "Rim pad"]
    assert [label for _, label in shoes] == ["00 · Plain front", "0 · Plain front"]


def test_the_card_of_an_item_tells_how_it_came_and_went(room: Room) -> None:
    room.count(room.nail, room.truck, 0)
    with room.entering(day=date(2026, 3, 2)) as (session, entry):
        arrival = Arrival(
            item_id=room.nail,
            place_id=room.truck,
            qty=250,
            cost=2500,
            expires=date(2028, 1, 1),
        )
        (lot,) = service.receive(session, entry, [arrival])
    (drawn, bent) = room.draw(Draw(room.nail, room.truck, 20), waste_ppm=60_000)
    room.count(room.nail, room.truck, 229)
    room.count(room.nail, room.truck, 225)
    room.transfer(room.nail, room.truck, room.shop, 25)
    room.undo(drawn.use_id)
    with room.database.reading() as session:
        card = queries.item_card(session, room.nail)

    assert (card.details.name, card.details.pack, card.details.version) == ("Slim nail", 250, 1)
    assert [(place.place_id, place.qty) for place in card.places] == [
        (room.truck, 220),
        (room.shop, 25),
    ]
    assert [
        (left.lot_id, left.place_name, left.day, left.qty, left.cost) for left in card.left
    ] == [
        (lot, "Truck A", date(2026, 3, 2), 220, 2200),
        (lot, "Shop", date(2026, 3, 2), 25, 250),
    ]
    assert card.left[0].expires == date(2028, 1, 1)
    assert [(move.what, move.place_name, move.qty, move.cost) for move in card.moves] == [
        ("undo", "Truck A", 20, 200),
        ("transfer", "Shop", 25, 250),
        ("transfer", "Truck A", -25, -250),
        ("loss", "Truck A", -4, -40),
        ("waste", "Truck A", -1, -10),
        ("work", "Truck A", -20, -200),
        ("arrive", "Truck A", 250, 2500),
    ]
    assert card.moves[4].use_id == bent.use_id
    assert card.moves[-1].day == date(2026, 3, 2)


def test_the_card_shows_the_last_fifty(room: Room) -> None:
    room.draw(*[Draw(room.shoe, room.truck, 1) for _ in range(60)])
    with room.database.reading() as session:
        moves = queries.item_card(session, room.shoe).moves

    assert len(moves) == 50
    assert moves[0].id > moves[-1].id


def test_an_item_that_is_not_there_is_refused(room: Room) -> None:
    with pytest.raises(Refused), room.database.reading() as session:
        queries.item_card(session, 999)


def test_items_are_found_by_their_numbers(room: Room) -> None:
    with room.database.reading() as session:
        found = queries.items_by_ids(session, {room.shoe, 999})

    assert {number: item.size_text for number, item in found.items()} == {room.shoe: "0"}


def test_every_move_has_its_word(room: Room) -> None:
    for what in {*MOVES, "work", "waste", "loss"} - {"draw"}:
        assert Speech().say(f"stock.move.{what}")
