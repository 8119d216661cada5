"""How records are searched and named, who may pay, and what kinds of horse there are at first."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from backoffice.clients import rules
from backoffice.errors import Refused
from backoffice.words import CATALOGUE, Speech


@pytest.mark.parametrize(
    ("name", "typed"),
    [
        ("Zoë Ångström", "zoe angstrom"),
        ("STRASSE", "straße"),
        ("Łukasz Sørensen", "lukasz sorensen"),
        ("\uff26\uff55\uff4c\uff4c width", "full WIDTH"),
        ("\u200f\u05de\u05d9\u05e8\u200e", "\u05de\u05d9\u05e8"),
        ("Æsop  \t O’Neil", "aesop o’neil"),
    ],
)
def test_a_search_finds_a_name_however_it_is_written(name: str, typed: str) -> None:
    assert rules.search_key(name) == rules.search_key(typed)


@given(st.text())
def test_a_search_key_of_a_search_key_is_itself(text: str) -> None:
    key = rules.search_key(text)

    assert rules.search_key(key) == key


def test_a_search_key_joins_what_is_known() -> None:
    assert rules.search_key("Wenna", None, "07 12") == "wenna 07 12"
    assert rules.search_key(None, None) == ""


def test_a_horse_is_called_by_its_name_else_by_the_words_it_was_spoken_of() -> None:
    us, uk = Speech(), Speech(words="uk", currency="GBP")

    assert rules.horse_label(us, "Duke", "the big one") == "Duke"
    assert rules.horse_label(us, None, "Sarah’s new bay") == "Sarah’s new bay"
    assert rules.horse_label(us, None, None) == "a horse not named yet"
    assert rules.client_label(us, None) == "a client not named yet"
    assert (rules.yard_label(us, None), rules.yard_label(uk, None)) == (
        "a barn not named yet",
        "a yard not named yet",
    )


def test_payers_keep_their_order_and_those_without_a_part_are_left_out() -> None:
    assert rules.payer_parts([(7, 60), (3, 40)]) == ((7, 60), (3, 40))
    assert rules.payer_parts([(7, 1), (3, 0)]) == ((7, 1),)
    assert rules.payer_parts([]) == ()


@pytest.mark.parametrize(
    ("parts", "code"),
    [
        ([(1, 0)], "shares.make_nothing"),
        ([(1, 0), (2, 0)], "shares.make_nothing"),
        ([(1, 60), (2, -1)], "shares.make_nothing"),
        ([(1, 1), (1, 2)], "shares.twice"),
        ([(1, 1), (1, 0)], "shares.twice"),
        ([(1, 1_000_001)], "count.too_large"),
    ],
)
def test_parts_that_make_no_sense_are_refused(parts: list[tuple[int, int]], code: str) -> None:
    with pytest.raises(Refused) as refused:
        rules.payer_parts(parts)

    assert (refused.value.code, refused.value.field) == (code, "parts")
    assert Speech().say(code, **refused.value.facts)


@pytest.mark.parametrize("words", ["us", "uk"])
def test_the_first_kinds_of_horse_differ_in_name_and_are_as_the_trade_counts_them(
    words: str,
) -> None:
    kinds = rules.starting_types(words)

    assert len({kind.name for kind in kinds}) == len(kinds) == 7
    shod = [(kind.wear_factor, kind.time_factor, kind.nails) for kind in kinds]
    assert shod[0] == (700, 950, 5)
    assert shod[1] == shod[2] == (1_000, 1_000, 6)
    assert shod[4] == (3_000, 2_100, 8)
    assert [kind.shod_days for kind in kinds] == [56, 42, 42, 35, 49, 56, 28]
    assert [kind.trim_days for kind in kinds] == [56, 56, 56, 56, 56, 60, 28]


def test_the_draft_horse_is_heavy_in_the_uk() -> None:
    assert rules.starting_types("us")[4].name == "Draft horse"
    assert rules.starting_types("uk")[4].name == "Heavy horse"


@pytest.mark.parametrize("words", ["us", "uk"])
def test_every_flag_life_and_way_of_billing_has_a_word(words: str) -> None:
    from backoffice.clients.models import BILL_HOW, BILL_WHEN, FLAGS, GROUNDS

    codes = [f"flag.{word}" for word in FLAGS]
    codes += [f"life.{word}" for word in ("active", *rules.GONE)]
    codes += [f"bill_when.{word}" for word in BILL_WHEN]
    codes += [f"bill_how.{word}" for word in BILL_HOW]
    codes += [f"ground.{word}" for word in GROUNDS]
    codes += ["client.private", "client.business"]

    assert set(codes) <= set(CATALOGUE[words])
