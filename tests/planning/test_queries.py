"""The load list, the stop as it is left, and what is asked about a horse, on both databases."""

from collections.abc import Callable
from datetime import date, timedelta

import pytest
import sqlalchemy as sa
from sqlalchemy.orm import Session

from backoffice.billing import service as billing
from backoffice.clients import service as clients
from backoffice.clients.rules import HorseDetails
from backoffice.daybook import service as daybook
from backoffice.db import Database
from backoffice.errors import Refused
from backoffice.planning import queries
from backoffice.practice import service as practice
from backoffice.practice.rules import FarrierDetails, PlaceDetails
from backoffice.pricing import queries as prices
from backoffice.pricing import service as pricing
from backoffice.pricing.rules import ServiceDetails
from backoffice.stock import service as stock
from backoffice.stock.rules import ItemDetails
from backoffice.units import Foot, FootWork
from backoffice.visits import queries as visits
from backoffice.visits import service as visiting
from backoffice.visits.rules import FactSort, FootState
from tests.factories import OPENED, Small, feet_said, fronts_on, plan, said, small_practice

DAY = date(2026, 3, 17)


def furnished(both: Database) -> Small:
    with both.writing() as unit:
        return small_practice(unit.session)


def worked(both: Database, small: Small, day: date, horse: int, service: int) -> None:
    """Do a horse as planned, and write the day up."""
    with both.writing() as unit:
        stop = plan(unit.session, small, day, horse, service=service)
        fact = said(horse, FactSort.AS_PLANNED, f"done-{horse}-{day}")
        visiting.say(unit.session, stop, [fact])
        billing.close_day(unit.session, day, today=day)


def shod(both: Database, small: Small, day: date, horse: int) -> None:
    """Nail fronts on a horse, and write the day up."""
    with both.writing() as unit:
        stop = plan(unit.session, small, day, horse, service=small.fronts)
        fact = feet_said(horse, fronts_on(small), f"shod-{horse}-{day}")
        visiting.say(unit.session, stop, [fact])
        billing.close_day(unit.session, day, today=day)


def load_list(both: Database, place_id: int | None = None, day: date = DAY) -> queries.LoadList:
    with both.reading() as session:
        return queries.load_list(session, day, place_id)


def needs(found: queries.LoadList) -> dict[str, tuple[int, int | None, int | None]]:
    return {line.item.label: (line.need, line.here, line.short) for line in found.lines}


@pytest.mark.parametrize("winter", ["Trim", "Pull shoes + trim"])
def test_a_horse_put_back_into_shoes_in_spring_counts_as_shod(both: Database, winter: str) -> None:
    small = furnished(both)
    shod(both, small, date(2026, 1, 12), small.bay)
    with both.writing() as unit:
        pulled = pricing.save_service(
            unit.session,
            ServiceDetails(name="Pull shoes + trim", front="pulled", hind="trim", minutes=35),
        )
    barefoot = {"Trim": small.trim, "Pull shoes + trim": pulled}[winter]
    worked(both, small, date(2026, 2, 10), small.bay, barefoot)
    with both.writing() as unit:
        plan(unit.session, small, DAY, small.bay, service=small.fronts)
    found = load_list(both)

    # 2 of 20 shoes and 12 of 250 nails went on in January; 6 % of 12 nails, 0.72, is 1 more
    assert needs(found) == {"Shoe 1": (2, 18, 0), "Nail 5": (13, 238, 0)}
    assert found.not_known == ()
    assert (found.place.name, found.stops, found.horses) == ("Truck A", 1, 1)


def test_a_horse_of_unknown_size_is_named_and_the_rest_is_counted(both: Database) -> None:
    small = furnished(both)
    shod(both, small, date(2026, 2, 3), small.bay)
    with both.writing() as unit:
        plan(unit.session, small, DAY, small.bay, small.stray, service=small.fronts)
    found = load_list(both)

    assert needs(found)["Shoe 1"][0] == 2
    assert [(one.name, one.what) for one in found.not_known] == [("Stray", "size_nails")]


def test_what_is_short_is_named_with_where_there_are_others(both: Database) -> None:
    small = furnished(both)
    shod(both, small, date(2026, 2, 3), small.bay)
    with both.writing() as unit:
        entry = daybook.record(unit.session, "count", DAY)
        stock.count(unit.session, entry, small.shoe, small.truck, 1, DAY)
        stock.count(unit.session, entry, small.shoe, small.shop, 7, DAY)
        plan(unit.session, small, DAY, small.bay, service=small.full)
    found = load_list(both)
    line = found.lines[0]

    assert (line.item.label, line.need, line.here, line.short) == ("Shoe 1", 2, 1, 1)
    assert line.elsewhere == (("Shop", 7),)
    assert [(one.name, one.what) for one in found.not_known] == [("Bramble", "size_nails")]


