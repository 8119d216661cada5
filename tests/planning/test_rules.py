"""What a day takes, what is missing, which horses share a date: worked out by hand."""

from datetime import date

import pytest

from backoffice.planning import rules
from backoffice.planning.rules import Booked, Held, Load
from backoffice.pricing.rules import RecipePart, ServiceLine
from backoffice.units import Foot, FootWork
from backoffice.visits.rules import FootState

SHOE, NAIL, PAD, CLAY = 1, 2, 3, 4
TRUCK, SHOP, OTHER = 1, 2, 3


def foot(
    done: FootWork,
    *,
    shoe: int | None = SHOE,
    nail: int | None = NAIL,
    nails: int | None = 6,
    pad: int | None = None,
) -> FootState:
    if not done.shod:
        return FootState(planned=done, done=done)
    return FootState(planned=done, done=done, shoe=shoe, nail=nail, nails=nails, pad=pad)


def horse(front: FootState, hind: FootState, *recipe: RecipePart) -> Booked:
    feet = {one: front if one.front else hind for one in Foot}
    return Booked(work_id=1, feet=feet, recipe=recipe)


TRIM = foot(FootWork.TRIM)
NOTHING = foot(FootWork.NONE)


def test_a_day_adds_up_shoes_nails_pads_and_what_services_take() -> None:
    clay = RecipePart(item=CLAY, qty=2, per_foot=True)
    day = [
        horse(foot(FootWork.NEW, pad=PAD), TRIM, clay),
        horse(foot(FootWork.RESET), foot(FootWork.NEW, nails=5)),
        horse(TRIM, TRIM),
    ]

    # shoes 2 + 2, nails 12 + 12 + 10 = 34 and 6 % of it, 2.04, up to 3
    assert rules.day_takes(day, {NAIL}, 60_000) == {SHOE: 4, NAIL: 37, PAD: 2, CLAY: 4}


@pytest.mark.parametrize(
    ("driven", "along"), [(6, 7), (12, 13), (50, 53), (51, 55)], ids=lambda n: str(n)
)
def test_waste_is_rounded_up_once(driven: int, along: int) -> None:
    day = [Booked(work_id=1, feet={Foot.LF: foot(FootWork.RESET, nails=1)}) for _ in range(driven)]

    assert rules.day_takes(day, {NAIL}, 60_000) == {NAIL: along}


def test_without_waste_and_for_what_is_no_nail_nothing_is_added() -> None:
    day = [horse(foot(FootWork.NEW), TRIM)]

    assert rules.day_takes(day, {NAIL}, 0) == {SHOE: 2, NAIL: 12}
    assert rules.day_takes(day, (), 60_000) == {SHOE: 2, NAIL: 12}


@pytest.mark.parametrize(
    ("booked", "word"),
    [
        (horse(foot(FootWork.NEW), TRIM), None),
        (horse(TRIM, TRIM), None),
        (horse(foot(FootWork.NEW, shoe=None), TRIM), "size"),
        (horse(foot(FootWork.RESET, shoe=None), TRIM), None),
        (horse(foot(FootWork.RESET, nail=None), TRIM), "nails"),
        (horse(foot(FootWork.NEW, nails=None), TRIM), "nails"),
        (horse(foot(FootWork.NEW, shoe=None, nail=None), TRIM), "size_nails"),
        (horse(NOTHING, NOTHING), "foot"),
        (Booked(work_id=1, feet={}), "plan"),
    ],
)
def test_what_is_not_known_is_said_in_a_word(booked: Booked, word: str | None) -> None:
    assert rules.not_known(booked) == word


def test_what_is_not_known_is_never_counted_as_nothing_of_the_known() -> None:
    day = [horse(foot(FootWork.NEW, shoe=None), TRIM)]

    assert rules.day_takes(day, {NAIL}, 0) == {NAIL: 12}


@pytest.mark.parametrize(("here", "short"), [(6, 0), (4, 0), (3, 1), (0, 4), (-2, 4), (None, None)])
def test_what_is_missing_is_what_the_day_takes_beyond_what_is_there(
    here: int | None, short: int | None
) -> None:
    assert Load(item_id=SHOE, need=4, here=here).short == short


