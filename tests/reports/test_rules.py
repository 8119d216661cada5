"""What is left, its time and its ratios, worked out by hand."""

from datetime import date

import pytest
from hypothesis import given
from hypothesis import strategies as st

from backoffice.errors import Refused
from backoffice.reports import rules
from backoffice.reports.rules import Line, Period, Sums

AMOUNTS = st.integers(-1_000_000, 1_000_000)
MINUTES = st.lists(st.integers(0, 600), max_size=40)


def line(key: int | None, left: int, minutes: int = 60) -> Line:
    return Line(key=key, sums=Sums(net=left, minutes=minutes), time=0)


def test_each_step_takes_one_thing_away() -> None:
    one = Line(key=1, sums=Sums(13_000, 1_220, 1_450, 130, 55), time=4_125)

    assert (one.after_materials, one.left, one.after_time) == (11_780, 10_200, 6_075)
    assert one.per_hour == 11_127  # 102.00 × 60 / 55 = 111.27


def test_nothing_added_up_is_nothing() -> None:
    assert rules.add_up([]) == Sums()


def test_every_column_is_added_up() -> None:
    one, two = Sums(1, 2, 3, 4, 5, 6, 7, 8), Sums(10, 20, 30, 40, 50, 60, 70, 80)

    assert rules.add_up([one, two]) == Sums(11, 22, 33, 44, 55, 66, 77, 88)


@pytest.mark.parametrize(
    ("minutes", "hour", "cost"),
    [(60, 4_500, 4_500), (20, 4_333, 1_444), (1, 4_530, 76), (1, 4_529, 75), (0, 4_500, 0)],
)
def test_time_is_costed_half_up(minutes: int, hour: int, cost: int) -> None:
    assert rules.time_cost(minutes, hour) == cost


@given(minutes=MINUTES, hour=st.integers(0, 50_000))
def test_however_time_is_cut_up_its_cost_is_the_same(minutes: list[int], hour: int) -> None:
    cost = rules.time_cost(sum(minutes), hour)
    parts = rules.share_time(cost, minutes)

    assert sum(parts) == cost
    exact = [mine * hour for mine in minutes]
    assert all(abs(60 * part - own) < 120 for part, own in zip(parts, exact, strict=True))


def test_without_a_minute_the_hour_is_not_known() -> None:
    assert rules.per_hour(5_000, 0) is None
    assert rules.per_hour(-5_000, 45) == -6_667


def test_a_part_of_nothing_or_less_is_not_known() -> None:
    assert rules.parts_of(10, 0) is None
    assert rules.parts_of(10, -5) is None
    assert rules.parts_of(1, 8) == 13
    assert rules.parts_of(-1, 8) == -13


def test_who_stands_out_is_told_by_what_is_left_and_by_the_hour() -> None:
    lines = [line(1, 9_000, 120), line(2, 5_000, 30), line(3, 7_000, 60)]

    most, least = rules.most(lines), rules.least_an_hour(lines)

    assert most is not None
    assert least is not None
    assert (most.key, least.key) == (1, 1)


def test_what_is_not_known_and_what_took_no_time_stand_out_for_nothing() -> None:
    lines = [line(None, 99_000), line(None, -99_000), line(7, 5_000, 0)]

    assert rules.most(lines) == lines[2]
    assert rules.least_an_hour(lines) is None


def test_two_hours_a_hair_apart_are_told_apart() -> None:
    lines = [line(1, 3_334, 100), line(2, 3_333, 100)]
    assert lines[0].per_hour == lines[1].per_hour == 2_000

    least = rules.least_an_hour(lines)

    assert least is not None
    assert least.key == 2


@given(material=AMOUNTS, estimate=AMOUNTS, nets=st.lists(AMOUNTS, min_size=1, max_size=5))
def test_what_a_delivery_settles_is_shared_without_losing_a_cent(
    material: int, estimate: int, nets: list[int]
) -> None:
    shares = rules.settled(material, estimate, nets)

    assert len(shares) == len(nets)
    assert rules.add_up(shares) == Sums(material=material, material_est=estimate)


@pytest.mark.parametrize(
    ("name", "today", "first", "last"),
    [
        ("last_12_months", date(2026, 3, 17), date(2025, 3, 18), date(2026, 3, 17)),
        ("last_12_months", date(2024, 2, 28), date(2023, 3, 1), date(2024, 2, 28)),
        ("last_12_months", date(2025, 12, 31), date(2025, 1, 1), date(2025, 12, 31)),
        ("this_year", date(2026, 3, 17), date(2026, 1, 1), date(2026, 3, 17)),
        ("this_month", date(2026, 3, 1), date(2026, 3, 1), date(2026, 3, 1)),
        ("last_month", date(2026, 1, 31), date(2025, 12, 1), date(2025, 12, 31)),
        ("last_month", date(2024, 3, 5), date(2024, 2, 1), date(2024, 2, 29)),
    ],
)
def test_a_period_by_its_name_has_its_days(name: str, today: date, first: date, last: date) -> None:
    assert rules.period(name, today) == Period(first=first, last=last)


def test_every_day_of_years_has_its_twelve_months() -> None:
    for ordinal in range(date(2023, 1, 1).toordinal(), date(2029, 1, 1).toordinal()):
        found = rules.period("last_12_months", date.fromordinal(ordinal))
        assert (found.last - found.first).days in (364, 365)


def test_a_period_that_ends_before_it_begins_is_refused() -> None:
    with pytest.raises(Refused) as refused:
        rules.between(date(2026, 3, 2), date(2026, 3, 1))

    assert (refused.value.code, refused.value.field) == ("reports.backwards", "until")
    assert rules.between(date(2026, 3, 2), date(2026, 3, 2)).last == date(2026, 3, 2)
