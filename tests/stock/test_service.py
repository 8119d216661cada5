"""Stock on both databases: each use case, each refusal, and how many statements it takes."""

from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from contextlib import contextmanager
from dataclasses import replace

import pytest
import sqlalchemy as sa

from backoffice.daybook import service as daybook
from backoffice.daybook.models import Change
from backoffice.db import Database
from backoffice.errors import Refused
from backoffice.stock import checks, queries, service
from backoffice.stock.models import Item, Lot, LotLeft, OnHand, Shelf, ShortUse, StockMove, StockUse
from backoffice.stock.rules import Draw, ItemDetails
from backoffice.stock.service import Arrival
from tests.conftest import TODAY
from tests.stock.conftest import Room

SIX_IN_A_HUNDRED = 60_000


def moves_of(room: Room, use_id: int) -> list[tuple[str, int | None, int, int]]:
    with room.database.reading() as session:
        rows = session.execute(
            sa.select(StockMove.sort, StockMove.lot_id, StockMove.qty, StockMove.cost)
            .where(StockMove.use_id == use_id)
            .order_by(StockMove.id)
        )
        return [tuple(row) for row in rows]


def left_of(room: Room, item: int) -> dict[tuple[int, int], tuple[int, int]]:
    with room.database.reading() as session:
        rows = session.scalars(sa.select(LotLeft).where(LotLeft.item_id == item, LotLeft.qty > 0))
        return {(row.lot_id, row.place_id): (row.qty, row.cost) for row in rows}


def hand_of(room: Room, item: int, place: int) -> OnHand:
    with room.database.reading() as session:
        hand = session.get_one(OnHand, (item, place))
        session.expunge(hand)
        return hand


def owed(room: Room) -> dict[int, tuple[int, int]]:
    with room.database.reading() as session:
        return {row.use_id: (row.qty, row.cost) for row in session.scalars(sa.select(ShortUse))}


def cost_now(room: Room, use_id: int) -> int:
    return -sum(cost for _, _, _, cost in moves_of(room, use_id))


@contextmanager
def counted(database: Database) -> Iterator[list[str]]:
    """Collect the statements that are sent to the database."""
    statements: list[str] = []

    def note(_c: object, _cursor: object, statement: str, *_more: object) -> None:
        statements.append(statement)

    sa.event.listen(database.writer, "before_cursor_execute", note)
    yield statements
    sa.event.remove(database.writer, "before_cursor_execute", note)


def test_shoes_are_drawn_from_the_oldest_delivery_at_its_cost(room: Room) -> None:
    room.count(room.shoe, room.truck, 0)
    first = room.receive(room.shoe, room.truck, 3, 1000)
    second = room.receive(room.shoe, room.truck, 20, 9000)
    one, two = room.draw(Draw(room.shoe, room.truck, 2), Draw(room.shoe, room.truck, 2))

    assert (one.draw_no, one.qty, one.cost, one.short, one.waste) == (0, 2, 667, 0, False)
    assert (two.draw_no, two.qty, two.cost) == (1, 2, 333 + 450)
    assert left_of(room, room.shoe) == {(second, room.truck): (19, 8550)}
    assert moves_of(room, two.use_id) == [
        ("draw", first, -1, -333),
        ("draw", second, -1, -450),
    ]


def test_more_than_the_books_hold_is_drawn_beyond_stock_and_trued_up_by_the_next_delivery(
    room: Room,
) -> None:
    room.count(room.shoe, room.truck, 0)
    room.receive(room.shoe, room.truck, 2, 900)
    (drawn,) = room.draw(Draw(room.shoe, room.truck, 5))

    assert (drawn.cost, drawn.short, drawn.assumed) == (900 + 1350, 3, 1350)
    assert owed(room) == {drawn.use_id: (3, 1350)}
    assert hand_of(room, room.shoe, room.truck).qty == -3

    lot = room.receive(room.shoe, room.truck, 20, 10_000)

    assert owed(room) == {}
    assert cost_now(room, drawn.use_id) == 900 + 1500
    assert left_of(room, room.shoe) == {(lot, room.truck): (17, 8500)}
    assert hand_of(room, room.shoe, room.truck).qty == 17


