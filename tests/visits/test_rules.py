"""Facts folded into works, what a work takes, what a horse wears, and who bears what."""

from datetime import date
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from backoffice.errors import Refused
from backoffice.pricing.rules import RecipePart
from backoffice.units import Foot, FootWork
from backoffice.visits import rules
from backoffice.visits.rules import FactSort, FootState, Need, PastFoot, Said
from backoffice.words import Speech

SHOE, NAIL, PAD, GLUE = 1, 2, 3, 4
DAY = date(2026, 3, 17)
BOOKED = Said(
    id="booked",
    subject="7",
    sort=FactSort.BOOKED,
    data={
        "place_no": 1,
        "horse": 7,
        "service": 3,
        "say": 12_000,
        "travel": 1_000,
        "feet": {
            "LF": {"done": "new", "shoe": SHOE, "nail": NAIL, "nails": 6},
            "RF": {"done": "new", "shoe": SHOE, "nail": NAIL, "nails": 6},
            "LH": {"done": "trim"},
            "RH": {"done": "trim"},
        },
    },
)


def fact(id: str, sort: FactSort, number: int, corrects: str | None = None, **data: Any) -> Said:
    """A fact about the one horse, as the phone counted it and in order of arrival."""
    return Said(
        id=id, subject="7", sort=sort, data=data, seq=number, device="phone", counter=number,
        corrects=corrects,
    )  # fmt: skip


def told(id: str, number: int, say: int, corrects: str | None = None) -> Said:
    return fact(id, FactSort.TOLD, number, corrects, say=say)


def arriving(said: list[Said], order: list[int]) -> list[Said]:
    """Let facts arrive in another order than they were counted in, some of them twice."""
    return [
        Said(
            id=said[place].id, subject=said[place].subject, sort=said[place].sort,
            data=said[place].data, seq=seq, device=said[place].device,
            counter=said[place].counter, corrects=said[place].corrects,
        )
        for seq, place in enumerate(order, 1)
    ]  # fmt: skip


def in_turn(kinds: list[tuple[FactSort, int]], device: str = "phone") -> list[Said]:
    """Make the facts one device says, one after another; a withdrawal takes back an earlier one."""
    said: list[Said] = []
    for counter, (sort, value) in enumerate(kinds, 1):
        data: dict[FactSort, dict[str, Any]] = {
            FactSort.TOLD: {"say": value},
            FactSort.MINUTES: {"minutes": value},
            FactSort.NOTE: {"text": f"note {value}"},
            FactSort.GROUND: {"ground": ("mud", "dry", "sand")[value % 3]},
            FactSort.FEET: {"feet": {"LH": {"done": ("trim", "not_done")[value % 2]}}},
            FactSort.PAYERS: {"parts": [[value, 1]]},
            FactSort.PAID: {"client": None, "amount": value, "tip": 0, "method": "cash"},
            FactSort.ALONG: {"farrier": value},
            FactSort.TOOL: {"tool": value, "what": "leaned"},
            FactSort.ODOMETER: {"out": 100, "in": 100 + value},
        }
        corrects = None
        if said and (sort is FactSort.WITHDRAWN or value % 5 == 0):
            corrects = said[value % len(said)].id
        said.append(
            Said(
                id=f"{device}-{counter}", subject=str(value % 2), sort=sort,
                data=data.get(sort, {}), seq=counter, device=device, counter=counter,
                corrects=corrects,
            )
        )  # fmt: skip
    return said


SORTS = st.sampled_from([sort for sort in FactSort if sort is not FactSort.BOOKED])
KINDS = st.lists(st.tuples(SORTS, st.integers(0, 99)), min_size=1, max_size=12)


@given(KINDS, st.data())
def test_what_a_phone_said_gives_the_same_works_in_whatever_order_and_however_often_it_arrives(
    kinds: list[tuple[FactSort, int]], data: st.DataObject
) -> None:
    said = in_turn(kinds)
    places = list(range(len(said)))
    again = data.draw(st.lists(st.sampled_from(places), max_size=6))
    order = data.draw(st.permutations(places + again))

    assert rules.fold(arriving(said, order)) == rules.fold(said)


@given(KINDS, st.data())
def test_facts_arriving_one_by_one_end_as_they_would_all_at_once(
    kinds: list[tuple[FactSort, int]], data: st.DataObject
) -> None:
    arrived = arriving(in_turn(kinds), data.draw(st.permutations(range(len(kinds)))))
    shuffled = data.draw(st.permutations(arrived))

    assert rules.fold(shuffled) == rules.fold(arrived)


