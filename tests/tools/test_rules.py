"""How much work a horse puts on each tool, at what cost, and how the tool stands."""

import doctest
from dataclasses import replace
from datetime import date, timedelta
from itertools import permutations
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from backoffice.errors import Refused
from backoffice.practice.rules import Settings
from backoffice.tools import rules
from backoffice.tools.models import EVENTS, TOOL_KINDS
from backoffice.tools.rules import LogLine, StateFacts, ToolDetails
from backoffice.units import FootWork
from backoffice.words import CATALOGUE, Speech

NEW, RESET, TRIM, PULLED = FootWork.NEW, FootWork.RESET, FootWork.TRIM, FootWork.PULLED
NOT_DONE, NONE = FootWork.NOT_DONE, FootWork.NONE
TODAY = date(2026, 3, 17)
KNIFE = ToolDetails(
    sort="knife", name="right", place_id=1, price=6_500, life=1_200_000, edge=15_000, edge_cost=150
)
FACTORS = st.integers(min_value=1, max_value=5_000)
FEET = st.lists(st.sampled_from(list(FootWork)), max_size=4)


def units(sort: str, *feet: FootWork, type_factor: int = 1_000, ground_factor: int = 1_000) -> int:
    return rules.units_of(sort, feet, type_factor=type_factor, ground_factor=ground_factor)


@pytest.mark.parametrize("sort", TOOL_KINDS)
def test_an_ordinary_horse_shod_all_round_is_one_horse_for_every_tool(sort: str) -> None:
    assert units(sort, NEW, NEW, NEW, NEW) == 1_000


@pytest.mark.parametrize("sort", TOOL_KINDS)
def test_a_foot_left_alone_or_not_done_wears_nothing(sort: str) -> None:
    assert units(sort, NONE, NOT_DONE, NONE, NOT_DONE) == 0
    assert units(sort) == 0


def test_each_kind_of_tool_works_on_its_own_feet() -> None:
    fronts_and_trim = (NEW, NEW, TRIM, TRIM)

    assert units("hammer", *fronts_and_trim) == units("clinchers", *fronts_and_trim) == 500
    assert units("forge", *fronts_and_trim) == 500
    assert units("forge", RESET, RESET, TRIM, TRIM) == 0
    assert units("stand", PULLED, NONE, NONE, NONE) == 250
    assert units("rasp", RESET, RESET, RESET, RESET) == 700
    assert units("knife", RESET, RESET, TRIM, TRIM) == 900
    assert units("knife", PULLED, PULLED, TRIM, TRIM) == 1_000


def test_a_heavy_horse_on_dry_ground_is_rounded_once() -> None:
    # 1 of 4 feet x 1.333 x 1.4 = 0.46655: 0.467, while 0.33325 rounded first gives 0.466.
    assert units("rasp", TRIM, type_factor=1_333, ground_factor=1_400) == 467


@given(st.sampled_from(TOOL_KINDS), FEET, FACTORS, FACTORS)
def test_work_does_not_depend_on_the_order_of_feet_and_is_never_below_nothing(
    sort: str, feet: list[FootWork], type_factor: int, ground_factor: int
) -> None:
    found = {
        units(sort, *order, type_factor=type_factor, ground_factor=ground_factor)
        for order in permutations(feet)
    }

    assert len(found) == 1
    assert min(found) >= 0


@given(st.integers(0, 10**7), st.lists(st.integers(0, 1_000), min_size=1, max_size=6))
def test_a_kit_shares_the_whole_of_a_work(whole: int, shares: list[int]) -> None:
    parts = rules.share_units(whole, shares)

    assert sum(parts) == whole
    assert min(parts) >= 0
    assert all(p == 0 for p, share in zip(parts, shares, strict=True) if any(shares) and not share)


def test_a_kit_without_shares_is_worn_alike() -> None:
    assert rules.share_units(1_000, [600, 300, 100]) == (600, 300, 100)
    assert rules.share_units(1_000, [0, 0, 0]) == (334, 333, 333)
    assert rules.share_units(1_000, [500, 0]) == (1_000, 0)


