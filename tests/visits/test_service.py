"""One horse from the truck to the bill, on both engines, checked by hand to the cent."""

from collections.abc import Callable
from dataclasses import replace
from datetime import UTC, date, datetime, timedelta
from threading import Thread

import pytest
import sqlalchemy as sa
from sqlalchemy.orm import Session

from backoffice import schema
from backoffice.billing import queries as bills
from backoffice.billing import service as billing
from backoffice.daybook import service as daybook
from backoffice.db import Database
from backoffice.errors import Refused
from backoffice.practice import service as practice
from backoffice.stock.models import OnHand
from backoffice.tools import service as tools
from backoffice.tools.models import ToolEvent, ToolState
from backoffice.units import Foot, FootWork
from backoffice.visits import queries, service
from backoffice.visits.models import PriceLine, Result, Unbilled
from backoffice.visits.rules import FactSort, FootState, Said
from tests.factories import Small, feet_said, fronts_on, new_shoe, plan, said, small_practice

DAY = date(2026, 3, 17)


def on_hand(session: sa.orm.Session, item: int) -> int:
    return session.scalars(sa.select(OnHand.qty).where(OnHand.item_id == item)).one()


def test_a_horse_planned_done_and_closed_is_priced_drawn_and_worn(both: Database) -> None:
    with both.writing() as unit:
        small = small_practice(unit.session)
        visit = plan(unit.session, small, DAY, small.bay, service=small.fronts)
        service.say(unit.session, visit, [feet_said(small.bay, fronts_on(small))])
    with both.writing() as unit:
        closed = billing.close_day(unit.session, DAY, today=DAY)
    with both.reading() as session:
        work = queries.works_of(session, visit)[0]
        card = queries.work_card(session, work.id)
        assert card is not None
        assert closed == 1
        # Two shoes at 5.50, twelve nails at 0.10; 6 % of 12 nails is no whole nail yet.
        assert on_hand(session, small.shoe) == 18
        assert on_hand(session, small.nail) == 238
        assert sum(line.cost for line in card.materials) == 1_100 + 120
        assert [(line.sort, line.quoted) for line in card.lines] == [
            ("service", 12_000),
            ("travel", 1_000),
        ]
        assert [(r.client_id, r.net, r.material) for r in card.results] == [
            (small.owner, 13_000, 1_220)
        ]
        # Ten miles out and back at 72.5 cents.
        assert card.results[0].drive == 1_450
        assert card.results[0].minutes == 55
        worn = session.scalars(sa.select(ToolState.total).where(ToolState.tool_id == small.knife))
        assert worn.one() > 0
    assert schema.check(both) == []


def test_as_planned_does_what_the_horse_wears(both: Database) -> None:
    later = date(2026, 4, 28)
    with both.writing() as unit:
        small = small_practice(unit.session)
        visit = plan(unit.session, small, DAY, small.bay, service=small.fronts)
        service.say(unit.session, visit, [feet_said(small.bay, fronts_on(small))])
        billing.close_day(unit.session, DAY, today=DAY)
    with both.writing() as unit:
        visit = plan(unit.session, small, later, small.bay, service=small.fronts)
        service.say(unit.session, visit, [said(small.bay, FactSort.AS_PLANNED)])
        billing.close_day(unit.session, later, today=later)
    with both.reading() as session:
        # 12 + 12 nails driven: 6 % of 24 is one whole nail wasted, taken with the second horse.
        assert on_hand(session, small.shoe) == 16
        assert on_hand(session, small.nail) == 225
    assert schema.check(both) == []


def test_a_reset_takes_nails_and_no_shoes(both: Database) -> None:
    later = date(2026, 4, 28)
    with both.writing() as unit:
        small = small_practice(unit.session)
        visit = plan(unit.session, small, DAY, small.bay, service=small.fronts)
        service.say(unit.session, visit, [feet_said(small.bay, fronts_on(small))])
        billing.close_day(unit.session, DAY, today=DAY)
        visit = plan(unit.session, small, later, small.bay, service=small.fronts_reset)
        service.say(unit.session, visit, [said(small.bay, FactSort.AS_PLANNED, "again")])
        billing.close_day(unit.session, later, today=later)
    with both.reading() as session:
        assert on_hand(session, small.shoe) == 18
        assert on_hand(session, small.nail) == 225
        assert queries.horse_past(session, small.bay).wears[0].done == "reset"
    assert schema.check(both) == []