@given(KINDS, KINDS, st.data())
def test_each_device_is_heard_in_its_own_order_at_the_turns_it_had(
    one: list[tuple[FactSort, int]], other: list[tuple[FactSort, int]], data: st.DataObject
) -> None:
    said = in_turn(one) + in_turn(other, device="table")
    arrived = arriving(said, data.draw(st.permutations(range(len(said)))))

    ordered = rules.in_order(arrived)

    assert sorted(found.id for found in ordered) == sorted(found.id for found in arrived)
    assert [found.device for found in ordered] == [found.device for found in arrived]
    for device in ("phone", "table"):
        own = [found.counter for found in ordered if found.device == device]
        assert own == sorted(own)


def test_a_later_fact_corrects_an_earlier_one() -> None:
    state = rules.fold([BOOKED, told("a", 1, 9_000), told("b", 2, 8_000, corrects="a")])

    assert state.works["7"].told == 8_000


def test_what_is_taken_back_was_never_said() -> None:
    taken_back = fact("b", FactSort.WITHDRAWN, 2, "a")

    assert rules.fold([BOOKED, told("a", 1, 9_000), taken_back]) == rules.fold([BOOKED])


def test_a_correction_taken_back_lets_the_first_word_stand_again() -> None:
    facts = [
        BOOKED,
        told("a", 1, 9_000),
        told("b", 2, 8_000, corrects="a"),
        fact("c", FactSort.WITHDRAWN, 3, "b"),
    ]

    assert [found.id for found in rules.standing(rules.in_order(facts))] == ["booked", "a"]
    assert rules.fold(facts).works["7"].told == 9_000


def test_a_correction_of_a_correction_stands_alone() -> None:
    facts = [
        told("a", 1, 9_000),
        told("b", 2, 8_000, corrects="a"),
        told("c", 3, 7_000, corrects="b"),
        fact("d", FactSort.WITHDRAWN, 4, "a"),
    ]

    assert [found.id for found in rules.standing(facts)] == ["c"]


def test_a_horse_booked_and_not_spoken_of_is_planned_as_booked() -> None:
    work = rules.fold([BOOKED]).works["7"]

    assert (work.outcome, work.horse_id, work.booked, work.travel) == ("planned", 7, 12_000, 1_000)
    assert {foot.value: state.done.value for foot, state in work.feet.items()} == {
        "LF": "new",
        "RF": "new",
        "LH": "trim",
        "RH": "trim",
    }


def test_as_planned_does_the_plan_and_a_horse_not_there_had_nothing_done() -> None:
    done = rules.fold([BOOKED, fact("a", FactSort.AS_PLANNED, 1)]).works["7"]
    absent = rules.fold([BOOKED, fact("a", FactSort.ABSENT, 1)]).works["7"]

    assert (done.outcome, done.feet) == ("done", done.plan)
    assert (absent.outcome, dict(absent.feet)) == ("absent", {})


def test_feet_said_alone_change_only_those_feet_and_keep_what_was_planned() -> None:
    pulled = fact("a", FactSort.FEET, 1, feet={"LF": {"done": "pulled"}, "RH": {"done": "none"}})
    work = rules.fold([BOOKED, pulled]).works["7"]

    assert work.outcome == "done"
    assert work.feet[Foot.LF] == FootState(planned=FootWork.NEW, done=FootWork.PULLED)
    assert work.feet[Foot.RF] == work.plan[Foot.RF]
    assert work.feet[Foot.RH] == FootState(planned=FootWork.TRIM, done=FootWork.NONE)
    assert work.booked == 12_000


def test_a_foot_left_undone_makes_the_work_part_done() -> None:
    left = fact("a", FactSort.FEET, 1, feet={"LH": {"done": "not_done"}})

    assert rules.fold([BOOKED, left]).works["7"].outcome == "part"


def test_another_service_than_booked_has_no_price_told_beforehand() -> None:
    other = fact("a", FactSort.FEET, 1, service=5, feet={"LF": {"done": "trim"}})
    work = rules.fold([BOOKED, other]).works["7"]

    assert (work.service_id, work.booked) == (5, None)


def test_the_ground_belongs_to_the_visit_and_makes_no_horse() -> None:
    state = rules.fold([Said(id="g", subject="", sort=FactSort.GROUND, data={"ground": "mud"})])

    assert (state.ground, dict(state.works)) == ("mud", {})


@pytest.mark.parametrize("nails", [-1, 0, 17, 26, 10**9])
def test_a_count_of_nails_nobody_drives_is_not_known_when_it_comes_from_afar(nails: int) -> None:
    said = fact("a", FactSort.FEET, 1, feet={"LF": {"done": "new", "shoe": SHOE, "nails": nails}})

    assert rules.fold([BOOKED, said]).works["7"].feet[Foot.LF].nails is None


