"""The book of first entry on both engines."""

import threading
from datetime import date

import pytest
import sqlalchemy as sa

from backoffice import schema
from backoffice.daybook import service
from backoffice.daybook.models import Change, Entry
from backoffice.db import Database
from backoffice.errors import Refused
from backoffice.practice.models import Place
from tests.factories import small_practice


def test_an_event_of_a_closed_day_is_entered_on_the_first_open_one(both: Database) -> None:
    with both.writing() as unit:
        service.lock(unit.session, date(2025, 12, 31), "the year went to the accountant")
        late = service.record(unit.session, "closing", date(2025, 12, 30))
        after = service.record(unit.session, "closing", date(2026, 2, 3))
    with both.reading() as session:
        assert session.get_one(Entry, late).day == date(2026, 1, 1)
        assert session.get_one(Entry, after).day == date(2026, 2, 3)


def test_the_database_itself_refuses_a_row_of_a_closed_day(both: Database) -> None:
    with both.writing() as unit:
        service.lock(unit.session, date(2025, 12, 31), "the year went to the accountant")
    with pytest.raises(sa.exc.DBAPIError, match="locked"), both.writing() as unit:
        unit.session.add(
            Entry(
                day=date(2025, 6, 1),
                sort="closing",
                recorded_at=unit.session.info["at"],
                user_id=None,
            )
        )


def test_opening_a_closed_period_needs_a_reason(both: Database) -> None:
    with pytest.raises(Refused) as refused, both.writing() as unit:
        service.lock(unit.session, None, "  ")
    assert refused.value.field == "reason"


def test_an_edit_writes_down_what_it_changed(both: Database) -> None:
    with both.writing() as unit:
        place = Place(name="Truck A", sort="truck", hidden=False)
        unit.session.add(place)
    with both.writing() as unit:
        unit.session.get_one(Place, 1).name = "Truck B"
    with both.reading() as session:
        change = session.scalars(sa.select(Change)).one()
        assert (change.field, change.before, change.after) == ("name", "Truck A", "Truck B")


def test_saving_a_record_unchanged_writes_nothing_down(both: Database) -> None:
    with both.writing() as unit:
        unit.session.add(Place(name="Truck A", sort="truck", hidden=False))
    with both.writing() as unit:
        unit.session.get_one(Place, 1).name = "Truck A"
    with both.reading() as session:
        assert session.scalars(sa.select(Change)).all() == []


def test_an_entry_never_slips_in_beside_a_period_being_closed(both: Database) -> None:
    with both.writing() as unit:
        small_practice(unit.session)
    begun, days = threading.Event(), []

    def enter() -> None:
        begun.wait()
        with both.writing() as unit:
            entry_id = service.record(unit.session, "closing", date(2025, 12, 30))
            days.append(unit.session.get_one(Entry, entry_id).day)

    other = threading.Thread(target=enter)
    other.start()
    with both.writing() as unit:
        service.lock(unit.session, date(2025, 12, 31), "the year went to the accountant")
        begun.set()
        other.join(timeout=0.5)
        assert days == []
    other.join()

    assert days == [date(2026, 1, 1)]
    assert schema.check(both) == []