def test_a_shared_horse_is_split_to_the_cent_with_the_odd_cent_to_the_first_named(
    both: Database,
) -> None:
    with both.writing() as unit:
        small = small_practice(unit.session)
        visit = plan(unit.session, small, DAY, small.shared, service=small.trim)
        told = said(small.shared, FactSort.TOLD, say=5_801)
        done = said(small.shared, FactSort.AS_PLANNED)
        service.say(unit.session, visit, [told, done])
        billing.close_day(unit.session, DAY, today=DAY)
    with both.reading() as session:
        ready = bills.ready_bills(session, includes_tax=False)
        assert [(bill.client_id, bill.totals.payable) for bill in ready] == [
            (small.owner, 2_901 + 500),
            (small.other, 2_900 + 500),
        ]
    assert schema.check(both) == []


def test_an_unknown_payer_holds_up_only_itself(both: Database) -> None:
    with both.writing() as unit:
        small = small_practice(unit.session)
        visit = plan(unit.session, small, DAY, small.bay, small.stray, service=small.trim)
        facts = [said(horse, FactSort.AS_PLANNED) for horse in (small.bay, small.stray)]
        service.say(unit.session, visit, facts)
        assert billing.close_day(unit.session, DAY, today=DAY) == 2
    with both.reading() as session:
        ready = bills.ready_bills(session, includes_tax=False)
        assert [bill.client_id for bill in ready] == [small.owner]
        assert [(found.sort, found.name) for found in queries.to_find_out(session)] == [
            ("payer", "Stray")
        ]
    assert schema.check(both) == []


def test_an_absent_horse_has_its_part_of_the_trip_waived_and_nobody_pays_it(
    both: Database,
) -> None:
    with both.writing() as unit:
        small = small_practice(unit.session)
        visit = plan(unit.session, small, DAY, small.bay, small.shared, service=small.trim)
        service.say(
            unit.session,
            visit,
            [said(small.bay, FactSort.AS_PLANNED), said(small.shared, FactSort.ABSENT)],
        )
        billing.close_day(unit.session, DAY, today=DAY)
    with both.reading() as session:
        ready = bills.ready_bills(session, includes_tax=False, client_id=small.owner)[0]
        absent = queries.works_of(session, visit)[1]
        card = queries.work_card(session, absent.id)
        assert card is not None
        assert ready.totals.payable == 5_800 + 500
        assert [(line.quoted, line.waived) for line in card.lines] == [(0, 500)]
    assert schema.check(both) == []


def test_facts_sent_twice_are_kept_once(both: Database) -> None:
    with both.writing() as unit:
        small = small_practice(unit.session)
        visit = plan(unit.session, small, DAY, small.bay, service=small.trim)
    for _ in range(2):
        with both.writing() as unit:
            service.say(unit.session, visit, [said(small.bay, FactSort.AS_PLANNED)])
    with both.reading() as session:
        assert len(queries.facts_of(session, visit)) == 2
    assert schema.check(both) == []


def test_a_fact_after_closing_changes_nothing_and_waits_to_be_found_out(both: Database) -> None:
    with both.writing() as unit:
        small = small_practice(unit.session)
        visit = plan(unit.session, small, DAY, small.bay, service=small.trim)
        service.say(unit.session, visit, [said(small.bay, FactSort.AS_PLANNED)])
        billing.close_day(unit.session, DAY, today=DAY)
        service.say(unit.session, visit, [said(small.bay, FactSort.TOLD, "late", say=9_900)])
    with both.reading() as session:
        ready = bills.ready_bills(session, includes_tax=False)
        assert ready[0].totals.payable == 5_800 + 1_000
        assert [found.sort for found in queries.to_find_out(session)] == ["late"]
    assert schema.check(both) == []