def test_a_true_up_is_dated_by_the_delivery(room: Room) -> None:
    room.count(room.shoe, room.truck, 0)
    (drawn,) = room.draw(Draw(room.shoe, room.truck, 1))
    room.receive(room.shoe, room.truck, 2, 900)
    with room.database.reading() as session:
        entries = session.execute(
            sa.select(StockMove.sort, StockMove.entry_id, Lot.entry_id)
            .join(Lot, Lot.id == StockMove.lot_id)
            .where(StockMove.use_id == drawn.use_id)
        ).all()

    assert [tuple(row) for row in entries] == [("true_up", entries[0][1], entries[0][1])]


def test_a_delivery_smaller_than_what_is_owed_covers_the_oldest_use(room: Room) -> None:
    room.count(room.shoe, room.truck, 0)
    one, two = room.draw(Draw(room.shoe, room.truck, 3), Draw(room.shoe, room.truck, 3))
    room.receive(room.shoe, room.truck, 4, 2000)

    assert owed(room) == {two.use_id: (2, 0)}
    assert (cost_now(room, one.use_id), cost_now(room, two.use_id)) == (1500, 500)
    assert hand_of(room, room.shoe, room.truck).qty == -2


def test_only_what_arrives_at_that_place_covers_a_shortage(room: Room) -> None:
    room.count(room.shoe, room.truck, 0)
    (drawn,) = room.draw(Draw(room.shoe, room.truck, 1))
    room.receive(room.shoe, room.shop, 20, 10_000)
    assert list(owed(room)) == [drawn.use_id]

    room.transfer(room.shoe, room.shop, room.truck, 4)

    assert owed(room) == {}
    assert cost_now(room, drawn.use_id) == 500
    assert hand_of(room, room.shoe, room.truck).qty == 3
    assert hand_of(room, room.shoe, room.shop).qty == 16


def test_a_shelf_never_counted_makes_no_shortage_and_its_first_delivery_stays_whole(
    room: Room,
) -> None:
    (drawn,) = room.draw(Draw(room.shoe, room.truck, 6))
    lot = room.receive(room.shoe, room.truck, 20, 10_000)

    assert (drawn.cost, drawn.short) == (0, 6)
    assert owed(room) == {}
    assert left_of(room, room.shoe) == {(lot, room.truck): (20, 10_000)}


def test_the_first_count_opens_a_shelf_at_what_was_found(room: Room) -> None:
    room.receive(room.shoe, room.truck, 20, 10_000)
    room.draw(Draw(room.shoe, room.truck, 26))

    assert room.count(room.shoe, room.truck, 9) == service.Counted(
        found=9, more=9, less=0, first=True, unpriced=False
    )
    assert hand_of(room, room.shoe, room.truck).qty == 9
    assert owed(room) == {}
    assert list(left_of(room, room.shoe).values()) == [(9, 4500)]


def test_the_first_count_of_what_was_never_bought_has_no_cost_yet_and_says_so(room: Room) -> None:
    found = room.count(room.shoe, room.truck, 9)

    assert (found.first, found.unpriced) == (True, True)
    assert list(left_of(room, room.shoe).values()) == [(9, 0)]


def test_a_first_count_below_the_deliveries_is_a_loss(room: Room) -> None:
    lot = room.receive(room.shoe, room.truck, 20, 10_000)

    assert room.count(room.shoe, room.truck, 18).less == 2
    assert left_of(room, room.shoe) == {(lot, room.truck): (18, 9000)}


def test_fewer_than_the_books_hold_is_a_loss_and_more_is_a_find_at_the_last_known_cost(
    room: Room,
) -> None:
    room.count(room.shoe, room.truck, 0)
    lot = room.receive(room.shoe, room.truck, 10, 505)

    assert room.count(room.shoe, room.truck, 7).less == 3
    assert left_of(room, room.shoe) == {(lot, room.truck): (7, 353)}
    with room.database.reading() as session:
        loss = session.scalars(sa.select(StockUse)).one()
        assert (loss.why, loss.qty) == ("loss", 3)

    assert room.count(room.shoe, room.truck, 10).more == 3
    assert sorted(left_of(room, room.shoe).values()) == [(3, 152), (7, 353)]


def test_a_count_of_what_the_books_say_changes_nothing_but_the_day(room: Room) -> None:
    room.count(room.shoe, room.truck, 0)
    room.receive(room.shoe, room.truck, 10, 505)
    found = room.count(room.shoe, room.truck, 10)

    assert (found.more, found.less, found.first, found.unpriced) == (0, 0, False, False)
    with room.database.reading() as session:
        shelf = session.scalars(sa.select(Shelf)).one()
        assert (shelf.counted_since, shelf.counted_entry_id) == (TODAY, 3)