def test_others_are_named_where_the_books_hold_some() -> None:
    held = [
        Held(item_id=SHOE, place_id=TRUCK, qty=1),
        Held(item_id=SHOE, place_id=SHOP, qty=None),
        Held(item_id=SHOE, place_id=OTHER, qty=6),
        Held(item_id=NAIL, place_id=SHOP, qty=-3),
    ]
    shoe, nail = rules.load({SHOE: 4, NAIL: 24}, held, TRUCK)

    assert (shoe.here, shoe.short, [one.place_id for one in shoe.elsewhere]) == (1, 3, [OTHER])
    assert (nail.here, nail.short, nail.elsewhere) == (None, None, ())


def test_odd_ones_are_the_shoes_of_an_odd_number_on_this_truck() -> None:
    held = [
        Held(item_id=SHOE, place_id=TRUCK, qty=5),
        Held(item_id=SHOE, place_id=SHOP, qty=3),
        Held(item_id=NAIL, place_id=TRUCK, qty=7),
        Held(item_id=11, place_id=TRUCK, qty=4),
        Held(item_id=12, place_id=TRUCK, qty=-1),
        Held(item_id=13, place_id=TRUCK, qty=None),
    ]

    assert rules.odd_ones(held, {SHOE, 11, 12, 13}, TRUCK) == (held[0],)


def test_a_size_that_is_worn_and_not_along_is_named() -> None:
    held = [
        Held(item_id=10, place_id=TRUCK, qty=0),
        Held(item_id=10, place_id=SHOP, qty=2),
        Held(item_id=11, place_id=TRUCK, qty=1),
    ]
    (none,) = rules.none_along([10, 11, 12], held, TRUCK)

    assert (none.item_id, [one.qty for one in none.elsewhere]) == (10, [2])


@pytest.mark.parametrize(
    ("cycles", "usual"),
    [([42, 42, 35], 42), ([56, 42], 42), ([None, 35], 35), ([None], None), ([], None)],
)
def test_a_yard_comes_round_as_most_of_its_horses(
    cycles: list[int | None], usual: int | None
) -> None:
    assert rules.usual_days(cycles) == usual


@pytest.mark.parametrize("own", [None, 32, 52])
@pytest.mark.parametrize("outcome", ["done", "planned"])
def test_a_horse_done_there_gets_the_date_of_the_yard(outcome: str, own: int | None) -> None:
    assert rules.comes_along(outcome, own, 42)


@pytest.mark.parametrize(
    ("outcome", "own"), [("done", 31), ("done", 53), ("part", None), ("absent", 42)]
)
def test_a_horse_missed_part_done_or_on_its_own_cycle_does_not(
    outcome: str, own: int | None
) -> None:
    assert not rules.comes_along(outcome, own, 42)


def test_a_horse_of_its_own_comes_round_by_its_own_days() -> None:
    day = date(2026, 3, 17)

    assert rules.own_next_day(day, 28, 42) == date(2026, 4, 14)
    assert rules.own_next_day(day, None, 42) == date(2026, 4, 28)
    assert rules.own_next_day(day, None, None) is None


TODAY = date(2026, 3, 17)


@pytest.mark.parametrize(
    ("nailed", "due", "owing", "reason"),
    [
        (date(2026, 3, 3), date(2026, 4, 14), None, "price.guarantee"),
        (date(2026, 3, 2), date(2026, 4, 14), None, "price.lost_over"),
        (date(2026, 3, 8), date(2026, 3, 17), date(2026, 2, 15), "price.guarantee"),
        (date(2026, 3, 8), date(2026, 3, 17), date(2026, 2, 14), "price.lost_owing"),
        (date(2026, 3, 8), date(2026, 3, 16), None, "price.lost_late"),
        (None, None, None, "price.lost_unknown"),
    ],
)
def test_how_the_guarantee_stands_for_a_shoe_lost_today(
    nailed: date | None, due: date | None, owing: date | None, reason: str
) -> None:
    stands = rules.if_lost(nailed, TODAY, due_day=due, owing_since=owing, days=14, owed_days=30)

    assert stands.reason == reason


def test_the_service_of_a_lost_shoe_works_on_no_foot_by_itself() -> None:
    def line(id: int, front: str, hind: str) -> ServiceLine:
        return ServiceLine(
            id=id, name=str(id), front=front, hind=hind, minutes=20, place_no=id, hidden=False
        )

    services = [line(1, "trim", "trim"), line(2, "new", "none"), line(3, "none", "none")]
    assert rules.lost_shoe_service(services) == 3
    assert rules.lost_shoe_service(services[:2]) is None