def test_a_closed_horse_put_right_moves_stock_and_wear_and_leaves_the_price(
    both: Database,
) -> None:
    with both.writing() as unit:
        small = small_practice(unit.session)
        visit = plan(unit.session, small, DAY, small.bay, service=small.fronts)
        service.say(unit.session, visit, [feet_said(small.bay, fronts_on(small))])
        billing.close_day(unit.session, DAY, today=DAY)
    with both.writing() as unit:
        work = queries.works_of(unit.session, visit)[0]
        feet = {foot: new_shoe(small, nails=8) for foot in fronts_on(small)}
        said_right = feet_said(small.bay, feet, "put right")
        service.put_right(unit.session, visit, [said_right], today=DAY)
    with both.reading() as session:
        assert on_hand(session, small.shoe) == 16
        # 32 nails driven, 6 % of them is one whole nail.
        assert on_hand(session, small.nail) == 250 - 32 - 1
        card = queries.work_card(session, work.id)
        assert card is not None
        assert sum(line.quoted for line in card.lines) == 13_000
        assert card.results[0].material == 4 * 550 + 330
    assert schema.check(both) == []


def test_a_price_is_changed_before_billing_and_stock_stays(both: Database) -> None:
    with both.writing() as unit:
        small = small_practice(unit.session)
        visit = plan(unit.session, small, DAY, small.bay, service=small.fronts)
        service.say(unit.session, visit, [feet_said(small.bay, fronts_on(small))])
        billing.close_day(unit.session, DAY, today=DAY)
        work = queries.works_of(unit.session, visit)[0]
        service.reprice_work(unit.session, work.id, told=10_000, today=DAY)
    with both.reading() as session:
        ready = bills.ready_bills(session, includes_tax=False)
        assert ready[0].totals.payable == 11_000
        assert on_hand(session, small.shoe) == 18
    assert schema.check(both) == []


def test_the_payer_is_found_out_and_the_bill_becomes_ready(both: Database) -> None:
    from backoffice.clients import service as clients

    with both.writing() as unit:
        small = small_practice(unit.session)
        visit = plan(unit.session, small, DAY, small.stray, service=small.trim)
        service.say(unit.session, visit, [said(small.stray, FactSort.AS_PLANNED)])
        billing.close_day(unit.session, DAY, today=DAY)
        clients.set_payers(unit.session, small.stray, DAY, [(small.other, 1)])
        work = queries.works_of(unit.session, visit)[0]
        service.reprice_work(unit.session, work.id, told=None, today=DAY)
    with both.reading() as session:
        ready = bills.ready_bills(session, includes_tax=False)
        assert [(bill.client_id, bill.totals.payable) for bill in ready] == [(small.other, 6_800)]
        assert queries.to_find_out(session) == ()
        assert session.scalars(sa.select(sa.func.count(Unbilled.share_id))).one() == 2
    assert schema.check(both) == []


def fronts_alone(session: Session, small: Small) -> int:
    """A full set was booked for the bay; its fronts were done, and the hinds left."""
    visit = plan(session, small, DAY, small.bay, service=small.full)
    left = FootState(planned=FootWork.NEW, done=FootWork.NOT_DONE)
    feet = fronts_on(small) | {Foot.LH: left, Foot.RH: left}
    service.say(session, visit, [feet_said(small.bay, feet)])
    return visit


def test_a_horse_done_in_part_is_priced_by_its_feet(both: Database) -> None:
    with both.writing() as unit:
        small = small_practice(unit.session)
        visit = fronts_alone(unit.session, small)
        billing.close_day(unit.session, DAY, today=DAY)
    with both.reading() as session:
        (work,) = queries.works_of(session, visit)
        assert work.outcome == "part"
        assert queries.work_charged(session, work.id) == 9_100  # 120.00 less half a trim
        assert work.minutes == 43  # half of 85
        assert queries.to_find_out(session) == ()
        assert [horse.work_id for horse in queries.to_finish(session)] == [work.id]
    assert schema.check(both) == []