def test_what_a_count_finds_covers_what_was_taken_beyond_stock(room: Room) -> None:
    room.count(room.shoe, room.truck, 0)
    room.receive(room.shoe, room.truck, 2, 900)
    (drawn,) = room.draw(Draw(room.shoe, room.truck, 5))

    assert room.count(room.shoe, room.truck, 4).more == 7
    assert owed(room) == {}
    assert hand_of(room, room.shoe, room.truck).qty == 4
    assert cost_now(room, drawn.use_id) == 900 + 1350


def test_bent_nails_are_booked_with_the_horse_at_which_they_make_a_whole_one(room: Room) -> None:
    room.count(room.nail, room.truck, 0)
    room.receive(room.nail, room.truck, 250, 2500)
    drawn = room.draw(
        *[Draw(room.nail, room.truck, 12) for _ in range(3)], waste_ppm=SIX_IN_A_HUNDRED
    )

    assert [(one.draw_no, one.qty, one.cost, one.waste) for one in drawn] == [
        (0, 12, 120, False),
        (1, 12, 120, False),
        (1, 1, 10, True),
        (2, 12, 120, False),
        (2, 1, 10, True),
    ]
    hand = hand_of(room, room.nail, room.truck)
    assert (hand.qty, hand.used, hand.wasted) == (212, 36, 2)


def test_a_count_begins_the_reckoning_of_waste_anew(room: Room) -> None:
    room.count(room.nail, room.truck, 250)
    room.draw(Draw(room.nail, room.truck, 16), waste_ppm=SIX_IN_A_HUNDRED)
    room.count(room.nail, room.truck, 230)
    drawn = room.draw(Draw(room.nail, room.truck, 16), waste_ppm=SIX_IN_A_HUNDRED)

    assert [one.waste for one in drawn] == [False]
    hand = hand_of(room, room.nail, room.truck)
    assert (hand.qty, hand.used, hand.wasted) == (214, 16, 0)


def test_shoes_are_never_wasted(room: Room) -> None:
    drawn = room.draw(Draw(room.shoe, room.truck, 100), waste_ppm=SIX_IN_A_HUNDRED)

    assert [one.qty for one in drawn] == [100]


def test_taking_back_returns_the_same_cents_to_the_same_delivery(room: Room) -> None:
    room.count(room.nail, room.truck, 0)
    lot = room.receive(room.nail, room.truck, 7, 1000)
    drawn = room.draw(
        Draw(room.nail, room.truck, 2), Draw(room.nail, room.truck, 3), waste_ppm=500_000
    )
    room.undo(*(one.use_id for one in drawn if one.draw_no == 1))

    # 1,000 for 7: 286 for 2, one bent 143 of 714 for 5; the other draw is back with its bent nail
    assert left_of(room, room.nail) == {(lot, room.truck): (4, 571)}
    hand = hand_of(room, room.nail, room.truck)
    assert (hand.qty, hand.used, hand.wasted) == (4, 2, 1)
    assert [cost_now(room, one.use_id) for one in drawn] == [286, 143, 0, 0]


def test_taking_back_forgets_what_was_owed_and_gives_back_what_was_trued_up(room: Room) -> None:
    room.count(room.shoe, room.truck, 0)
    one, two = room.draw(Draw(room.shoe, room.truck, 3), Draw(room.shoe, room.truck, 3))
    lot = room.receive(room.shoe, room.truck, 4, 2000)
    room.undo(one.use_id)

    # the three that come back cover the two still owed; one is left on the shelf
    assert owed(room) == {}
    assert (cost_now(room, one.use_id), cost_now(room, two.use_id)) == (0, 1500)
    assert left_of(room, room.shoe) == {(lot, room.truck): (1, 500)}

    room.undo(two.use_id)

    assert left_of(room, room.shoe) == {(lot, room.truck): (4, 2000)}


def test_two_uses_taken_back_together_do_not_cover_each_other(room: Room) -> None:
    room.count(room.shoe, room.truck, 0)
    one, two = room.draw(Draw(room.shoe, room.truck, 3), Draw(room.shoe, room.truck, 3))
    lot = room.receive(room.shoe, room.truck, 4, 2000)
    room.undo(one.use_id, two.use_id)

    assert left_of(room, room.shoe) == {(lot, room.truck): (4, 2000)}
    assert moves_of(room, two.use_id)[-1] == ("undo", lot, 1, 500)


