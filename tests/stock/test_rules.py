"""Stock worked out by hand."""

import pytest

from backoffice.stock import rules
from backoffice.stock.rules import Draw, Left, Shelf, Short, Use
from backoffice.words import Speech


def shelf(*lots: Left, counted: bool = True, **more: object) -> Shelf:
    """A shelf of item 1 at place 1; unless told, the last arrival was 10 for 5.05."""
    told = {"last_qty": 10, "last_cost": 505, "qty": sum(left.qty for left in lots)} | more
    return Shelf(item_id=1, place_id=1, counted=counted, lots=lots, **told)  # type: ignore[arg-type]


def use(qty: int, why: str = "work", number: int = 7) -> Use:
    return Use(id=number, entry_id=1, item_id=1, place_id=1, qty=qty, why=why)


def told(moves: tuple[rules.Move, ...]) -> list[tuple[str, int | None, int, int]]:
    return [(move.sort, move.lot_id, move.qty, move.cost) for move in moves]


@pytest.mark.parametrize(
    ("cost", "left", "qty", "expected"),
    [
        (1000, 3, 1, 333),
        (667, 2, 1, 334),
        (333, 1, 1, 333),
        (5, 2, 1, 3),
        (0, 9, 4, 0),
        (7, 7, 7, 7),
    ],
)
def test_some_of_what_is_left_costs_its_share_and_the_last_takes_the_rest(
    cost: int, left: int, qty: int, expected: int
) -> None:
    assert rules.share(cost, left, qty) == expected


def test_three_shoes_of_ten_dollars_drawn_singly_lose_no_cent() -> None:
    stands, costs = shelf(Left(1, 3, 1000)), []
    for _ in range(3):
        taken = rules.take(stands, use(1))
        stands = taken.shelf
        costs.append(taken.cost)

    assert costs == [333, 334, 333]
    assert (stands.lots, stands.qty) == ((), 0)


def test_the_oldest_delivery_is_used_first() -> None:
    taken = rules.take(shelf(Left(1, 2, 300), Left(4, 10, 1600)), use(5))

    assert told(taken.moves) == [("draw", 1, -2, -300), ("draw", 4, -3, -480)]
    assert taken.shelf.lots == (Left(4, 7, 1120),)
    assert (taken.cost, taken.short, taken.assumed) == (780, 0, 0)


def test_what_the_shelf_does_not_hold_is_taken_beyond_stock_at_the_last_known_cost() -> None:
    taken = rules.take(shelf(Left(1, 2, 300)), use(5))

    # 505 for 10 makes 151.5 for 3, half up 152
    assert told(taken.moves) == [("draw", 1, -2, -300), ("draw", None, -3, -152)]
    assert taken.shelf.qty == -3
    assert taken.shelf.shorts == (Short(7, 3, 152),)
    assert (taken.cost, taken.short, taken.assumed) == (452, 3, 152)


def test_what_never_arrived_costs_nothing_yet() -> None:
    taken = rules.take(shelf(last_qty=None, last_cost=None), use(4))

    assert (taken.cost, taken.short) == (0, 4)


def test_a_shelf_never_counted_owes_nothing() -> None:
    taken = rules.take(shelf(counted=False), use(4))

    assert taken.shelf.shorts == ()
    assert (taken.shelf.qty, taken.short, taken.assumed) == (-4, 4, 202)


def test_an_arrival_first_covers_what_was_taken_beyond_stock_oldest_first() -> None:
    owing = shelf(qty=-5, shorts=(Short(7, 3, 152), Short(8, 2, 101)))
    after, moves = rules.arrive(owing, Left(9, 4, 800), "arrive")

    assert [(move.use_id, *told((move,))[0]) for move in moves] == [
        (None, "arrive", 9, 4, 800),
        (7, "true_up", None, 3, 152),
        (7, "true_up", 9, -3, -600),
        (8, "true_up", None, 1, 51),
        (8, "true_up", 9, -1, -200),
    ]
    assert after.shorts == (Short(8, 1, 50),)
    assert (after.lots, after.qty) == ((), -1)
    assert (after.last_qty, after.last_cost) == (4, 800)


def test_what_a_count_finds_does_not_say_what_one_costs() -> None:
    after, _ = rules.arrive(shelf(), Left(9, 4, 202), "count")

    assert (after.last_qty, after.last_cost) == (10, 505)


def test_what_is_carried_takes_the_same_cents_along_lot_by_lot() -> None:
    here = shelf(Left(1, 3, 1000), Left(2, 4, 900))
    there = Shelf(item_id=1, place_id=2, counted=True, qty=-1, shorts=(Short(7, 1, 40),))
    here, there, moves = rules.carry(here, there, 4)

    assert (here.lots, here.qty) == ((Left(2, 3, 675),), 3)
    assert (there.lots, there.qty) == ((Left(1, 2, 667), Left(2, 1, 225)), 3)
    assert there.shorts == ()
    assert sum(move.cost for move in moves if move.sort == "transfer") == 0