def test_feet_left_for_good_leave_the_price_as_it_was(both: Database) -> None:
    with both.writing() as unit:
        small = small_practice(unit.session)
        visit = fronts_alone(unit.session, small)
        billing.close_day(unit.session, DAY, today=DAY)
        (work,) = queries.works_of(unit.session, visit)
        service.leave_unfinished(unit.session, work.id)
    assert schema.check(both) == []
    with both.writing() as unit:
        assert queries.to_finish(unit.session) == ()
        assert queries.works_of(unit.session, visit)[0].outcome == "done"
        minutes = Said(id="m", subject=str(small.bay), sort=FactSort.MINUTES, data={"minutes": 50})
        service.put_right(unit.session, visit, [minutes], today=DAY)
        assert queries.work_charged(unit.session, work.id) == 9_100
    assert schema.check(both) == []


def test_the_minimum_of_a_stop_is_topped_up_once(both: Database) -> None:
    with both.writing() as unit:
        session = unit.session
        small = small_practice(session)
        practice.change_setting(session, "minimum_cents", 20_000)
        horses = (small.bay, small.shared)
        visit = plan(session, small, DAY, *horses, service=small.trim)
        service.say(session, visit, [as_planned(small.bay)])
        billing.close_day(session, DAY, today=DAY)
        # 58.00 and half of the 10.00 trip: 137.00 are lacking, and the bay is there alone.
        assert minimums(session) == [13_700]
        service.say(session, visit, [as_planned(small.shared)])
        billing.close_day(session, DAY, today=DAY)
        assert minimums(session) == [13_700]
    assert schema.check(both) == []


def minimums(session: Session) -> list[int]:
    lines = sa.select(PriceLine.quoted).where(PriceLine.sort == "minimum")
    return list(session.scalars(lines.order_by(PriceLine.id)))


def as_planned(horse: int) -> Said:
    return Said(id=f"planned-{horse}", subject=str(horse), sort=FactSort.AS_PLANNED)


def whole(id: str, sort: FactSort, **data: object) -> Said:
    return Said(id=id, subject="", sort=sort, data=data)


def test_what_is_said_of_a_closed_day_waits_and_is_taken_in_or_dropped(both: Database) -> None:
    with both.writing() as unit:
        session = unit.session
        small = small_practice(session)
        visit = plan(session, small, DAY, small.bay, service=small.fronts)
        service.say(session, visit, [as_planned(small.bay)])
        billing.close_day(session, DAY, today=DAY)
        before = queries.costs_of(session, [1])[1]
        late = [
            whole("sand", FactSort.GROUND, ground="sand"),
            whole("odo", FactSort.ODOMETER, out=10, **{"in": 50}),
            whole("fell", FactSort.TOOL, tool=small.stand, what="fell"),
        ]
        service.say(session, visit, late)
        assert queries.costs_of(session, [1])[1] == before
        assert [found.sort for found in queries.to_find_out(session)] == ["shoes", "late"]
        service.apply_late(session, visit, "", today=DAY)
        after = queries.costs_of(session, [1])[1]
        assert after.tool > before.tool
        assert after.material == before.material
        assert session.scalars(sa.select(Result.drive)).all() == [2_900]  # 40 miles at 72.5 cents
        assert session.scalars(sa.select(ToolEvent.sort)).all() == ["fell"]
        assert [found.sort for found in queries.to_find_out(session)] == ["shoes"]
        service.say(session, visit, [whole("dry", FactSort.GROUND, ground="dry")])
        service.drop_late(session, visit, "")
        assert queries.visits_of(session, [visit])[visit].ground == "sand"
        assert [found.sort for found in queries.to_find_out(session)] == ["shoes"]
    assert schema.check(both) == []


