"""Jobs from before the program was used: read, made due by, and counted nowhere."""

from datetime import date

import pytest
import sqlalchemy as sa

from backoffice import schema
from backoffice.db import Database
from backoffice.errors import Refused
from backoffice.units import Foot
from backoffice.visits import queries, service
from backoffice.visits.queries import Worn
from backoffice.visits.rules import FactSort
from backoffice.words import Speech
from tests.factories import Small, said, small_practice

TODAY = date(2026, 3, 17)
MAY, JUNE = date(2025, 5, 22), date(2025, 6, 30)


def job(small: Small, day: date, service_id: int, **more: object) -> service.PastJob:
    return service.PastJob(
        farrier_id=small.farrier,
        yard_id=small.yard,
        day=day,
        horse_id=small.bay,
        service_id=service_id,
        **more,  # type: ignore[arg-type]
    )


def with_past(database: Database, words: str = "") -> Small:
    with database.writing() as unit:
        small = small_practice(unit.session)
        worn = Worn(shoe=small.shoe, nail=small.nail, nails=None, pad=None, resets=0)
        wears = dict.fromkeys(Foot, worn)
        jobs = [
            job(small, JUNE, small.fronts, price=12_000, wears=wears, words=words),
            job(small, MAY, small.full, price=17_500, wears=wears),
        ]
        assert service.record_history(unit.session, jobs, today=TODAY) == 2
    return small


def test_a_past_job_says_when_a_horse_was_last_done_when_it_is_due_and_what_it_wears(
    both: Database,
) -> None:
    small = with_past(both)

    with both.reading() as session:
        past = queries.horse_past(session, small.bay)
        due = queries.due_list(session, TODAY)
    # A stock horse comes round in 42 days; the fronts were nailed on in June, the hinds in May.
    assert (past.last_day, past.due_day) == (JUNE, date(2025, 8, 11))
    assert [(foot.foot, foot.size) for foot in past.wears] == [
        ("LF", "1"), ("RF", "1"), ("LH", "1"), ("RH", "1"),
    ]  # fmt: skip
    assert [(line.service_name, line.outcome) for line in past.works] == [
        ("Fronts + trim hinds", "done"),
        ("Full set", "done"),
    ]
    assert [horse.horse_id for horse in due] == [small.bay]
    assert schema.check(both) == []


def test_a_past_job_keeps_its_price_for_reading_and_counts_nowhere(both: Database) -> None:
    small = with_past(both)

    with both.reading() as session:
        work = queries.horse_past(session, small.bay).works[0].work_id
        card = queries.work_card(session, work)
        assert card is not None
        assert (card.from_before, card.work.price, card.work.closed) == (True, 12_000, False)
        assert (card.lines, card.materials, card.wear, card.results) == ((), (), (), ())
        assert queries.open_days(session, TODAY) == ()
        assert queries.to_find_out(session) == ()
        for table in ("entry", "pricing", "unbilled", "result", "stock_use", "wear"):
            before = 2 if table == "entry" else 0
            found = session.scalar(sa.text(f"SELECT count(*) FROM {table}"))
            assert (table, found) == (table, before)


def test_the_same_job_twice_is_kept_once_and_another_of_its_day_beside_it(both: Database) -> None:
    small = with_past(both, words="left front twisted")
    same = job(small, JUNE, small.fronts, words="Left front  twisted", price=1)
    with both.writing() as unit:
        assert service.record_history(unit.session, [same], today=TODAY) == 0
        other = job(small, JUNE, small.trim)
        assert service.record_history(unit.session, [same, other, other], today=TODAY) == 1

    with both.reading() as session:
        works = queries.horse_past(session, small.bay).works
    assert [line.service_name for line in works] == ["Trim", "Fronts + trim hinds", "Full set"]
    assert schema.check(both) == []


def test_what_went_on_before_the_last_shoeing_is_not_known(both: Database) -> None:
    small = with_past(both)

    with both.reading() as session:
        feet = queries.past_of(session, [small.bay])[small.bay]
    shoes = {(foot.day, foot.foot.value): foot.state.shoe for foot in feet if foot.state.done.shod}
    assert shoes == {
        (MAY, "LF"): None, (MAY, "RF"): None, (MAY, "LH"): small.shoe, (MAY, "RH"): small.shoe,
        (JUNE, "LF"): small.shoe, (JUNE, "RF"): small.shoe,
    }  # fmt: skip


def test_a_job_of_a_day_to_come_is_refused(database: Database) -> None:
    with database.writing() as unit:
        small = small_practice(unit.session)
        late = job(small, date(2026, 3, 18), small.trim)
        with pytest.raises(Refused, match=r"visits\.history_to_come"):
            service.record_history(unit.session, [late], today=TODAY)


def test_nothing_more_is_said_about_a_past_job(both: Database) -> None:
    small = with_past(both)

    with both.reading() as session:
        work = queries.work_row(session, queries.horse_past(session, small.bay).works[0].work_id)
    with pytest.raises(Refused, match=r"visits\.from_before"), both.writing() as unit:
        service.say(unit.session, work.visit_id, [said(small.bay, FactSort.ABSENT)])
    assert schema.check(both) == []


@pytest.mark.parametrize(
    ("code", "statement"),
    [
        ("check.history", "UPDATE work SET outcome = 'planned'"),
        ("check.history", "UPDATE work SET closing_entry_id = 1"),
        ("check.history", "INSERT INTO pricing (id, work_id, entry_id, no) VALUES (1, 1, 1, 1)"),
        ("check.history", "INSERT INTO material (id, work_id, qty, waste) VALUES (1, 1, 1, 0)"),
        ("check.history", "INSERT INTO result (id, work_id, day, farrier_id, net, material, drive,"
         " tool, minutes, minutes_est, drive_est, material_est)"
         " VALUES (1, 1, '2025-05-22', 1, 0, 0, 0, 0, 0, 0, 0, 0)"),
        ("check.wears", "UPDATE wears SET nail_item_id = NULL WHERE foot = 'LF'"),
        ("check.wears", "UPDATE wears SET shoe_item_id = NULL WHERE foot = 'LF'"),
        ("check.horse_state", "UPDATE horse_state SET last_day = '2025-05-22'"),
        ("check.horse_state", "DELETE FROM horse_state"),
    ],
)  # fmt: skip
def test_a_past_job_that_does_not_hold_is_found(both: Database, code: str, statement: str) -> None:
    with_past(both)
    with both.writing() as unit:
        unit.session.execute(sa.text(statement))

    found = schema.check(both)

    assert code in {one.code for one in found}
    assert all(Speech().say(one.code, **one.facts) for one in found)