def test_work_costs_its_part_of_the_tool_and_of_its_sharpening() -> None:
    # 65.00 over 1,200 horses is 5.42 cents, 1.50 over 15 horses 10 cents: 15.42.
    assert rules.wear_cost(1_000, KNIFE) == 15
    # 5.5 horses: 84.79; rounded apart 29.79 + 55.00 would be 30 + 55.
    assert rules.wear_cost(5_500, KNIFE) == 85
    assert rules.wear_cost(1_000, replace(KNIFE, scrap=6_500)) == 10
    assert rules.wear_cost(1_000, replace(KNIFE, edge=None, edge_cost=0)) == 5


def test_cost_is_rounded_on_the_sum_and_not_apart() -> None:
    half_and_half = replace(KNIFE, price=500, life=1_000_000, edge=1_000_000, edge_cost=500)

    assert rules.wear_cost(1_000, half_and_half) == 1  # 0.5 + 0.5; apart it would be 2


def test_a_tool_whose_price_or_life_is_not_known_costs_nothing_yet_and_says_so() -> None:
    for unknown in (replace(KNIFE, price=None), replace(KNIFE, life=None)):
        assert rules.wear_cost(1_000, unknown) == 0
        assert not rules.cost_known(unknown)
    assert rules.cost_known(KNIFE)
    assert not rules.cost_known(replace(KNIFE, edge=None))
    assert rules.cost_known(replace(KNIFE, edge=None, edge_cost=0))


@given(st.integers(-(10**7), 10**7), st.integers(0, 10**6), st.integers(1, 10**8))
def test_work_taken_back_costs_what_it_cost(done: int, price: int, life: int) -> None:
    tool = replace(KNIFE, price=price, life=life)

    assert rules.wear_cost(-done, tool) == -rules.wear_cost(done, tool)


def test_a_new_tool_starts_with_what_is_usual() -> None:
    settings = Settings("us", {"knife_edge": 8_000})
    every = {s: rules.usual(s, {n: settings[n] for n in ("knife_edge", "rasp_life", "look_days")})
             for s in TOOL_KINDS}  # fmt: skip

    assert every["knife"].edge == 8_000
    assert every["knife"].life == 640_000
    assert every["rasp"].life == 34_000
    assert every["stand"].look_days == every["gas"].look_days == every["hammer"].look_days == 30


def log(*events: tuple[str, int]) -> list[LogLine]:
    return [LogLine(sort=sort, day=TODAY - timedelta(days=ago)) for sort, ago in events]


def test_a_stand_that_was_leaned_on_only_counts() -> None:
    assert rules.after_events(log(("leaned", 2), ("leaned", 1))) == StateFacts()


def test_a_stand_that_slipped_is_looked_at_first_and_one_that_fell_is_not_used() -> None:
    assert rules.after_events(log(("slipped", 1))).trouble == "look_first"
    assert rules.after_events(log(("slipped", 1), ("fell", 1))).trouble == "do_not_use"
    assert rules.after_events(log(("fell", 1), ("slipped", 0))).trouble == "do_not_use"


def test_only_a_look_clears_a_fall() -> None:
    assert rules.after_events(log(("fell", 2), ("repaired", 1))).trouble == "do_not_use"
    assert rules.after_events(log(("fell", 2), ("looked_at", 1))).trouble is None
    assert rules.after_events(log(("looked_at", 1), ("fell", 1))).trouble == "do_not_use"


def test_an_earlier_look_remembered_late_does_not_clear_a_fall() -> None:
    state = rules.after_events(log(("fell", 2), ("looked_at", 5)))

    assert state == StateFacts(look_day=TODAY - timedelta(days=5), trouble="do_not_use")


def said(sort: str, look_days: int | None = None, **state: object) -> list[str]:
    tool = replace(KNIFE, sort=sort, look_days=look_days)
    facts = _State(**state)
    speech = Speech()
    return [speech.say(s.code, **s.facts) for s in rules.standing(tool, facts, TODAY)]