@pytest.mark.parametrize(("nails", "guess"), [(26, 6), (17, 7), (60, 6), (0, 6), (108, 8)])
def test_a_slipped_count_of_nails_is_asked_back_with_the_likelier_one(
    nails: int, guess: int
) -> None:
    with pytest.raises(Refused) as refused:
        rules.sayable_nails(nails)

    assert (refused.value.field, refused.value.facts) == ("nails", {"nails": nails, "guess": guess})
    said = Speech().say(refused.value.code, **refused.value.facts)
    assert said == f"{nails} nails in one shoe? {guess}, perhaps."


def test_one_to_sixteen_nails_go_into_a_shoe() -> None:
    assert [rules.sayable_nails(nails) for nails in range(1, 17)] == list(range(1, 17))


FEET = st.builds(
    FootState,
    planned=st.sampled_from(FootWork),
    done=st.sampled_from(FootWork),
    shoe=st.none() | st.integers(1, 9),
    nail=st.none() | st.integers(1, 9),
    nails=st.none() | st.integers(1, 16),
    pad=st.none() | st.integers(1, 9),
)


@given(FEET.filter(lambda state: state.done.shod))
def test_a_shod_foot_written_as_a_fact_is_read_back(state: FootState) -> None:
    said = fact("a", FactSort.FEET, 1, feet={"LF": rules.foot_facts(state)})
    folded = rules.fold([said]).works["7"].feet[Foot.LF]

    assert (folded.done, folded.shoe, folded.nail, folded.nails, folded.pad) == (
        state.done,
        state.shoe,
        state.nail,
        state.nails,
        state.pad,
    )


def foot(done: FootWork, **with_what: int | None) -> FootState:
    return FootState(planned=done, done=done, **with_what)


SHOD = {"shoe": SHOE, "nail": NAIL, "nails": 6}


def test_a_new_shoe_takes_a_shoe_and_its_nails() -> None:
    assert rules.needs({Foot.LF: foot(FootWork.NEW, **SHOD)}, ()) == (
        Need(foot=Foot.LF, item=SHOE, qty=1),
        Need(foot=Foot.LF, item=NAIL, qty=6),
    )


def test_a_reset_takes_its_nails_only_even_where_a_pad_is_named() -> None:
    assert rules.needs({Foot.LH: foot(FootWork.RESET, **SHOD, pad=PAD)}, ()) == (
        Need(foot=Foot.LH, item=NAIL, qty=6),
    )


@pytest.mark.parametrize("done", [FootWork.TRIM, FootWork.PULLED, FootWork.NONE, FootWork.NOT_DONE])
def test_a_foot_without_a_shoe_nailed_on_takes_nothing(done: FootWork) -> None:
    assert rules.needs({Foot.RF: foot(done, **SHOD, pad=PAD)}, ()) == ()


def test_a_pad_goes_on_with_a_new_shoe() -> None:
    needs = rules.needs({Foot.RF: foot(FootWork.NEW, **SHOD, pad=PAD)}, ())

    assert Need(foot=Foot.RF, item=PAD, qty=1) in needs


def test_what_is_not_known_yet_is_needed_all_the_same() -> None:
    assert rules.needs({Foot.RF: foot(FootWork.NEW)}, ()) == (
        Need(foot=Foot.RF, item=None, qty=1),
        Need(foot=Foot.RF, item=None, qty=None),
    )


def test_what_a_service_takes_besides_counts_by_the_shod_foot_or_by_the_horse() -> None:
    feet = {
        Foot.LF: foot(FootWork.NEW, **SHOD),
        Foot.RF: foot(FootWork.RESET, **SHOD),
        Foot.LH: foot(FootWork.TRIM),
    }
    recipe = [
        RecipePart(item=PAD, qty=3, per_foot=True),
        RecipePart(item=GLUE, qty=1, per_foot=False),
    ]

    assert rules.needs(feet, recipe)[-2:] == (
        Need(foot=None, item=PAD, qty=6),
        Need(foot=None, item=GLUE, qty=1),
    )
    assert rules.needs({Foot.LF: foot(FootWork.TRIM)}, recipe) == (
        Need(foot=None, item=GLUE, qty=1),
    )


def past(work_id: int, day: date, feet: dict[Foot, FootState]) -> list[PastFoot]:
    return [PastFoot(work_id=work_id, day=day, foot=at, state=state) for at, state in feet.items()]


