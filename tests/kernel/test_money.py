"""Amounts as people type them, one way of rounding, and shares that sum to the cent."""

from contextlib import suppress
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from backoffice.errors import Refused
from backoffice.money import (
    LARGEST,
    MINOR_UNITS,
    PPM,
    apply_rate,
    half_up,
    parse_money,
    plain,
    split,
)
from backoffice.words import Speech

AMOUNTS = st.integers(-LARGEST, LARGEST)
PARTS = st.lists(st.integers(0, 1_000), min_size=1, max_size=8).filter(any)


@pytest.mark.parametrize(
    ("typed", "cents"),
    [
        ("120", 12_000),
        ("58.5", 5_850),
        ("58.50", 5_850),
        ("58.", 5_800),
        (".5", 50),
        ("0", 0),
        ("-0.01", -1),
        ("\u22125", -500),
        ("1,234.50", 123_450),
        ("12,345,678.90", 1_234_567_890),
        ("  $58 ", 5_800),
        ("£ 1.20", 120),
        ("€0.05", 5),
        ("0000058", 5_800),
        ("100000000.00", LARGEST),
    ],
)
def test_an_amount_is_read_as_people_type_it(typed: str, cents: int) -> None:
    assert parse_money(typed, "USD") == cents


@pytest.mark.parametrize(
    "typed",
    [
        "", " ", "-", ".", "$", ",", "-.", "five", "+5", "--5", "5-", "(5)", "1e5", "0x10", "1_000",
        "1 000", "1,23", "12,34.5", "1,234,5", "1.2.3", "1/2", "NaN", "inf", "5%", "5\n6",
        "\u0665", "\uff15", "\u202e5", "5\0", "\ud8005", "=1+1", "{{ 5 }}", "x" * 10_000,
    ],
)  # fmt: skip
def test_what_is_no_amount_is_refused_and_shown_back(typed: str) -> None:
    with pytest.raises(Refused) as refused:
        parse_money(typed, "USD")

    assert refused.value.code == "money.unreadable"
    assert typed in Speech().say(refused.value.code, **refused.value.facts)


@pytest.mark.parametrize("typed", ["100000000.01", "9" * 5_000, "-99999999999999999999999"])
def test_an_amount_nobody_can_mean_is_refused(typed: str) -> None:
    with pytest.raises(Refused, match=r"money\.too_large"):
        parse_money(typed, "USD")


@pytest.mark.parametrize(
    ("typed", "currency", "units"),
    [
        ("58", "JPY", 58),
        ("1.234", "KWD", 1_234),
        ("1.2345", "CLF", 12_345),
        ("1,000", "ISK", 1_000),
    ],
)
def test_a_currency_has_the_decimals_it_has(typed: str, currency: str, units: int) -> None:
    assert parse_money(typed, currency) == units


@pytest.mark.parametrize(("typed", "currency"), [("1.005", "USD"), ("1.5", "JPY"), ("1.0", "JPY")])
def test_more_decimals_than_the_currency_has_are_refused(typed: str, currency: str) -> None:
    with pytest.raises(Refused, match=r"money\.too_many_decimals"):
        parse_money(typed, currency)


@given(st.text(max_size=30))
def test_any_text_at_all_is_an_amount_or_refused(typed: str) -> None:
    with suppress(Refused):
        assert abs(parse_money(typed, "USD")) <= LARGEST


@given(AMOUNTS, st.sampled_from(sorted(MINOR_UNITS)))
def test_an_amount_written_plainly_is_read_back(cents: int, currency: str) -> None:
    assert parse_money(plain(cents, currency), currency) == cents


@pytest.mark.parametrize(
    ("cents", "currency", "text"),
    [(0, "USD", "0.00"), (-5, "USD", "-0.05"), (123_450, "GBP", "1234.50"), (58, "JPY", "58")],
)
def test_an_amount_is_written_with_its_decimals_and_nothing_else(
    cents: int, currency: str, text: str
) -> None:
    assert plain(cents, currency) == text


@given(st.integers(-(10**15), 10**15), st.integers(1, 10**9))
def test_rounding_takes_the_nearest_and_ties_go_away_from_nothing(
    numerator: int, denominator: int
) -> None:
    exact, rounded = Fraction(numerator, denominator), half_up(numerator, denominator)

    assert abs(rounded - exact) <= Fraction(1, 2)
    if abs(rounded - exact) == Fraction(1, 2):
        assert abs(rounded) > abs(exact)
    assert half_up(-numerator, denominator) == -rounded


@pytest.mark.parametrize("denominator", [0, -1])
def test_dividing_by_nothing_or_less_is_a_mistake_of_ours(denominator: int) -> None:
    with pytest.raises(ValueError, match="positive"):
        half_up(1, denominator)


def test_a_rate_is_taken_in_parts_per_million() -> None:
    assert apply_rate(1_000, 71_250) == 71
    assert apply_rate(-1_000, 71_250) == -71
    assert apply_rate(12_345, PPM) == 12_345


@given(AMOUNTS, PARTS)
def test_shares_sum_to_the_whole_and_none_turns_its_sign(whole: int, parts: list[int]) -> None:
    shares = split(whole, parts)

    assert sum(shares) == whole
    assert all(share == 0 or (share > 0) == (whole > 0) for share in shares)
    assert split(-whole, parts) == tuple(-share for share in shares)


@given(AMOUNTS, PARTS)
def test_each_share_is_its_part_to_within_one_and_no_part_has_no_share(
    whole: int, parts: list[int]
) -> None:
    for share, part in zip(split(whole, parts), parts, strict=True):
        assert abs(share - Fraction(whole * part, sum(parts))) <= 1
        if not part:
            assert share == 0


@given(st.integers(0, LARGEST), st.integers(1, 8))
def test_the_odd_cents_go_to_those_named_first(whole: int, people: int) -> None:
    shares = split(whole, [1] * people)

    assert list(shares) == sorted(shares, reverse=True)
    assert shares[0] - shares[-1] <= 1


@pytest.mark.parametrize("parts", [[0], [0, 0], [1, -1], [2, -1]])
def test_shares_that_make_nothing_are_refused(parts: list[int]) -> None:
    with pytest.raises(Refused, match=r"shares\.make_nothing"):
        split(100, parts)