class _State:
    since = 0
    service_day: date | None = None
    look_day: date | None = None
    trouble: str | None = None

    def __init__(self, **facts: object) -> None:
        self.__dict__.update(facts)


@pytest.mark.parametrize(
    ("ago", "words"),
    [
        (0, "Looked at today."),
        (1, "Looked at 1 day ago."),
        (3, "Looked at 3 days ago."),
        (30, "Looked at 30 days ago."),
        (31, "Not checked since Sat, Feb 14, 2026."),
    ],
)
def test_a_stand_says_when_it_was_last_looked_at(ago: int, words: str) -> None:
    assert said("stand", 30, look_day=TODAY - timedelta(days=ago)) == [words]


def test_a_tool_with_no_look_due_still_says_when_it_had_one() -> None:
    assert said("hammer") == []
    assert said("hammer", None, look_day=TODAY - timedelta(days=90)) == ["Looked at 90 days ago."]
    assert said("stand", 30) == ["Not looked at yet."]


def test_trouble_comes_first() -> None:
    fell = said("stand", 30, trouble="do_not_use", look_day=TODAY)

    assert fell == ["Do not use until looked at.", "Looked at today."]
    assert said("stand", None, trouble="look_first") == ["Look at it before tomorrow."]


def test_no_sentence_about_a_tool_says_it_is_ok() -> None:
    for words in CATALOGUE.values():
        spoken = [text for code, text in words.items() if code.startswith("tool")]
        assert not [text for text in spoken if {"ok", "okay", "fine", "safe"} & _words(text)]


def _words(text: str) -> set[str]:
    return set(text.lower().replace(".", " ").replace(",", " ").split())


@pytest.mark.parametrize(
    ("since", "words"),
    [
        (12_800, "Since last sharpened about 13 ordinary horses’ worth."),
        (1_600, "Since last sharpened about 1½ ordinary horses’ worth."),
        (1_100, "Since last sharpened about 1 ordinary horse’s worth."),
        (400, "Since last sharpened about ½ ordinary horse’s worth."),
        (249, "Hardly used since last sharpened."),
        (6_200_000, "Since last sharpened about 6,200 ordinary horses’ worth."),
    ],
)
def test_work_since_sharpened_is_said_in_ordinary_horses(since: int, words: str) -> None:
    assert said("nippers", since=since, service_day=TODAY) == [words]


def test_a_knife_never_sharpened_and_a_rasp_say_so_in_their_own_words() -> None:
    assert said("knife", since=2_000) == ["About 2 ordinary horses’ worth, and not sharpened yet."]
    assert said("rasp", since=20_000) == ["About 20 ordinary horses’ worth on it."]


@given(st.integers(0, 10**8))
def test_words_are_never_further_off_than_half_a_step(worked: int) -> None:
    text, _ = rules.worth(worked)
    halves = 2 * int(text.replace(",", "").replace("½", "") or 0) + ("½" in text)

    assert abs(500 * halves - worked) <= (500 if worked >= 10_000 else 250)


def test_a_rasp_goes_from_hooves_to_finishing_to_hot_work_and_no_further() -> None:
    assert rules.next_stage("rasp", "new") == "finishing"
    assert rules.next_stage("rasp", "finishing") == "hot"
    for sort, stage in (("rasp", "hot"), ("knife", None)):
        with pytest.raises(Refused, match="no_next_stage"):
            rules.next_stage(sort, stage)


def test_every_kind_event_and_caution_has_its_words() -> None:
    codes = [f"tool.{sort}" for sort in TOOL_KINDS] + [f"tool_event.{sort}" for sort in EVENTS]
    codes += [code for cautions in rules.CAUTIONS.values() for code in cautions]

    for words in CATALOGUE.values():
        assert not [code for code in codes if code not in words]


def test_the_worked_examples_in_the_docs_come_out_as_printed() -> None:
    page = Path(__file__).parents[2] / "docs" / "rules" / "tools.md"

    failed, tried = doctest.testfile(str(page), module_relative=False)

    assert failed == 0
    assert tried > 10
