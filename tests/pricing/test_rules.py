"""Which price wins, who pays which part of it, and what comes next time."""

import doctest
from dataclasses import replace
from datetime import date
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from backoffice.errors import Refused
from backoffice.money import apply_rate
from backoffice.pricing import rules
from backoffice.pricing.models import TAX_KINDS
from backoffice.pricing.rules import (
    Dated,
    Found,
    Guarantee,
    Line,
    PriceBook,
    PriceFacts,
    ServiceLine,
    Share,
    TaxRule,
)
from backoffice.units import Foot, FootWork
from backoffice.words import CATALOGUE, Speech

JANUARY = date(2026, 1, 1)
LISTED = Found(amount=12_000, reason="price.listed", facts={"from_day": "2026-01-01"})
FACTS = PriceFacts(
    service_id=2,
    outcome="done",
    told=None,
    booked=None,
    listed=LISTED,
    travel=0,
    taxes=rules.tax_rules({}),
    includes_tax=False,
)
TRIM, FRONTS, RESET, FULL, FULL_RESET = 1, 2, 3, 4, 5
SERVICES = {
    number: ServiceLine(
        id=number, name=name, front=front, hind=hind, minutes=0, place_no=0, hidden=False
    )
    for number, name, front, hind in (
        (TRIM, "trim", "trim", "trim"),
        (FRONTS, "fronts", "new", "trim"),
        (RESET, "fronts reset", "reset", "trim"),
        (FULL, "full set", "new", "new"),
        (FULL_RESET, "full reset", "reset", "reset"),
    )
}


def priced(**changes: object) -> list[tuple[str, int, str]]:
    lines = rules.price_work(replace(FACTS, **changes))  # type: ignore[arg-type]
    return [(line.sort, line.quoted, line.reason) for line in lines]


def test_the_first_price_there_is_wins() -> None:
    assert priced(told=9_000, booked=11_000) == [("told", 9_000, "price.told")]
    assert priced(booked=11_000) == [("service", 11_000, "price.booked")]
    assert priced() == [("service", 12_000, "price.listed")]


def test_a_price_of_nothing_told_at_the_yard_is_a_price() -> None:
    assert priced(told=0) == [("told", 0, "price.told")]
    assert priced(booked=0) == [("service", 0, "price.booked")]


def test_a_price_not_known_makes_no_line_and_is_named() -> None:
    unknown = replace(FACTS, listed=None, travel=500)

    assert [line.sort for line in rules.price_work(unknown)] == ["travel"]


def test_an_absent_horse_pays_nothing_and_its_part_of_the_trip_is_waived() -> None:
    absent = replace(FACTS, outcome="absent", booked=12_000, travel=500)
    (line,) = rules.price_work(absent)

    assert (line.sort, line.quoted, line.net, line.waived) == ("travel", 0, 0, 500)
    assert (line.reason, line.service_id) == ("price.travel_waived", None)
    assert rules.price_work(replace(absent, travel=0)) == ()


def test_a_fee_told_for_an_absent_horse_is_charged() -> None:
    assert priced(outcome="absent", told=5_000) == [("told", 5_000, "price.told")]


def by_feet(left: str, right: str = "", *, hind: str = "not_done") -> int | None:
    """Price feet by what was done to each, on the list below."""
    book = PriceBook(
        services=SERVICES,
        recipes={},
        agreed={},
        taxes=rules.tax_rules({}),
        listed={
            (TRIM, None): Dated(amount=5_800, from_day=JANUARY),
            (FRONTS, None): Dated(amount=12_000, from_day=JANUARY),
            (RESET, None): Dated(amount=11_200, from_day=JANUARY),
            (FULL, None): Dated(amount=17_500, from_day=JANUARY),
        },
    )
    feet = {
        Foot.LF: FootWork(left),
        Foot.RF: FootWork(right or left),
        Foot.LH: FootWork(hind),
        Foot.RH: FootWork(hind),
    }
    return book.price_of_part(feet, None, ())


@pytest.mark.parametrize(
    ("left", "right", "hind", "cents"),
    [
        ("new", "new", "not_done", 9_100),  # 120.00 less half a trim of 58.00
        ("new", "new", "trim", 12_000),
        ("new", "new", "new", 17_500),  # and 84.00 for the hinds
        ("not_done", "not_done", "new", 8_400),
        ("trim", "trim", "none", 2_900),
        ("reset", "reset", "not_done", 8_300),
        ("new", "not_done", "not_done", 4_550),  # one foot is half of its pair
        ("new", "reset", "trim", 11_600),  # 45.50, 41.50 and 29.00
        ("trim", "not_done", "not_done", 1_450),
    ],
)
def test_feet_are_priced_by_what_was_done_to_each(
    left: str, right: str, hind: str, cents: int
) -> None:
    assert by_feet(left, right, hind=hind) == cents