FRONTS = {
    Foot.LF: foot(FootWork.NEW, **SHOD),
    Foot.RF: foot(FootWork.NEW, **SHOD),
    Foot.LH: foot(FootWork.TRIM),
    Foot.RH: foot(FootWork.TRIM),
}
APRIL, MAY = date(2026, 4, 28), date(2026, 5, 9)


def test_a_horse_wears_what_was_nailed_on_and_a_trim_leaves_it() -> None:
    trimmed = {foot_: foot(FootWork.TRIM) for foot_ in Foot}
    now = rules.horse_now(past(1, DAY, FRONTS) + past(2, APRIL, trimmed))

    assert set(now.wears) == {Foot.LF, Foot.RF}
    assert now.wears[Foot.LF].work_id == 1
    assert (now.last_work_id, now.last_day, now.shod) == (2, APRIL, False)


def test_a_shoe_pulled_for_the_winter_is_what_goes_on_in_spring() -> None:
    pulled = {Foot.LF: foot(FootWork.PULLED), Foot.RF: foot(FootWork.PULLED)}

    now = rules.horse_now(past(1, DAY, FRONTS) + past(2, APRIL, pulled))

    assert sorted(now.wears) == [Foot.LF, Foot.RF]
    assert now.wears[Foot.LF].state.shoe == FRONTS[Foot.LF].shoe
    assert now.shod is False


def test_resets_of_one_shoe_are_counted_until_a_new_one_goes_on() -> None:
    again = {at: foot(FootWork.RESET, **SHOD) for at in (Foot.LF, Foot.RF)}
    twice = past(1, DAY, FRONTS) + past(2, APRIL, again) + past(3, MAY, again)

    assert rules.horse_now(twice).wears[Foot.LF].resets == 2
    assert rules.horse_now(twice + past(4, MAY, FRONTS)).wears[Foot.LF].resets == 0
    assert rules.horse_now(past(2, APRIL, again)).wears[Foot.LF].resets == 0


def test_one_lost_shoe_put_back_does_not_begin_the_weeks_anew() -> None:
    put_back = {Foot.LF: foot(FootWork.NEW, **SHOD), Foot.RF: foot(FootWork.NONE)}
    now = rules.horse_now(past(1, DAY, FRONTS) + past(2, MAY, put_back))

    assert (now.last_work_id, now.last_day, now.shod) == (1, DAY, True)
    assert now.wears[Foot.LF].work_id == 2
    assert not rules.moves_due_day(put_back.values())
    assert rules.moves_due_day(FRONTS.values())


LEFT = {
    Foot.LF: foot(FootWork.NEW, **SHOD),
    Foot.RF: foot(FootWork.NEW, **SHOD),
    Foot.LH: foot(FootWork.NOT_DONE),
    Foot.RH: foot(FootWork.NOT_DONE),
}


def test_feet_left_undone_are_due_until_they_are_done_and_then_count_from_the_first_day() -> None:
    begun = past(1, DAY, LEFT)
    hinds = {Foot.LH: foot(FootWork.TRIM), Foot.RH: foot(FootWork.TRIM)}
    one = {Foot.LH: foot(FootWork.TRIM), Foot.RH: foot(FootWork.NONE)}

    assert rules.horse_now(begun).unfinished
    assert rules.horse_now(begun + past(2, APRIL, one)).unfinished
    finished = rules.horse_now(begun + past(2, APRIL, hinds))
    assert not finished.unfinished
    assert (finished.last_work_id, finished.last_day, finished.shod) == (1, DAY, True)


def test_a_shoe_put_back_counts_from_when_it_was_nailed_on_first() -> None:
    back = {Foot.LF: foot(FootWork.RESET, **SHOD, lost="found")}
    story = past(1, DAY, FRONTS) + past(2, APRIL, back)

    assert rules.nailed_on(story, [Foot.LF]) == DAY
    assert rules.nailed_on(story, [Foot.LF, Foot.LH]) is None
    assert rules.nailed_on([], [Foot.LF]) is None


def test_the_miles_of_a_day_are_shared_by_how_far_each_yard_is_to_the_cent() -> None:
    # 54 miles at 72.5 cents are 39.15: by 6, 11 and 16 of 33.
    assert rules.driven(54, 72_500, [6, 11, 16]) == (712, 1_305, 1_898)
    # A yard whose miles nobody knows counts as the mean of the others, 8.
    assert rules.driven(20, 100_000, [6, None, 10]) == (501, 666, 833)
    assert rules.driven(3, 100_000, [None, None]) == (150, 150)