def test_a_shelf_never_counted_is_not_known(both: Database) -> None:
    small = furnished(both)
    with both.writing() as unit:
        clay = stock.save_item(unit.session, ItemDetails(sort="packing", name="Clay"))
        pricing.set_recipe(unit.session, small.trim, clay, 1, "horse")
        plan(unit.session, small, DAY, small.bay, service=small.trim)

    assert needs(load_list(both)) == {"Clay": (1, None, None)}


def test_odd_ones_and_sizes_that_are_worn_and_not_along(both: Database) -> None:
    small = furnished(both)
    shod(both, small, date(2026, 2, 3), small.bay)
    with both.writing() as unit:
        zero = stock.save_item(
            unit.session, ItemDetails(sort="shoe", name="Shoe", size_text="0", pack=2)
        )
        entry = daybook.record(unit.session, "count", DAY)
        stock.count(unit.session, entry, zero, small.truck, 3, DAY)
        stock.count(unit.session, entry, small.shoe, small.truck, 0, DAY)
        plan(unit.session, small, DAY, small.bay, service=small.trim)
    found = load_list(both)

    assert [(one.item.label, one.here) for one in found.odd] == [("Shoe 0", 3)]
    assert [(one.item.label, one.here) for one in found.none_along] == [("Shoe 1", 0)]


def test_done_and_not_written_up_still_counts_and_missed_or_written_up_does_not(
    both: Database,
) -> None:
    small = furnished(both)
    for horse, day in ((small.bay, 2), (small.shared, 3), (small.stray, 4)):
        shod(both, small, date(2026, 2, day), horse)
    with both.writing() as unit:
        horses = (small.bay, small.shared, small.stray)
        stop = plan(unit.session, small, DAY, *horses, service=small.fronts)
        visiting.say(unit.session, stop, [said(small.bay, FactSort.AS_PLANNED)])
        visiting.say(unit.session, stop, [said(small.shared, FactSort.ABSENT)])
    assert needs(load_list(both))["Shoe 1"] == (4, 14, 0)

    with both.writing() as unit:
        billing.close_day(unit.session, DAY, today=DAY)
    assert needs(load_list(both))["Shoe 1"] == (2, 12, 0)


def test_days_before_that_are_not_finished_are_named(both: Database) -> None:
    small = furnished(both)
    friday = date(2026, 3, 13)
    with both.writing() as unit:
        plan(unit.session, small, friday, small.bay, service=small.trim)
        plan(unit.session, small, DAY, small.shared, service=small.trim)
    assert load_list(both).unfinished == (friday,)
    assert load_list(both, day=friday).unfinished == ()

    with both.writing() as unit:
        (work,) = visits.open_works(unit.session, small.bay)
        visiting.say(unit.session, work.visit_id, [said(small.bay, FactSort.AS_PLANNED)])
        billing.close_day(unit.session, friday, today=DAY)
    assert load_list(both).unfinished == ()


def test_each_truck_loads_for_its_own_stops(both: Database) -> None:
    small = furnished(both)
    with both.writing() as unit:
        other = practice.save_place(unit.session, PlaceDetails(name="Truck B"))
        farrier = practice.save_farrier(
            unit.session, FarrierDetails(name="Petra Sloe", place_id=other)
        )
        stop = visiting.NewStop(
            farrier_id=farrier,
            yard_id=small.yard,
            day=DAY,
            horses=(small.bay,),
            services={small.bay: small.fronts},
        )
        visiting.plan_stop(unit.session, stop, today=date(2026, 3, 16))
    found = load_list(both)

    assert (found.place.name, found.horses) == ("Truck B", 1)
    assert [truck.name for truck in found.trucks] == ["Truck A", "Truck B"]
    assert load_list(both, small.truck).horses == 0
    with pytest.raises(Refused, match=r"record\.missing"):
        load_list(both, 99)


def statements(database: Database, ask: Callable[[Session], object]) -> int:
    """Count the statements a question costs."""
    asked: list[str] = []
    with database.reading() as session:
        sa.event.listen(
            session.connection(), "before_cursor_execute", lambda *told: asked.append(told[2])
        )
        ask(session)
    return len(asked)


@pytest.mark.parametrize(
    ("ask", "budget"),
    [
        (lambda session: queries.load_list(session, DAY), 11),
        (lambda session: queries.leaving(session, 1), 2),
        (lambda session: visits.feet_now(session, 1), 1),
        (lambda session: visits.lost_shoes(session, 1, 1, OPENED), 1),
        (lambda session: visits.open_works(session, 1), 1),
    ],
    ids=["load list", "leaving", "feet now", "lost shoes", "open works"],
)
def test_it_asks_as_often_for_many_horses_as_for_one(
    both: Database, ask: Callable[[Session], object], budget: int
) -> None:
    small = furnished(both)
    counts = []
    for more in (0, 12):
        with both.writing() as unit:
            horses = [
                clients.save_horse(
                    unit.session,
                    HorseDetails(name=f"Horse {n}", type_id=small.stock_horse, yard_id=small.yard),
                )
                for n in range(more)
            ]
            plan(unit.session, small, DAY, small.bay, *horses, service=small.fronts)
        counts.append(statements(both, ask))

    assert counts == [budget, budget]