def test_a_stand_looked_at_since_it_slipped_is_not_to_be_looked_at_again(both: Database) -> None:
    def at(hour: int) -> datetime:
        return datetime(2026, 3, 17, hour, tzinfo=UTC)

    with both.writing(at=at(13)) as unit:
        small = small_practice(unit.session)
        visit = plan(unit.session, small, DAY, small.bay, service=small.trim)
        slipped = whole("slipped", FactSort.TOOL, tool=small.stand, what="slipped")
        service.say(unit.session, visit, [as_planned(small.bay), slipped])
    with both.writing(at=at(17)) as unit:
        entry_id = daybook.record(unit.session, "tool", DAY)
        tools.record_event(unit.session, entry_id, small.stand, "looked_at")
    with both.writing(at=at(18)) as unit:
        again = whole("fell", FactSort.TOOL, tool=small.stand, what="fell")
        service.say(unit.session, visit, [again])
    with both.writing(at=at(19)) as unit:
        billing.close_day(unit.session, DAY, today=DAY)
    with both.reading() as session:
        events = session.scalars(sa.select(ToolEvent.sort).order_by(ToolEvent.id)).all()
        assert events == ["looked_at", "fell"]
    assert schema.check(both) == []


def test_a_fact_that_came_late_is_taken_in_with_all_that_follows(both: Database) -> None:
    with both.writing() as unit:
        session = unit.session
        small = small_practice(session)
        visit = plan(session, small, DAY, small.bay, service=small.trim)
        service.say(session, visit, [as_planned(small.bay)])
        billing.close_day(session, DAY, today=DAY)
        told = Said(id="late", subject=str(small.bay), sort=FactSort.TOLD, data={"say": 7_000})
        shod = feet_said(small.bay, fronts_on(small))
        service.say(session, visit, [told, shod])
        assert queries.work_charged(session, 1) == 5_800
        service.apply_late(session, visit, str(small.bay), today=DAY)
        assert queries.work_charged(session, 1) == 7_000
        assert queries.costs_of(session, [1])[1].material > 1_100  # two shoes and their nails
        assert {foot.value for _, foot in queries.wears_of(session, [small.bay])} == {"LF", "RF"}
        assert queries.to_find_out(session) == ()
    assert schema.check(both) == []


def test_a_horse_said_to_be_absent_by_mistake_was_there_after_all(both: Database) -> None:
    with both.writing() as unit:
        session = unit.session
        small = small_practice(session)
        visit = plan(session, small, DAY, small.bay, small.shared, service=small.trim)
        gone = Said(id="gone", subject=str(small.bay), sort=FactSort.ABSENT)
        service.say(session, visit, [gone, as_planned(small.shared)])
        billing.close_day(session, DAY, today=DAY)
        back = Said(id="back", subject=str(small.bay), sort=FactSort.AS_PLANNED)
        service.put_right(session, visit, [back], today=DAY)
        work = queries.work_of(session, visit, str(small.bay))
        assert work is not None
        assert (work.outcome, work.minutes) == ("done", 20)
        assert queries.work_charged(session, work.id) == 5_800
        service.put_right(session, visit, [replace(gone, id="gone again")], today=DAY)
        assert queries.work_charged(session, work.id) is None
    assert schema.check(both) == []


def test_a_horse_known_in_words_is_taken_on_once_and_named_later(both: Database) -> None:
    with both.writing() as unit:
        session = unit.session
        small = small_practice(session)
        visit = plan(session, small, DAY, small.bay, service=small.trim)
        words = "Sarah's new bay"
        for _ in range(2):
            subject = service.extra_horse(
                session, visit, words, service_id=small.trim, say_price=5_800, key="press"
            )
        assert subject == "x1"
        service.say(session, visit, [Said(id="bay", subject="x1", sort=FactSort.AS_PLANNED)])
        billing.close_day(session, DAY, today=DAY)
        assert [(f.sort, f.words) for f in queries.to_find_out(session)] == [("payer", words)]
        work = queries.work_of(session, visit, "x1")
        assert work is not None
        assert (work.place_no, work.told, work.travel) == (2, 5_800, 0)
        sort, data = service.which_horse(session, work.id, small.stray)
        named_so = Said(id="named", subject="x1", sort=sort, data=data)
        service.put_right(session, visit, [named_so], today=DAY)
        named = queries.work_of(session, visit, "x1")
        assert named is not None
        assert named.horse_id == small.stray
        with pytest.raises(Refused) as refused:
            service.which_horse(session, work.id, small.bay)
        assert refused.value.code == "visits.named_already"
    assert schema.check(both) == []