def test_feet_nobody_has_a_price_for_are_not_known() -> None:
    assert by_feet("pulled") is None
    assert by_feet("not_done", hind="reset") is None


def test_a_horse_done_in_part_costs_its_feet_and_never_more_than_the_whole() -> None:
    assert priced(outcome="part", booked=17_500, part=9_100) == [
        ("service", 9_100, "price.part_of")
    ]
    assert priced(outcome="part", booked=8_000, part=9_100) == [("service", 8_000, "price.part_of")]
    assert priced(outcome="part", listed=None, part=9_100) == [("service", 9_100, "price.part")]
    assert priced(outcome="part", booked=17_500) == []
    assert priced(outcome="part", told=9_000, part=9_100) == [("told", 9_000, "price.told")]


def test_the_finish_costs_what_is_left_and_no_trip() -> None:
    assert priced(booked=8_400, finish=True, travel=500) == [
        ("service", 8_400, "price.finish"),
        ("travel", 0, "price.travel_finish"),
    ]


def under_guarantee(**changes: object) -> Guarantee:
    standing = {"day": 9, "of": 14, "on_schedule": True, "owing": False}
    return Guarantee(**(standing | changes))  # type: ignore[arg-type]


@pytest.mark.parametrize(
    ("changes", "quoted", "waived", "reason"),
    [
        ({}, 0, 12_000, "price.guarantee"),
        ({"day": 14}, 0, 12_000, "price.guarantee"),
        ({"day": 15}, 12_000, 0, "price.lost_over"),
        ({"day": None}, 12_000, 0, "price.lost_unknown"),
        ({"on_schedule": False}, 12_000, 0, "price.lost_late"),
        ({"owing": True}, 12_000, 0, "price.lost_owing"),
    ],
)
def test_a_lost_shoe_is_free_within_the_days_on_schedule_and_paid_up(
    changes: dict[str, object], quoted: int, waived: int, reason: str
) -> None:
    (line,) = rules.price_work(replace(FACTS, guarantee=under_guarantee(**changes)))

    assert (line.quoted, line.waived, line.reason) == (quoted, waived, reason)


def test_under_guarantee_the_trip_is_free_too_unless_a_price_was_told() -> None:
    held = under_guarantee()
    assert priced(guarantee=held, travel=500)[1] == ("travel", 0, "price.travel_guarantee")
    assert priced(guarantee=held, told=2_000, travel=500) == [
        ("told", 2_000, "price.told"),
        ("travel", 500, "price.travel_booked"),
    ]


def test_a_part_of_the_trip_told_wins_and_what_is_let_off_is_kept() -> None:
    (_, line) = rules.price_work(replace(FACTS, travel=500, travel_told=200))
    assert (line.quoted, line.waived, line.reason) == (200, 300, "price.travel_told")
    assert priced(outcome="absent", travel=500, travel_told=500) == [
        ("travel", 500, "price.travel_told")
    ]
    assert priced(travel=0, travel_told=500)[1] == ("travel", 500, "price.travel_told")


def test_what_a_stop_lacks_to_its_minimum_is_shared_by_horse() -> None:
    assert rules.minimum_parts(7_500, 5_800, 1) == (1_700,)
    assert rules.minimum_parts(7_500, 5_800, 3) == (567, 567, 566)
    assert rules.minimum_parts(7_500, 7_500, 2) == (0, 0)
    assert rules.minimum_parts(7_500, 0, 0) == ()


def test_who_was_absent_free_or_coming_back_shares_in_no_minimum() -> None:
    def counts(**changes: object) -> bool:
        facts = replace(FACTS, travel=500, **changes)  # type: ignore[arg-type]
        return rules.has_minimum(facts, rules.price_work(facts))

    assert counts()
    assert not counts(outcome="absent")
    assert not counts(finish=True, booked=8_400)
    assert not counts(guarantee=under_guarantee())
    assert counts(guarantee=under_guarantee(day=30))
    assert not counts(listed=None)


def test_a_lost_shoe_says_nothing_about_what_comes_next() -> None:
    lost = ServiceLine(
        id=9, name="lost", front="none", hind="none", minutes=0, place_no=0, hidden=False
    )

    assert rules.feet_worked(lost) == 0
    assert rules.propose_next([FRONTS, 9], {**SERVICES, 9: lost}) == FRONTS
    assert rules.propose_next([9], {9: lost}) is None