def test_a_stop_as_it_is_left_knows_how_its_horses_come_round(both: Database) -> None:
    small = furnished(both)
    with both.writing() as unit:
        racing = clients.save_horse(
            unit.session,
            HorseDetails(
                name="Comet", type_id=small.stock_horse, yard_id=small.yard, cycle_days=28
            ),
        )
        horses = (small.bay, small.shared, small.stray, racing)
        stop = plan(unit.session, small, DAY, *horses, service=small.fronts)
        visiting.say(unit.session, stop, [feet_said(small.bay, fronts_on(small))])
        visiting.say(unit.session, stop, [said(small.stray, FactSort.ABSENT)])
        visiting.set_next_times(unit.session, [small.shared], date(2026, 4, 30))
    with both.reading() as session:
        found = queries.leaving(session, stop)

    assert (found.day, found.yard_name, found.days) == (DAY, "Larkmoss", 42)
    assert [(h.name, h.outcome, h.own_days, h.usual_days, h.set_day) for h in found.horses] == [
        ("Bramble", "done", None, 42, None),
        ("Tolliver", "planned", None, 42, date(2026, 4, 30)),
        ("Stray", "absent", None, 56, None),
        ("Comet", "planned", 28, 42, None),
    ]
    with both.reading() as session, pytest.raises(Refused, match=r"record\.missing"):
        queries.leaving(session, 99)


def test_feet_now_say_what_is_on_and_what_came_off(both: Database) -> None:
    small = furnished(both)
    nailed = date(2026, 2, 3)
    shod(both, small, nailed, small.bay)
    with both.reading() as session:
        feet = {one.foot: one for one in visits.feet_now(session, small.bay)}
    assert [(feet[f].bare, feet[f].size, feet[f].nails) for f in ("LF", "LH")] == [
        (False, "1", 6),
        (True, None, None),
    ]
    assert (feet["LF"].nailed_on, feet["LH"].nailed_on) == (nailed, None)
    assert (feet["LF"].shoe_name, feet["LF"].nail_name) == ("Shoe", "Nail")

    worked(both, small, date(2026, 3, 3), small.bay, small.trim)
    with both.reading() as session:
        feet = {one.foot: one for one in visits.feet_now(session, small.bay)}
        assert visits.feet_now(session, small.stray) == ()
    assert (feet["LF"].bare, feet["LF"].size, feet["LF"].nails) == (True, "1", 6)


def lost(both: Database, small: Small, horse: int, day: date, how: str) -> None:
    """Put a lost shoe back on, and write the day up."""
    back = FootState(
        planned=FootWork.NONE,
        done=FootWork.RESET if how == "found" else FootWork.NEW,
        shoe=small.shoe,
        nail=small.nail,
        nails=6,
        lost=how,
    )
    with both.writing() as unit:
        known = {one.name: one.id for one in prices.services(unit.session)}
        service = known.get("Lost shoe") or pricing.save_service(
            unit.session, ServiceDetails(name="Lost shoe", front="none", hind="none", minutes=20)
        )
        stop = plan(unit.session, small, day, horse, service=service)
        fact = feet_said(horse, {Foot.LF: back}, f"lost-{horse}-{day}")
        visiting.say(unit.session, stop, [fact])
        billing.close_day(unit.session, day, today=day)


@pytest.mark.parametrize("how", ["found", "gone"])
def test_a_shoe_put_back_is_on_since_it_was_nailed_on_at_its_time(both: Database, how: str) -> None:
    small = furnished(both)
    nailed = date(2026, 3, 3)
    shod(both, small, nailed, small.bay)
    lost(both, small, small.bay, date(2026, 3, 12), how)
    with both.reading() as session:
        feet = {one.foot: one for one in visits.feet_now(session, small.bay)}

    assert (feet["LF"].bare, feet["LF"].nailed_on) == (False, nailed)
    assert feet["LF"].done == ("reset" if how == "found" else "new")


def test_lost_shoes_are_counted_for_a_horse_and_for_its_yard(both: Database) -> None:
    small = furnished(both)
    for horse, day in ((small.bay, 2), (small.shared, 3)):
        shod(both, small, date(2026, 3, day), horse)
    lost(both, small, small.bay, date(2026, 3, 10), "found")
    lost(both, small, small.bay, date(2026, 3, 12), "gone")
    lost(both, small, small.shared, date(2026, 3, 13), "gone")
    with both.reading() as session:
        year = visits.lost_shoes(session, small.bay, small.yard, DAY - timedelta(days=365))
        since = visits.lost_shoes(session, small.bay, small.yard, date(2026, 3, 12))
        alone = visits.lost_shoes(session, small.bay, None, OPENED)

    assert (year.horse, year.yard) == (2, 3)
    assert (since.horse, since.yard) == (1, 2)
    assert alone.horse == 2