def test_what_was_used_before_the_first_count_can_still_be_taken_back(room: Room) -> None:
    (drawn,) = room.draw(Draw(room.shoe, room.truck, 4))
    room.count(room.shoe, room.truck, 10)
    room.undo(drawn.use_id)

    assert hand_of(room, room.shoe, room.truck).qty == 14
    assert sorted(left_of(room, room.shoe).values()) == [(4, 0), (10, 0)]


def test_a_use_is_taken_back_at_most_once(room: Room) -> None:
    (drawn,) = room.draw(Draw(room.shoe, room.truck, 4))
    room.undo(drawn.use_id)
    with pytest.raises(Refused) as refused:
        room.undo(drawn.use_id)
    assert refused.value.code == "stock.already_undone"

    (again,) = room.draw(Draw(room.shoe, room.truck, 4))
    with pytest.raises(Refused) as refused:
        room.undo(again.use_id, again.use_id)
    assert refused.value.code == "stock.already_undone"


def test_what_is_no_use_or_takes_one_back_cannot_be_taken_back(room: Room) -> None:
    (drawn,) = room.draw(Draw(room.shoe, room.truck, 4))
    room.undo(drawn.use_id)
    for number in (drawn.use_id + 1, 999):
        with pytest.raises(Refused) as refused:
            room.undo(number)
        assert refused.value.code == "record.missing"


def test_carrying_keeps_the_cents_with_the_shoes(room: Room) -> None:
    first = room.receive(room.shoe, room.shop, 3, 1000)
    second = room.receive(room.shoe, room.shop, 20, 9000)
    room.transfer(room.shoe, room.shop, room.truck, 4)
    room.transfer(room.shoe, room.truck, room.shop, 2)

    assert left_of(room, room.shoe) == {
        (first, room.shop): (2, 667),
        (first, room.truck): (1, 333),
        (second, room.shop): (19, 8550),
        (second, room.truck): (1, 450),
    }


def test_more_than_the_books_hold_is_not_carried(room: Room) -> None:
    room.receive(room.shoe, room.shop, 3, 1000)
    with pytest.raises(Refused) as refused:
        room.transfer(room.shoe, room.shop, room.truck, 4)

    assert (refused.value.code, refused.value.field) == ("stock.not_so_many", "qty")
    assert refused.value.facts == {"have": 3}


def test_nothing_is_carried_from_a_place_to_itself(room: Room) -> None:
    with pytest.raises(Refused) as refused:
        room.transfer(room.shoe, room.shop, room.shop, 1)
    assert refused.value.code == "stock.same_place"


@pytest.mark.parametrize(
    ("qty", "cost", "code"),
    [
        (0, 100, "count.too_small"),
        (-1, 100, "count.negative"),
        (10_000_000, 100, "count.too_large"),
        (1, -1, "money.negative"),
        (1, 10**12, "money.too_large"),
    ],
)
def test_a_delivery_that_cannot_be_meant_is_refused(
    room: Room, qty: int, cost: int, code: str
) -> None:
    with pytest.raises(Refused) as refused:
        room.receive(room.shoe, room.truck, qty, cost)
    assert refused.value.code == code


def test_nothing_is_carried_that_is_nothing(room: Room) -> None:
    with pytest.raises(Refused) as refused:
        room.transfer(room.shoe, room.shop, room.truck, 0)
    assert refused.value.code == "count.too_small"


def test_less_than_nothing_is_never_counted(room: Room) -> None:
    with pytest.raises(Refused) as refused:
        room.count(room.shoe, room.truck, -1)
    assert (refused.value.code, refused.value.field) == ("count.negative", "found")


def test_the_database_keeps_a_use_of_nothing_out(room: Room) -> None:
    with pytest.raises(sa.exc.IntegrityError):
        room.draw(Draw(room.shoe, room.truck, 0))


def test_nothing_asked_is_nothing_done(room: Room) -> None:
    with room.entering() as (session, entry):
        assert service.draw(session, entry, ()) == ()
        assert service.receive(session, entry, ()) == ()
        service.undo(session, entry, ())


def test_three_sizes_of_nought_stay_three_and_sort_before_one(room: Room) -> None:
    with room.entering() as (session, _):
        for size in ("10", "1", "00", "000"):
            service.save_item(session, ItemDetails(sort="shoe", name="Plain front", size_text=size))
    with room.database.reading() as session:
        shoes = [line.item for line in queries.shelf_list(session) if line.item.sort == "shoe"]

    assert [shoe.size_text for shoe in shoes] == ["000", "00", "0", "1", "10"]