def test_a_finish_is_refused_while_nothing_is_left_or_the_day_is_open(both: Database) -> None:
    with both.writing() as unit:
        session = unit.session
        small = small_practice(session)
        visit = fronts_alone(session, small)
        (work,) = queries.works_of(session, visit)
        week = DAY + timedelta(days=7)
        assert refusal(lambda: service.plan_finish(session, work.id, week, today=DAY)) == (
            "visits.close_first"
        )
        billing.close_day(session, DAY, today=DAY)
        assert refusal(lambda: service.plan_finish(session, work.id, DAY, today=DAY)) == (
            "visits.there_already"
        )
        yesterday = DAY - timedelta(days=1)
        assert refusal(lambda: service.plan_finish(session, work.id, yesterday, today=DAY)) == (
            "visits.day_passed"
        )
        service.leave_unfinished(session, work.id)
        assert refusal(lambda: service.plan_finish(session, work.id, week, today=DAY)) == (
            "visits.nothing_left"
        )
        assert refusal(lambda: service.leave_unfinished(session, work.id)) == (
            "visits.nothing_left"
        )


def test_a_horse_that_is_to_be_finished_stays_so_when_others_join_its_stop(both: Database) -> None:
    week = DAY + timedelta(days=7)
    with both.writing() as unit:
        session = unit.session
        small = small_practice(session)
        visit = fronts_alone(session, small)
        billing.close_day(session, DAY, today=DAY)
        (begun,) = queries.works_of(session, visit)
        finish = service.plan_finish(session, begun.id, week, today=DAY)
        joined = service.NewStop(
            farrier_id=small.farrier,
            yard_id=small.yard,
            day=week,
            horses=(small.bay, small.shared),
            services={small.bay: small.full, small.shared: small.trim},
        )
        assert service.plan_stop(session, joined, today=DAY) == finish
        horses = {work.horse_id: work for work in queries.works_of(session, finish)}
        assert (horses[small.bay].finishes_id, horses[small.bay].booked) == (begun.id, 8_400)
        assert horses[small.bay].travel == 0
        assert horses[small.shared].travel == 1_000  # the whole call-out: it comes for nobody else
        due = {horse.horse_id: horse for horse in queries.due_list(session, week, small.yard)}
        assert due[small.bay].planned_day == due[small.shared].planned_day == week
    assert schema.check(both) == []


def refusal(act: Callable[[], object]) -> str:
    with pytest.raises(Refused) as refused:
        act()
    return refused.value.code


def test_a_horse_added_on_the_day_carries_no_part_of_the_trip(both: Database) -> None:
    with both.writing() as unit:
        small = small_practice(unit.session)
        visit = plan(unit.session, small, DAY, small.bay, service=small.trim)
        added = service.NewStop(
            farrier_id=small.farrier,
            yard_id=small.yard,
            day=DAY,
            horses=(small.shared,),
            services={small.shared: small.trim},
        )
        assert service.plan_stop(unit.session, added, today=DAY) == visit
    with both.reading() as session:
        assert [work.travel for work in queries.works_of(session, visit)] == [1_000, 0]
    assert schema.check(both) == []


def test_a_horse_added_before_the_day_shares_the_trip(both: Database) -> None:
    with both.writing() as unit:
        small = small_practice(unit.session)
        visit = plan(unit.session, small, DAY, small.bay, service=small.trim)
        plan(unit.session, small, DAY, small.shared, small.stray, service=small.fronts)
    with both.reading() as session:
        works = queries.works_of(session, visit)
        assert [work.travel for work in works] == [334, 333, 333]
        assert [work.service_id for work in works] == [small.trim, small.fronts, small.fronts]
    assert schema.check(both) == []