def test_taking_back_gives_the_same_cents_to_the_same_deliveries() -> None:
    before = shelf(Left(1, 2, 300), Left(4, 10, 1600))
    taken = rules.take(before, use(5))
    after, moves = rules.give_back(taken.shelf, use(5), rules.net(taken.moves), None)

    assert after == before
    assert told(moves) == [("undo", 1, 2, 300), ("undo", 4, 3, 480)]


def test_taking_back_a_use_that_was_trued_up_gives_back_the_real_cost() -> None:
    taken = rules.take(shelf(), use(3))
    arrived, more = rules.arrive(taken.shelf, Left(9, 10, 2000), "arrive")
    own = [move for move in (*taken.moves, *more) if move.use_id == 7]
    after, moves = rules.give_back(arrived, use(3), rules.net(own), None)

    assert told(moves) == [("undo", 9, 3, 600)]
    assert after.lots == (Left(9, 10, 2000),)


def test_what_was_taken_before_the_first_count_comes_back_as_a_delivery_of_its_own() -> None:
    taken = rules.take(shelf(counted=False), use(4))
    opened, opening = rules.open_shelf(taken.shelf, taken.assumed)
    parts = rules.net(taken.moves)

    assert told(opening) == [("count", None, 4, 202)]
    assert opened.qty == 0
    assert rules.before_first_count(opened, use(4), parts) == Left(0, 4, 202)

    after, moves = rules.give_back(opened, use(4), parts, 9)

    assert told(moves) == [("undo", None, 4, 202), ("count", None, -4, -202), ("count", 9, 4, 202)]
    assert (after.lots, after.qty) == ((Left(9, 4, 202),), 4)


def test_waste_is_booked_when_it_makes_a_whole_nail() -> None:
    """6 % of 12 nails is 0.72: rounded a horse at a time it would be 0 or 8.3 %, never 6 %."""
    draws = [Draw(1, 1, 12) for _ in range(8)]
    shelves = {(1, 1): shelf(Left(1, 250, 2500), nails=True)}
    uses = rules.uses_of(1, draws, shelves, 60_000)

    wasted = [(one.draw_no, one.qty) for one in uses if one.why == "waste"]
    # 0.72 1.44 2.16 2.88 3.60 4.32 5.04 5.76
    assert wasted == [(1, 1), (2, 1), (4, 1), (5, 1), (6, 1)]
    assert len(uses) == 13


def test_waste_goes_on_from_where_the_last_day_ended() -> None:
    shelves = {(1, 1): shelf(Left(1, 250, 2500), nails=True, used=96, wasted=5)}

    assert [one.qty for one in rules.uses_of(1, [Draw(1, 1, 3)], shelves, 60_000)] == [3]
    assert [one.qty for one in rules.uses_of(1, [Draw(1, 1, 4)], shelves, 60_000)] == [4, 1]


def test_shoes_are_not_wasted_and_no_rate_wastes_nothing() -> None:
    shoes = {(1, 1): shelf(Left(1, 250, 2500))}
    nails = {(1, 1): shelf(Left(1, 250, 2500), nails=True)}

    assert len(rules.uses_of(1, [Draw(1, 1, 200)], shoes, 60_000)) == 1
    assert len(rules.uses_of(1, [Draw(1, 1, 200)], nails, 0)) == 1


@pytest.mark.parametrize(
    ("qty", "pack", "sort", "said"),
    [
        (0, 20, "shoe", "0"),
        (1, 20, "shoe", "1 shoe"),
        (2, 20, "shoe", "1 pair"),
        (9, 20, "shoe", "4 pairs + 1"),
        (8, 1, "shoe", "4 pairs"),
        (-3, 20, "shoe", "1 pair + 1 more used than came in"),
        (-1, 20, "shoe", "1 shoe more used than came in"),
        (375, 250, "nail", "1½ boxes (375)"),
        (125, 250, "nail", "½ box (125)"),
        (250, 250, "nail", "1 box (250)"),
        (500, 250, "nail", "2 boxes (500)"),
        (390, 250, "nail", "about 1½ boxes (390)"),
        (62, 250, "nail", "62 nails"),
        (1, 250, "nail", "1 nail"),
        (40, 1, "nail", "40 nails"),
        (-500, 250, "nail", "2 boxes (500) more used than came in"),
        (-7, 250, "nail", "7 nails more used than came in"),
        (13, 6, "pad", "2 packs + 1"),
        (6, 6, "pad", "1 pack"),
        (5, 6, "rasp", "5"),
        (5, 1, "rasp", "5"),
        (-5, 1, "rasp", "5 more used than came in"),
        (-12, 6, "pad", "2 packs more used than came in"),
        (-13, 6, "pad", "2 packs + 1 more used than came in"),
    ],
)
def test_shoes_are_counted_in_pairs_and_nails_in_boxes(
    qty: int, pack: int, sort: str, said: str
) -> None:
    code, facts = rules.in_packs(qty, pack, sort)

    assert Speech().say(code, **facts) == said


def test_every_count_has_its_sentence() -> None:
    for sort in ("shoe", "nail", "pad"):
        for pack in (1, 2, 7, 250):
            for qty in range(-600, 600):
                code, facts = rules.in_packs(qty, pack, sort)
                assert Speech().say(code, **facts)