def test_an_apprentice_saves_a_part_and_feet_left_take_no_time() -> None:
    assert rules.minutes_of(85, 1_000, saved_ppm=100_000) == 77  # 76.5
    assert rules.minutes_of(85, 1_000, done=2, of=4) == 43  # 42.5
    assert rules.minutes_of(20, 2_100, done=4, of=4, saved_ppm=100_000) == 38  # 37.8


def visit_fact(id: str, sort: FactSort, number: int, **data: Any) -> Said:
    """A fact about the visit as a whole."""
    return Said(id=id, subject="", sort=sort, data=data, seq=number, counter=number)


def test_what_is_said_of_the_visit_makes_no_horse() -> None:
    state = rules.fold(
        [
            visit_fact("a", FactSort.ALONG, 1, farrier=2),
            visit_fact("b", FactSort.ODOMETER, 2, out=100, **{"in": 154}),
            visit_fact("c", FactSort.TOOL, 3, tool=5, what="slipped"),
            visit_fact("d", FactSort.TOOL, 4, tool=None, what="none"),
            visit_fact("e", FactSort.PAID, 5, client=1, amount=100, tip=0, method="cash"),
        ]
    )

    assert state.works == {}
    assert (state.helper, state.miles) == (2, 54)
    assert [(said.tool, said.what) for said in state.tools] == [(5, "slipped"), (None, "none")]


def test_an_odometer_that_runs_backwards_says_nothing() -> None:
    state = rules.fold([visit_fact("a", FactSort.ODOMETER, 1, out=154, **{"in": 100})])

    assert state.miles is None


def test_who_pays_this_once_and_a_part_of_the_trip_told_are_the_horses_own() -> None:
    work = rules.fold(
        [
            BOOKED,
            fact("a", FactSort.PAYERS, 1, parts=[[4, 1], [5, 2]]),
            fact("b", FactSort.TOLD, 2, travel=0),
            fact("c", FactSort.TOLD, 3, say=9_000),
        ]
    ).works["7"]

    assert work.payers == ((4, 1), (5, 2))
    assert (work.told, work.travel_told) == (9_000, 0)
    back = fact("d", FactSort.TOLD, 4, say=None)
    assert rules.fold([BOOKED, told("a", 1, 9_000), back]).works["7"].told is None


def test_a_booking_that_arrives_last_is_what_was_done_as_planned() -> None:
    done = fact("a", FactSort.AS_PLANNED, 1)
    late = Said(id="b", subject="7", sort=FactSort.BOOKED, data=BOOKED.data, seq=2, counter=2)

    assert rules.fold([done, late]).works["7"].feet == rules.fold([BOOKED, done]).works["7"].feet


def test_a_horse_never_done_wears_nothing_and_was_last_done_never() -> None:
    now = rules.horse_now([])

    assert (now.last_work_id, now.last_day, now.shod, dict(now.wears)) == (None, None, False, {})
    assert rules.due_after(DAY, None) is None
    assert rules.due_after(DAY, 42) == APRIL


@given(
    st.integers(-(10**9), 10**9),
    st.lists(st.integers(-1_000, 100_000), min_size=1, max_size=5),
)
def test_a_cost_shared_by_what_each_pays_sums_to_the_cost(whole: int, nets: list[int]) -> None:
    parts = rules.by_net(whole, nets)

    assert sum(parts) == whole
    if min(nets) < 0 or not any(nets):
        assert parts == rules.by_net(whole, [1] * len(nets))
        assert max(parts) - min(parts) <= 1


def test_who_pays_three_times_as_much_bears_three_times_the_cost() -> None:
    assert rules.by_net(1_000, (9_000, 3_000)) == (750, 250)
    assert rules.by_net(1_001, (0, 0)) == (501, 500)


@pytest.mark.parametrize(
    ("miles", "rate", "cents"),
    [(10, 72_500, 1_450), (None, 72_500, 0), (0, 72_500, 0), (1, 250, 1)],
)
def test_a_drive_costs_its_miles_out_and_back(miles: int | None, rate: int, cents: int) -> None:
    assert rules.drive_cost(miles, rate) == cents


def test_a_heavy_horse_takes_its_share_longer() -> None:
    assert rules.minutes_of(20, 2_100) == 42
    assert rules.minutes_of(55, 1_000) == 55


def test_the_ground_to_expect_follows_the_months() -> None:
    found = {rules.ground_in(date(2026, month, 1)): month for month in range(1, 13)}

    assert [rules.ground_in(date(2026, month, 15)) for month in range(1, 13)] == (
        ["mud"] * 3 + ["ordinary"] * 3 + ["dry"] * 3 + ["ordinary"] + ["mud"] * 2
    )
    assert set(found) == {"mud", "ordinary", "dry"}