def test_the_part_of_the_trip_is_the_one_booked() -> None:
    assert priced(travel=500)[1] == ("travel", 500, "price.travel_booked")


def test_prices_that_include_tax_keep_what_was_quoted() -> None:
    taxed = rules.tax_rules({"labour": TaxRule(category="S", rate_ppm=200_000)})
    facts = replace(FACTS, booked=5_800, travel=500, taxes=taxed, includes_tax=True)
    service, travel = rules.price_work(facts)

    assert (service.quoted, service.net, service.category, service.rate_ppm) == (
        5_800, 4_833, "S", 200_000,
    )  # fmt: skip
    assert (travel.quoted, travel.net, travel.category, travel.tax_kind) == (
        500,
        500,
        "E",
        "travel",
    )
    without = rules.price_work(replace(facts, includes_tax=False))
    assert [(line.quoted, line.net) for line in without] == [(5_800, 5_800), (500, 500)]


@given(st.integers(0, 10**7), st.integers(0, 10**6))
def test_tax_put_back_on_a_net_is_what_was_quoted_to_the_cent(quoted: int, rate_ppm: int) -> None:
    net = rules.net_of(quoted, rate_ppm)

    assert abs(net + apply_rate(net, rate_ppm) - quoted) <= 1
    assert 0 <= net <= quoted


def test_nothing_set_is_outside_sales_tax_and_beside_a_taxed_kind_it_is_exempt() -> None:
    inside = TaxRule(category="S", rate_ppm=71_250)

    assert rules.tax_rules({}) == dict.fromkeys(TAX_KINDS, TaxRule(category="O"))
    assert rules.tax_rules({"goods": inside, "travel": TaxRule(category="O")}) == {
        "labour": TaxRule(category="E"),
        "goods": inside,
        "travel": TaxRule(category="E"),
    }


@given(st.dictionaries(st.sampled_from(TAX_KINDS), st.sampled_from("SZEO")))
def test_no_bill_is_ever_both_inside_and_outside_sales_tax(categories: dict[str, str]) -> None:
    in_force = {
        kind: TaxRule(category=category, rate_ppm=200_000 if category == "S" else 0)
        for kind, category in categories.items()
    }
    found = rules.tax_rules(in_force)

    assert set(found) == set(TAX_KINDS)
    assert len({rule.category == "O" for rule in found.values()}) == 1
    assert all(found[k] == rule for k, rule in in_force.items() if rule.category != "O")


def book(**changes: object) -> PriceBook:
    empty = PriceBook(services=SERVICES, recipes={}, listed={}, agreed={}, taxes={})
    return replace(empty, **changes)  # type: ignore[arg-type]


def test_an_agreed_price_goes_before_the_list_and_the_own_kind_before_any() -> None:
    any_kind, own, agreed = (Dated(amount=a, from_day=JANUARY) for a in (120, 230, 100))
    prices = book(
        listed={(FRONTS, None): any_kind, (FRONTS, 7): own}, agreed={(31, FRONTS): agreed}
    )

    assert prices.price_of(FRONTS, None, ()) == Found(
        amount=120, reason="price.listed", facts={"from_day": "2026-01-01"}
    )
    assert prices.price_of(FRONTS, 8, (30,)).amount == 120  # type: ignore[union-attr]
    assert prices.price_of(FRONTS, 7, ()).reason == "price.listed_for_kind"  # type: ignore[union-attr]
    assert prices.price_of(FRONTS, 7, (30, 31)).amount == 100  # type: ignore[union-attr]
    assert prices.price_of(TRIM, 7, (31,)) is None
    assert prices.price_of(None, 7, (31,)) is None


def test_of_two_who_agreed_a_price_the_first_named_decides() -> None:
    first, second = Dated(amount=100, from_day=JANUARY), Dated(amount=90, from_day=JANUARY)
    prices = book(agreed={(30, TRIM): first, (31, TRIM): second})

    assert prices.price_of(TRIM, None, (31, 30)).amount == 90  # type: ignore[union-attr]


def line(quoted: int, net: int | None = None) -> Line:
    return Line(
        sort="service", service_id=1, qty=1, quoted=quoted, net=quoted if net is None else net,
        waived=0, tax_kind="labour", category="O", rate_ppm=0, reason="price.told", facts={},
    )  # fmt: skip