def test_an_item_changed_meanwhile_is_not_overwritten(room: Room) -> None:
    with room.database.reading() as session:
        details = queries.item_card(session, room.shoe).details
    renamed = replace(details, name="Plain hind", pattern="hind")
    with room.entering() as (session, _):
        assert service.save_item(session, renamed, room.shoe) == room.shoe
    with pytest.raises(Refused) as refused, room.entering() as (session, _):
        service.save_item(session, replace(details, name="Other"), room.shoe)

    assert refused.value.code == "changed.meanwhile"
    with room.database.reading() as session:
        assert session.get_one(Item, room.shoe).name == "Plain hind"
        changed = session.scalars(sa.select(Change.field).where(Change.table_name == "item"))
        assert set(changed) == {"name", "pattern"}


@pytest.mark.parametrize(
    ("wrong", "code", "field"),
    [
        (ItemDetails(sort="hat", name="x"), "choice.unknown", "sort"),
        (ItemDetails(sort="shoe", name=" "), "text.needed", "name"),
        (ItemDetails(sort="shoe", name="x", pack=0), "count.too_small", "pack"),
        (ItemDetails(sort="shoe", name="x", pattern="left"), "choice.unknown", "pattern"),
    ],
)
def test_an_item_that_cannot_be_meant_is_refused(
    room: Room, wrong: ItemDetails, code: str, field: str
) -> None:
    with pytest.raises(Refused) as refused, room.entering() as (session, _):
        service.save_item(session, wrong)
    assert (refused.value.code, refused.value.field) == (code, field)


def day(room: Room, horses: int) -> list[Draw]:
    """Horses shod all round: a shoe and six nails on each foot."""
    foot = [Draw(room.shoe, room.truck, 1), Draw(room.nail, room.truck, 6)]
    return foot * 4 * horses


def test_a_day_of_eight_horses_takes_as_many_statements_as_one_horse(room: Room) -> None:
    for item in (room.shoe, room.nail):
        room.count(item, room.truck, 0)
        for _ in range(4):
            room.receive(item, room.truck, 60, 3000)
    room.draw(*day(room, 1), waste_ppm=SIX_IN_A_HUNDRED)
    taken = []
    for horses in (1, 8, 8):
        with room.entering("closing") as (session, entry), counted(room.database) as statements:
            drawn = service.draw(session, entry, day(room, horses), waste_ppm=SIX_IN_A_HUNDRED)
        taken.append(len(statements))
    with room.entering("correction") as (session, entry), counted(room.database) as undoing:
        service.undo(session, entry, [one.use_id for one in drawn])

    assert max(taken) <= (7 if room.database.is_postgres else 8)
    assert len(undoing) <= 12


def test_a_delivery_of_many_items_takes_a_fixed_number_of_statements(room: Room) -> None:
    with room.entering() as (session, _):
        items = [
            service.save_item(session, ItemDetails(sort="shoe", name="Shoe", size_text=str(size)))
            for size in range(1, 41)
        ]
    arrivals = [Arrival(item_id=i, place_id=room.truck, qty=20, cost=9000) for i in items]
    taken = []
    for some in (arrivals[:1], arrivals):
        with room.entering() as (session, entry):
            service.open_shelves(session, [(one.item_id, one.place_id) for one in some])
            with counted(room.database) as statements:
                service.receive(session, entry, some)
        taken.append(len(statements))

    assert taken[0] == taken[1] <= 8


def test_trucks_that_draw_and_receive_at_the_same_time_lose_nothing(room: Room) -> None:
    def work(number: int) -> None:
        for _ in range(6):
            with room.database.writing() as unit:
                entry = daybook.record(unit.session, "closing", TODAY)
                draws = day(room, 1)
                service.draw(unit.session, entry, draws[number:] + draws[:number])
            with room.database.writing() as unit:
                entry = daybook.record(unit.session, "delivery", TODAY)
                arrivals = [
                    Arrival(item_id=item, place_id=room.truck, qty=10, cost=999)
                    for item in (room.nail, room.shoe)
                ]
                service.receive(unit.session, entry, arrivals)

    with ThreadPoolExecutor(4) as pool:
        list(pool.map(work, range(4)))

    with room.database.reading() as session:
        assert list(checks.check(session)) == []
    assert hand_of(room, room.shoe, room.truck).qty == 4 * 6 * (10 - 4)
    assert hand_of(room, room.nail, room.truck).qty == 4 * 6 * (10 - 24)
