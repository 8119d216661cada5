"""Whether a lost shoe of a day would go back on free, before the day is closed."""

from datetime import date

import pytest

from backoffice.billing import queries, service
from backoffice.db import Database
from backoffice.pricing import service as pricing
from backoffice.pricing.rules import Guarantee, ServiceDetails
from backoffice.units import Foot, FootWork
from backoffice.visits import queries as visits
from backoffice.visits import service as works
from backoffice.visits.rules import FactSort, FootState
from tests.billing.steps import issued
from tests.factories import Small, feet_said, fronts_on, plan, said, small_practice

SHOD = date(2026, 3, 8)


def shod(both: Database) -> tuple[Small, int]:
    """Bramble got new fronts on March 8; give the practice and its service for a lost shoe."""
    with both.writing() as unit:
        small = small_practice(unit.session)
        stop = plan(unit.session, small, SHOD, small.bay, service=small.fronts)
        works.say(unit.session, stop, [feet_said(small.bay, fronts_on(small))])
        service.close_day(unit.session, SHOD, today=SHOD)
        lost = pricing.save_service(
            unit.session, ServiceDetails(name="Lost shoe", front="none", hind="none", minutes=20)
        )
    return small, lost


def on_day(both: Database, small: Small, lost: int, day: date, *horses: int) -> int:
    """Put horses on a day for a lost shoe; give the stop."""
    with both.writing() as unit:
        return plan(unit.session, small, day, *horses, service=lost)


def stands(both: Database, day: date) -> list[Guarantee]:
    with both.reading() as session:
        lines = visits.open_lost_shoes(visits.sheets(session, day))
        return list(queries.guarantees(session, lines, day).values())


def of_fourteen(day: int | None, *, owing: bool = False, on_schedule: bool = True) -> Guarantee:
    return Guarantee(day=day, of=14, on_schedule=on_schedule, owing=owing)


@pytest.mark.parametrize(
    ("day", "days", "holds"),
    [(date(2026, 3, 17), 9, True), (date(2026, 3, 22), 14, True), (date(2026, 3, 23), 15, False)],
)
def test_it_counts_from_the_day_the_shoe_was_nailed_on(
    both: Database, day: date, days: int, *, holds: bool
) -> None:
    small, lost = shod(both)
    on_day(both, small, lost, day, small.bay)

    (found,) = stands(both, day)
    assert found == of_fourteen(days)
    assert found.holds is holds


def test_of_a_horse_whose_shoes_nobody_knows_it_does_not_hold(both: Database) -> None:
    small, lost = shod(both)
    day = date(2026, 3, 17)
    on_day(both, small, lost, day, small.stray, small.bay)

    found = stands(both, day)
    assert sorted(one.holds for one in found) == [False, True]
    assert of_fourteen(None) in found


def test_until_a_foot_is_named_the_oldest_shoe_decides(both: Database) -> None:
    small, lost = shod(both)
    later, day = date(2026, 3, 20), date(2026, 3, 24)
    new = FootState(planned=FootWork.NEW, done=FootWork.NEW, shoe=small.shoe, nails=6)
    with both.writing() as unit:
        stop = plan(unit.session, small, later, small.bay, service=small.full)
        hinds = {Foot.LF: FootState(planned=FootWork.NEW, done=FootWork.NONE)}
        hinds |= {Foot.RF: hinds[Foot.LF], Foot.LH: new, Foot.RH: new}
        works.say(unit.session, stop, [feet_said(small.bay, hinds, "hinds")])
        service.close_day(unit.session, later, today=later)
    stop = on_day(both, small, lost, day, small.bay)
    assert [one.day for one in stands(both, day)] == [16]

    back = FootState(
        planned=FootWork.NONE, done=FootWork.RESET, shoe=small.shoe, nails=6, lost="found"
    )
    with both.writing() as unit:
        works.say(unit.session, stop, [feet_said(small.bay, {Foot.LH: back}, "back")])
    assert [one.day for one in stands(both, day)] == [4]


def test_an_old_bill_of_who_pays_that_day_is_looked_at(both: Database) -> None:
    small, lost = shod(both)
    issued(both, small.owner)
    # To be paid by April 1 at the latest; open for 30 days more, it is an old one.
    day = date(2026, 5, 20)
    stop = on_day(both, small, lost, day, small.bay)
    assert [one.owing for one in stands(both, day)] == [True]

    with both.writing() as unit:
        fact = said(small.bay, FactSort.PAYERS, parts=[[small.other, 1]])
        works.say(unit.session, stop, [fact])
    assert [one.owing for one in stands(both, day)] == [False]


def test_what_is_told_or_done_otherwise_or_missed_is_not_asked_for(both: Database) -> None:
    small, lost = shod(both)
    day = date(2026, 3, 17)
    stop = on_day(both, small, lost, day, small.bay)
    with both.writing() as unit:
        works.say(unit.session, stop, [said(small.bay, FactSort.ABSENT)])
    assert stands(both, day) == []

    with both.writing() as unit:
        works.unsay(unit.session, stop, str(small.bay))
        reset = FootState(planned=FootWork.NONE, done=FootWork.RESET, nails=6)
        works.say(unit.session, stop, [feet_said(small.bay, {Foot.LF: reset}, "reset")])
    assert stands(both, day) == []

    with both.writing() as unit:
        works.say(unit.session, stop, [said(small.bay, FactSort.TOLD, say=2_000)])
    assert stands(both, day) == []