def test_no_horse_ticked_is_asked_for(database: Database) -> None:
    with database.writing() as unit:
        small = small_practice(unit.session)
    with pytest.raises(Refused) as refused, database.writing() as unit:
        plan(unit.session, small, DAY, service=small.trim)
    assert refused.value.code == "visits.no_horse"


def test_a_horse_that_is_gone_cannot_be_planned(database: Database) -> None:
    from backoffice.clients import service as clients

    with database.writing() as unit:
        small = small_practice(unit.session)
        clients.set_life(unit.session, small.bay, date(2026, 3, 1), "sold")
    with pytest.raises(Refused) as refused, database.writing() as unit:
        plan(unit.session, small, DAY, small.bay, service=small.trim)
    assert refused.value.code == "visits.horse_gone"


def test_a_horse_taken_off_leaves_the_days_it_was_planned_for_and_can_come_back(
    both: Database,
) -> None:
    with both.writing() as unit:
        small = small_practice(unit.session)
        visit = plan(unit.session, small, DAY, small.bay, small.shared, service=small.trim)
        service.take_off(unit.session, small.bay, DAY)
    with both.reading() as session:
        works = queries.works_of(session, visit)
        assert [work.horse_id for work in works] == [small.shared]
    assert schema.check(both) == []
    with both.writing() as unit:
        plan(unit.session, small, DAY, small.bay, service=small.trim)
    with both.reading() as session:
        assert len(queries.works_of(session, visit)) == 2
    assert schema.check(both) == []


def test_taking_a_horse_off_leaves_what_was_done_to_it(both: Database) -> None:
    with both.writing() as unit:
        small = small_practice(unit.session)
        visit = plan(unit.session, small, DAY, small.bay, service=small.trim)
        service.say(unit.session, visit, [said(small.bay, FactSort.AS_PLANNED)])
        service.take_off(unit.session, small.bay, DAY)
    with both.reading() as session:
        assert queries.works_of(session, visit)[0].outcome == "done"


def test_a_stop_first_made_on_its_own_day_still_has_its_call_out(both: Database) -> None:
    with both.writing() as unit:
        small = small_practice(unit.session)
        stop = service.NewStop(
            farrier_id=small.farrier,
            yard_id=small.yard,
            day=DAY,
            horses=(small.bay, small.shared),
            services={},
        )
        visit = service.plan_stop(unit.session, stop, today=DAY)
    with both.reading() as session:
        assert [work.travel for work in queries.works_of(session, visit)] == [500, 500]


def test_what_was_said_is_taken_back_and_the_horse_is_planned_again(both: Database) -> None:
    with both.writing() as unit:
        small = small_practice(unit.session)
        visit = plan(unit.session, small, DAY, small.bay, service=small.trim)
        service.say(unit.session, visit, [said(small.bay, FactSort.ABSENT)])
        service.unsay(unit.session, visit, str(small.bay))
    with both.reading() as session:
        work = queries.works_of(session, visit)[0]
        assert (work.outcome, work.booked) == ("planned", 5_800)
        assert len(queries.feet_of(session, [work.id])[work.id]) == 4
    assert schema.check(both) == []


def test_two_who_close_a_day_at_once_close_it_once(both: Database) -> None:
    with both.writing() as unit:
        small = small_practice(unit.session)
        visit = plan(unit.session, small, DAY, small.bay, small.shared, service=small.fronts)
        service.say(unit.session, visit, [as_planned(small.bay), as_planned(small.shared)])
    ended: list[str | int] = []

    def close() -> None:
        try:
            with both.writing() as unit:
                ended.append(billing.close_day(unit.session, DAY, today=DAY))
        except Refused as refused:
            ended.append(refused.code)

    closing = [Thread(target=close) for _ in range(4)]
    for thread in closing:
        thread.start()
    for thread in closing:
        thread.join()

    assert sorted(map(str, ended)) == ["2", *["billing.nothing_to_close"] * 3]
    assert schema.check(both) == []
