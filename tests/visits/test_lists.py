"""What is to finish, to find out and to rebook, on both engines."""

from datetime import UTC, date, datetime

import pytest
import sqlalchemy as sa

from backoffice.access import service as access
from backoffice.billing import service as billing
from backoffice.clients import service as clients
from backoffice.clients.rules import HorseDetails
from backoffice.daybook import service as daybook
from backoffice.db import Database
from backoffice.tools import service as tools
from backoffice.units import Foot, FootWork
from backoffice.visits import queries, service
from backoffice.visits.models import Fact
from backoffice.visits.queries import ToFinish, ToRebook
from backoffice.visits.rules import FactSort, FootState, Said
from tests.factories import Small, feet_said, new_shoe, plan, said, small_practice

DAY = date(2026, 3, 17)
LATER = date(2026, 3, 24)
NOON = datetime(2026, 3, 17, 12, tzinfo=UTC)


def fronts_only(small: Small) -> dict[Foot, FootState]:
    """New fronts; the gate banged before the hinds."""
    left = FootState(planned=FootWork.NEW, done=FootWork.NOT_DONE)
    shod = new_shoe(small)
    return {Foot.LF: shod, Foot.RF: shod, Foot.LH: left, Foot.RH: left}


def half_shod(session: sa.orm.Session, small: Small, *, closed: bool = True) -> int:
    """Book Bramble for a full set of which only the fronts go on; give the number of the work."""
    visit = plan(session, small, DAY, small.bay, service=small.full)
    service.say(session, visit, [feet_said(small.bay, fronts_only(small))])
    if closed:
        billing.close_day(session, DAY, today=DAY)
    return queries.works_of(session, visit)[0].id


@pytest.mark.parametrize("closed", [True, False])
def test_a_horse_done_in_part_waits_to_be_finished_with_its_feet(
    both: Database, *, closed: bool
) -> None:
    with both.writing() as unit:
        small = small_practice(unit.session)
        work = half_shod(unit.session, small, closed=closed)
    with both.reading() as session:
        assert queries.to_finish(session) == (
            ToFinish(
                work_id=work,
                day=DAY,
                horse_id=small.bay,
                name="Bramble",
                words=None,
                yard_id=small.yard,
                yard_name="Larkmoss",
                feet=("LH", "RH"),
                planned=None,
            ),
        )


def test_a_finish_put_on_a_day_shows_that_day_and_once_done_nothing_waits(both: Database) -> None:
    with both.writing() as unit:
        small = small_practice(unit.session)
        work = half_shod(unit.session, small)
        visit = service.plan_finish(unit.session, work, LATER, today=DAY)
    with both.reading() as session:
        assert [one.planned for one in queries.to_finish(session)] == [LATER]
        finish = queries.works_of(session, visit)[0]
        more = queries.work_more(session, work)
        assert [(one.work_id, one.outcome) for one in more.finished_by] == [(finish.id, "planned")]
        begun = queries.work_more(session, finish.id).finishes
        assert begun is not None
        assert begun.work_id == work

    with both.writing() as unit:
        done = Said(id="finish", subject=finish.subject, sort=FactSort.AS_PLANNED)
        service.say(unit.session, visit, [done])
        billing.close_day(unit.session, LATER, today=LATER)
    with both.reading() as session:
        assert queries.to_finish(session) == ()


def test_a_horse_missed_at_its_finish_still_waits_and_is_not_listed_twice(both: Database) -> None:
    with both.writing() as unit:
        small = small_practice(unit.session)
        work = half_shod(unit.session, small)
        visit = service.plan_finish(unit.session, work, LATER, today=DAY)
        subject = queries.works_of(unit.session, visit)[0].subject
        service.say(unit.session, visit, [Said(id="missed", subject=subject, sort=FactSort.ABSENT)])
    with both.reading() as session:
        assert [one.planned for one in queries.to_finish(session)] == [None]
        assert queries.to_rebook(session, LATER) == ()


def missed(session: sa.orm.Session, small: Small, horse: int, day: date = DAY) -> int:
    visit = plan(session, small, day, horse, service=small.trim)
    service.say(session, visit, [said(horse, FactSort.ABSENT, f"missed-{horse}-{day}")])
    return visit


def test_a_missed_horse_waits_until_it_is_put_on_a_day_again(both: Database) -> None:
    with both.writing() as unit:
        small = small_practice(unit.session)
        visit = missed(unit.session, small, small.bay)
    with both.reading() as session:
        waiting = ToRebook(
            work_id=queries.works_of(session, visit)[0].id,
            day=DAY,
            horse_id=small.bay,
            name="Bramble",
            words=None,
            yard_id=small.yard,
            yard_name="Larkmoss",
        )
        assert queries.to_rebook(session, DAY) == (waiting,)
    with both.writing() as unit:
        billing.close_day(unit.session, DAY, today=DAY)
    with both.reading() as session:
        assert queries.to_rebook(session, DAY) == (waiting,)
    with both.writing() as unit:
        plan(unit.session, small, LATER, small.bay, service=small.trim)
    with both.reading() as session:
        assert queries.to_rebook(session, DAY) == ()