def test_the_odd_cent_goes_to_the_first_named() -> None:
    assert rules.share_line(line(5_801, 4_835), ((30, 1), (31, 1))) == (
        Share(client_id=30, quoted=2_901, net=2_418),
        Share(client_id=31, quoted=2_900, net=2_417),
    )


def test_a_horse_nobody_is_known_to_pay_for_has_one_unknown_payer() -> None:
    unknown = (Share(client_id=None, quoted=5_800, net=5_800),)

    assert rules.share_line(line(5_800), ((None, 1),)) == unknown
    assert rules.share_line(line(5_800), ()) == unknown


@given(
    st.lists(st.tuples(st.integers(0, 10**6), st.integers(0, 10**6)), max_size=4),
    st.lists(st.integers(1, 100), min_size=1, max_size=5),
)
def test_shares_sum_to_the_line_in_what_was_quoted_and_in_net(
    amounts: list[tuple[int, int]], parts: list[int]
) -> None:
    lines = [line(quoted, net) for quoted, net in amounts]
    shared = tuple(rules.share_line(line, tuple(enumerate(parts))) for line in lines)

    assert len(shared) == len(lines)
    for whole, shares in zip(lines, shared, strict=True):
        assert sum(share.quoted for share in shares) == whole.quoted
        assert sum(share.net for share in shares) == whole.net
        assert [share.client_id for share in shares] == list(range(len(parts)))


def test_a_call_out_is_shared_by_the_horses_booked_to_the_cent() -> None:
    assert rules.travel_parts(4_500, 9) == (500,) * 9
    assert rules.travel_parts(1_000, 3) == (334, 333, 333)
    assert rules.travel_parts(None, 2) == (0, 0)
    assert rules.travel_parts(4_500, 0) == ()


@given(st.integers(0, 10**6), st.integers(1, 40))
def test_the_parts_of_a_call_out_sum_to_it(call_out: int, horses: int) -> None:
    parts = rules.travel_parts(call_out, horses)

    assert sum(parts) == call_out
    assert max(parts) - min(parts) <= 1


def test_a_service_says_what_it_does_to_each_foot() -> None:
    assert rules.planned_feet("new", "trim") == {
        Foot.LF: FootWork.NEW,
        Foot.RF: FootWork.NEW,
        Foot.LH: FootWork.TRIM,
        Foot.RH: FootWork.TRIM,
    }
    with pytest.raises(ValueError, match="polish"):
        rules.planned_feet("polish", "trim")


@pytest.mark.parametrize(
    ("done", "proposed"),
    [
        ([], None),
        ([99], None),
        ([TRIM], TRIM),
        ([FRONTS], FRONTS),
        ([FRONTS, FRONTS], FRONTS),
        ([FRONTS, RESET], FRONTS),
        ([FRONTS, RESET, FRONTS], RESET),
        ([FRONTS, RESET, FRONTS, RESET], FRONTS),
        ([FRONTS, RESET, RESET], FRONTS),
        ([FRONTS, RESET, FRONTS, FRONTS], FRONTS),  # reset once, but not the last time
        ([FRONTS, TRIM, FRONTS], FRONTS),  # bare over the winter
        ([FULL, FULL_RESET, FRONTS], FRONTS),  # a reset of other feet
        ([FULL, FULL_RESET, FRONTS, FULL], FULL_RESET),
        ([FRONTS, RESET, TRIM], TRIM),
        ([RESET], RESET),  # its new shoes are not known
        ([FRONTS, 99, RESET], FRONTS),
    ],
)
def test_next_time_follows_the_horse_s_own_pattern(done: list[int], proposed: int | None) -> None:
    assert rules.propose_next(done, SERVICES) == proposed


def test_every_reason_can_be_said_in_both_sets_of_words() -> None:
    for words in CATALOGUE:
        speech = Speech(words=words, currency="GBP" if words == "uk" else "USD")
        assert speech.say(LISTED.reason, **LISTED.facts).endswith("2026.")
        for code in ("told", "booked", "travel_booked", "travel_waived", "unknown"):
            assert speech.say(f"price.{code}")


def test_shares_that_make_nothing_are_refused() -> None:
    with pytest.raises(Refused, match="make_nothing"):
        rules.share_line(line(100), ((1, 0),))


def test_the_worked_examples_in_the_docs_come_out_as_printed() -> None:
    page = Path(__file__).parents[2] / "docs" / "rules" / "pricing.md"

    failed, tried = doctest.testfile(str(page), module_relative=False)

    assert failed == 0
    assert tried > 10
