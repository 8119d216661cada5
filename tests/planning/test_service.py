"""A lost shoe put on today, and the next date of a yard, on both databases."""

from datetime import date

import pytest

from backoffice.billing import service as billing
from backoffice.clients import service as clients
from backoffice.clients.rules import HorseDetails
from backoffice.db import Database
from backoffice.errors import Refused
from backoffice.planning import service
from backoffice.pricing import service as pricing
from backoffice.pricing.rules import ServiceDetails
from backoffice.visits import queries as visits
from backoffice.visits import service as visiting
from backoffice.visits.queries import HorsePast
from backoffice.visits.rules import FactSort
from tests.factories import Small, plan, said, small_practice

DAY = date(2026, 3, 17)
NEXT = date(2026, 4, 28)


def furnished(both: Database, *, lost: bool = True) -> Small:
    with both.writing() as unit:
        small = small_practice(unit.session)
        if lost:
            pricing.save_service(
                unit.session,
                ServiceDetails(name="Lost shoe", front="none", hind="none", minutes=20),
            )
    return small


def past(both: Database, horse: int) -> HorsePast:
    with both.reading() as session:
        return visits.horse_past(session, horse)


def test_a_horse_that_lost_a_shoe_goes_on_today(both: Database) -> None:
    small = furnished(both)
    with both.writing() as unit:
        service.put_lost_shoe(unit.session, small.bay, small.farrier, today=DAY)
    with both.reading() as session:
        (work,) = visits.open_works(session, small.bay)

    assert (work.day, work.service_name, work.outcome) == (DAY, "Lost shoe", "planned")


def test_without_a_service_for_it_that_is_said(both: Database) -> None:
    small = furnished(both, lost=False)
    with both.writing() as unit, pytest.raises(Refused, match="no_lost_shoe_service"):
        service.put_lost_shoe(unit.session, small.bay, small.farrier, today=DAY)


def test_it_has_to_be_known_where_the_horse_stands(both: Database) -> None:
    small = furnished(both)
    with both.writing() as unit:
        horse = clients.save_horse(unit.session, HorseDetails(name="Pilot"))
    with both.writing() as unit, pytest.raises(Refused, match="where_does_it_stand"):
        service.put_lost_shoe(unit.session, horse, small.farrier, today=DAY)


def test_a_horse_on_today_already_is_not_put_there_again(both: Database) -> None:
    small = furnished(both)
    with both.writing() as unit:
        plan(unit.session, small, DAY, small.bay, service=small.fronts)
    with both.writing() as unit, pytest.raises(Refused, match="on_the_day_already"):
        service.put_lost_shoe(unit.session, small.bay, small.farrier, today=DAY)


def test_a_horse_that_is_gone_is_not_put_on_today(both: Database) -> None:
    small = furnished(both)
    with both.writing() as unit:
        clients.set_life(unit.session, small.bay, DAY, "sold")
    with both.writing() as unit, pytest.raises(Refused, match="horse_gone"):
        service.put_lost_shoe(unit.session, small.bay, small.farrier, today=DAY)


def test_a_date_set_before_leaving_stands_once_the_day_is_closed(both: Database) -> None:
    small = furnished(both)
    with both.writing() as unit:
        stop = plan(unit.session, small, DAY, small.bay, small.shared, service=small.trim)
        service.set_next_date(unit.session, stop, [small.bay], NEXT)
    assert (past(both, small.bay).due_day, past(both, small.bay).proposed) == (NEXT, False)

    with both.writing() as unit:
        done = [said(horse, FactSort.AS_PLANNED) for horse in (small.bay, small.shared)]
        visiting.say(unit.session, stop, done)
        billing.close_day(unit.session, DAY, today=DAY)
    set_by_him, by_itself = past(both, small.bay), past(both, small.shared)

    assert (set_by_him.due_day, set_by_him.next_service, set_by_him.proposed) == (
        NEXT, "Trim", False,
    )  # fmt: skip
    assert (by_itself.due_day, by_itself.proposed) == (date(2026, 5, 12), True)


def test_what_was_meant_for_the_visit_itself_goes_and_what_follows_is_proposed(
    both: Database,
) -> None:
    small = furnished(both)
    with both.writing() as unit:
        visiting.set_next_time(unit.session, small.bay, small.full, DAY, "pads off")
        stop = plan(unit.session, small, DAY, small.bay, service=small.trim)
        service.set_next_date(unit.session, stop, [small.bay], NEXT)
        visiting.say(unit.session, stop, [said(small.bay, FactSort.AS_PLANNED)])
        billing.close_day(unit.session, DAY, today=DAY)
    found = past(both, small.bay)

    assert (found.due_day, found.next_service, found.next_note) == (NEXT, "Trim", None)


def test_what_was_set_for_the_time_after_stays(both: Database) -> None:
    small = furnished(both)
    with both.writing() as unit:
        stop = plan(unit.session, small, DAY, small.bay, service=small.trim)
        visiting.set_next_time(unit.session, small.bay, small.full, date(2026, 5, 5), "bring 2s")
        service.set_next_date(unit.session, stop, [small.bay], NEXT)
        visiting.say(unit.session, stop, [said(small.bay, FactSort.AS_PLANNED)])
        billing.close_day(unit.session, DAY, today=DAY)
    found = past(both, small.bay)

    assert (found.due_day, found.next_service, found.next_note) == (NEXT, "Full set", "bring 2s")


def test_a_date_set_after_closing_keeps_what_was_proposed(both: Database) -> None:
    small = furnished(both)
    with both.writing() as unit:
        stop = plan(unit.session, small, DAY, small.bay, service=small.trim)
        visiting.say(unit.session, stop, [said(small.bay, FactSort.AS_PLANNED)])
        billing.close_day(unit.session, DAY, today=DAY)
        service.set_next_date(unit.session, stop, [small.bay], NEXT)
    found = past(both, small.bay)

    assert (found.due_day, found.next_service, found.proposed) == (NEXT, "Trim", False)


def test_a_next_date_is_refused_for_nobody_for_strangers_and_for_days_gone(
    both: Database,
) -> None:
    small = furnished(both)
    with both.writing() as unit:
        stop = plan(unit.session, small, DAY, small.bay, service=small.trim)
    for horses, day, code in (
        ([], NEXT, r"planning\.nobody_ticked"),
        ([small.bay], DAY, r"planning\.not_after"),
        ([small.shared], NEXT, r"record\.missing"),
        ([small.bay], date(2150, 1, 1), r"day\.far_off"),
    ):
        with both.writing() as unit, pytest.raises(Refused, match=code):
            service.set_next_date(unit.session, stop, horses, day)