def test_a_horse_missed_twice_is_listed_once_and_one_that_is_gone_not_at_all(
    both: Database,
) -> None:
    with both.writing() as unit:
        small = small_practice(unit.session)
        missed(unit.session, small, small.bay)
        missed(unit.session, small, small.bay, LATER)
        missed(unit.session, small, small.stray)
        clients.set_life(unit.session, small.stray, LATER, "dead")
    with both.reading() as session:
        assert [(one.horse_id, one.day) for one in queries.to_rebook(session, LATER)] == [
            (small.bay, LATER)
        ]


def test_what_is_said_late_is_listed_with_its_facts_for_a_horse_and_for_the_stop(
    both: Database,
) -> None:
    with both.writing() as unit:
        small = small_practice(unit.session)
        person = access.add_user(unit.session, "Wenna", "owner")
        visit = plan(unit.session, small, DAY, small.bay, small.shared, service=small.trim)
        done = [said(horse, FactSort.AS_PLANNED) for horse in (small.bay, small.shared)]
        service.say(unit.session, visit, done)
        billing.close_day(unit.session, DAY, today=DAY)
    with both.writing(by=person, at=NOON) as unit:
        sandy = Said(id="sandy", subject="", sort=FactSort.GROUND, data={"ground": "sand"})
        told = said(small.bay, FactSort.TOLD, say=6_000)
        service.say(unit.session, visit, [told, sandy])
    with both.reading() as session:
        found = queries.to_find_out(session)
        assert [(one.sort, one.subject, one.name) for one in found] == [
            ("late", str(small.bay), "Bramble"),
            ("late", "", None),
        ]
        assert [(fact.sort, fact.data, fact.by, fact.at) for fact in found[0].said] == [
            ("told", {"say": 6_000}, "Wenna", NOON)
        ]
        assert found[1].work_id is None
        assert found[1].yard_name == "Larkmoss"
        work = queries.works_of(session, visit)[0].id
        assert [fact.id for fact in queries.late_said(session, work)] == [told.id]


def test_what_came_late_and_was_taken_back_at_once_asks_nothing(both: Database) -> None:
    with both.writing() as unit:
        small = small_practice(unit.session)
        visit = plan(unit.session, small, DAY, small.bay, service=small.trim)
        service.say(unit.session, visit, [said(small.bay, FactSort.AS_PLANNED)])
        billing.close_day(unit.session, DAY, today=DAY)
        told = said(small.bay, FactSort.TOLD, "late", say=6_000)
        back = Said(id="back", subject=str(small.bay), sort=FactSort.WITHDRAWN, corrects="late")
        service.say(unit.session, visit, [told, back])
    with both.reading() as session:
        assert queries.to_find_out(session) == ()


def test_late_facts_are_taken_in_or_dropped_and_wait_no_longer(both: Database) -> None:
    with both.writing() as unit:
        small = small_practice(unit.session)
        visit = plan(unit.session, small, DAY, small.bay, small.shared, service=small.trim)
        done = [said(horse, FactSort.AS_PLANNED) for horse in (small.bay, small.shared)]
        service.say(unit.session, visit, done)
        billing.close_day(unit.session, DAY, today=DAY)
        late = [said(horse, FactSort.TOLD, say=6_000) for horse in (small.bay, small.shared)]
        service.say(unit.session, visit, late)
        billing.apply_late(unit.session, visit, str(small.bay), today=DAY)
        service.drop_late(unit.session, visit, str(small.shared))
    with both.reading() as session:
        assert queries.to_find_out(session) == ()
        told = {work.horse_id: work.told for work in queries.works_of(session, visit)}
        assert told == {small.bay: 6_000, small.shared: None}


def test_what_was_said_since_a_page_was_shown_is_found(both: Database) -> None:
    with both.writing() as unit:
        small = small_practice(unit.session)
        visit = plan(unit.session, small, DAY, small.bay, small.shared, service=small.trim)
    with both.reading() as session:
        subject = str(small.bay)
        shown = queries.last_said(session, visit, subject)
    with both.writing() as unit:
        service.say(
            unit.session,
            visit,
            [
                said(small.bay, FactSort.MINUTES, "theirs", minutes=30),
                said(small.bay, FactSort.NOTE, "ours", text="quiet"),
                said(small.shared, FactSort.AS_PLANNED),
            ],
        )
    with both.reading() as session:
        since = queries.said_since(session, visit, subject, shown, ["ours"])
        assert [(fact.id, fact.sort) for fact in since] == [("theirs", "minutes")]
        assert queries.last_said(session, visit, subject) > since[0].seq > shown
        assert queries.last_said(session, visit, "x9") == 0


