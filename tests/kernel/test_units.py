"""Feet, what is done to them, and sizes that are text."""

from itertools import permutations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from backoffice.units import Foot, FootWork, size_key


def test_sizes_sort_as_they_hang_on_the_wall() -> None:
    sizes = ["000", "00", "0", "1", "2", "2W", "9", "10", "11"]

    assert sorted(set(sizes), key=size_key) == sizes
    for some in permutations(["000", "00", "0", "1", "10"]):
        assert sorted(some, key=size_key) == ["000", "00", "0", "1", "10"]


def test_three_noughts_two_and_one_are_three_sizes() -> None:
    assert len({size_key("000"), size_key("00"), size_key("0")}) == 3


@pytest.mark.parametrize(("one", "same"), [("5 city", "5 CITY"), (" 1 ", "1"), ("2w", "2W")])
def test_a_size_is_the_same_however_it_is_typed(one: str, same: str) -> None:
    assert size_key(one) == size_key(same)


@given(st.text(max_size=200))
def test_any_text_has_a_place_among_the_sizes(text: str) -> None:
    assert size_key(text)[:2] in ("1:", "2:", "3:")


@pytest.mark.parametrize("text", ["9" * 200, "0" * 200, "", "medium", "\u0665", "007"])
def test_strange_sizes_have_a_place_too(text: str) -> None:
    assert size_key(text)


def test_feet_are_named_left_before_right_and_front_before_hind() -> None:
    assert [foot.value for foot in Foot] == ["LF", "RF", "LH", "RH"]
    assert [foot.front for foot in Foot] == [True, True, False, False]


def test_a_foot_is_shod_when_a_shoe_was_nailed_on_and_worked_when_anything_was_done() -> None:
    assert {done.value for done in FootWork if done.shod} == {"new", "reset"}
    assert {done.value for done in FootWork if not done.worked} == {"none", "not_done"}