def test_names_are_given_of_all_that_facts_speak_of(both: Database) -> None:
    with both.writing() as unit:
        small = small_practice(unit.session)
        visit = plan(unit.session, small, DAY, small.bay, service=small.trim)
        feet = {"LF": {"done": "new", "shoe": small.shoe, "nails": 6}}
        facts = [
            said(small.bay, FactSort.FEET, feet=feet, service=small.fronts),
            said(small.bay, FactSort.PAYERS, parts=[[small.other, 1]]),
            said(small.bay, FactSort.PAID, client=small.owner, amount=100),
            Said(
                id="slip", subject="", sort=FactSort.TOOL,
                data={"tool": small.stand, "what": "slipped"},
            ),
            Said(id="along", subject="", sort=FactSort.ALONG, data={"farrier": small.farrier}),
        ]  # fmt: skip
        service.say(unit.session, visit, facts)
    with both.reading() as session:
        told = queries.facts_told(session, Fact.visit_id == visit)
        names = queries.names_said(session, told)
        assert names.clients == {small.owner: "Wenna Harrow", small.other: "Corbin Ash"}
        assert names.services[small.fronts] == "Fronts + trim hinds"
        assert names.items == {small.shoe: "1"}
        assert names.tools == {small.stand: "Stand"}
        assert names.farriers == {small.farrier: "Idris Thorn"}


def test_a_stand_that_slipped_is_to_be_looked_at_until_it_was(both: Database) -> None:
    with both.writing(at=NOON) as unit:
        small = small_practice(unit.session)
        visit = plan(unit.session, small, DAY, small.bay, service=small.trim)
        slip = {"tool": small.stand, "what": "slipped"}
        knife = {"tool": small.knife, "what": "went_dull"}
        service.say(
            unit.session,
            visit,
            [
                Said(id="slip", subject="", sort=FactSort.TOOL, data=slip),
                Said(id="knife", subject="", sort=FactSort.TOOL, data=knife),
            ],
        )
    with both.reading() as session:
        assert [fact.id for fact in queries.stand_facts(session, DAY)] == ["slip"]
    with both.writing(at=NOON.replace(hour=13)) as unit:
        entry_id = daybook.record(unit.session, "tool", DAY)
        tools.record_event(unit.session, entry_id, small.stand, "looked_at")
    with both.reading() as session:
        assert queries.stand_facts(session, DAY) == ()


def test_the_owner_pays_once_and_the_rule_stays(both: Database) -> None:
    with both.writing() as unit:
        small = small_practice(unit.session)
        horse = clients.save_horse(
            unit.session,
            HorseDetails(name="Kestrel", yard_id=small.yard, owner_id=small.owner),
        )
        clients.set_payers(unit.session, horse, date(2026, 1, 5), [(small.other, 1)])
        visit = plan(unit.session, small, DAY, horse, service=small.trim)
        work = queries.works_of(unit.session, visit)[0].id
    with both.reading() as session:
        before = queries.work_more(session, work)
    with both.writing() as unit:
        owner_pays = said(horse, FactSort.PAYERS, parts=[[small.owner, 1]])
        service.say(unit.session, visit, [owner_pays])
    with both.reading() as session:
        after = queries.work_more(session, work)
    assert [(payer.name, before.once) for payer in before.payers] == [("Corbin Ash", False)]
    assert before.owner_may_pay
    assert [(payer.name, after.once) for payer in after.payers] == [("Wenna Harrow", True)]
    assert not after.owner_may_pay


@pytest.mark.parametrize("rows", [1, 12])
def test_the_lists_ask_the_same_number_of_questions_for_many_rows(
    both: Database, rows: int
) -> None:
    with both.writing() as unit:
        small = small_practice(unit.session)
        horses = [
            clients.save_horse(unit.session, HorseDetails(name=f"Horse {n}", yard_id=small.yard))
            for n in range(3 * rows)
        ]
        visit = plan(unit.session, small, DAY, *horses, service=small.full)
        halves, away, late = horses[:rows], horses[rows : 2 * rows], horses[2 * rows :]
        facts = [feet_said(horse, fronts_only(small)) for horse in halves]
        facts += [said(horse, FactSort.ABSENT) for horse in away]
        facts += [said(horse, FactSort.AS_PLANNED) for horse in late]
        service.say(unit.session, visit, facts)
        billing.close_day(unit.session, DAY, today=DAY)
        service.say(
            unit.session, visit, [said(horse, FactSort.MINUTES, minutes=40) for horse in late]
        )
    asked: list[str] = []
    with both.reading() as session:
        connection = session.connection()

        def hear(*event: object) -> None:
            asked.append(str(event[2]))

        sa.event.listen(connection, "before_cursor_execute", hear)
        assert len(queries.to_finish(session)) == rows
        assert len(queries.to_rebook(session, DAY)) == rows
        assert len([one for one in queries.to_find_out(session) if one.sort == "late"]) == rows
    assert len(asked) == 3 + 2 + 7
