"""What was brought in from before, in the browser: read, paid and taken back, but not changed."""

from datetime import date

import pytest
import sqlalchemy as sa
from flask import Flask

from backoffice import schema
from backoffice.billing import queries as bills
from backoffice.billing import service as billing
from backoffice.db import Database
from backoffice.visits import queries as visits
from backoffice.visits import service as works
from tests.factories import Small, small_practice
from tests.web.browser import Browser

FEBRUARY = date(2026, 2, 3)


@pytest.fixture
def small(app: Flask, database: Database) -> Small:
    """A small practice with a trim of the bay in February, of which 58.00 is still owed."""
    with database.writing() as unit:
        unit.session.execute(sa.text("DELETE FROM practice"))
        made = small_practice(unit.session)
        unit.session.execute(sa.text("UPDATE practice SET demo_today = '2026-03-17'"))
        job = works.PastJob(
            farrier_id=made.farrier, yard_id=made.yard, day=FEBRUARY, horse_id=made.bay,
            service_id=made.trim, price=5_800, words="ducked a lot",
        )  # fmt: skip
        works.record_history(unit.session, [job], today=date(2026, 3, 17))
        owed = billing.OldBalance(
            client_id=made.owner, reference="2026-17", amount=5_800, day=FEBRUARY
        )
        billing.open_balance(unit.session, [owed], today=date(2026, 3, 17))
    return made


def test_a_past_job_is_read_and_offers_nothing_to_say(
    client: Browser, database: Database, small: Small
) -> None:
    with database.reading() as session:
        (past,) = visits.horse_past(session, small.bay).works
        visit_id = visits.work_row(session, past.work_id).visit_id
    horse = client.get(f"/horses/{small.bay}").text
    page = client.get(f"/horse-record/{past.work_id}").text

    assert "ducked a lot" in horse
    assert "$58.00" in page
    assert "before you used this program" in page
    for offered in ("/tap", "/lost", "/more", "/feet", "/price", "/undo", "/who-pays"):
        assert f"/horse-record/{past.work_id}{offered}" not in page
    tapped = client.post(f"/horse-record/{past.work_id}/tap", {"what": "absent"})
    assert tapped.status_code in (303, 409, 422)
    with database.reading() as session:
        assert visits.facts_of(session, visit_id) == ()
    assert schema.check(database) == []


def test_what_is_owed_from_before_is_shown_and_can_be_paid_and_taken_back(
    client: Browser, database: Database, small: Small
) -> None:
    with database.reading() as session:
        (owed,) = bills.open_bills(session)
    money = client.get("/money").text
    page = client.get(f"/bills/{owed.id}").text

    assert "old-1" in client.get("/bills").text
    assert f"/bills/{owed.id}" in money
    assert "2026-17" in page
    assert "It was paid" in page
    assert "Handed over" not in page
    assert "Fix this bill" not in page
    assert client.get(f"/bills/{owed.id}/bill.pdf").status_code == 404
    asked = client.get(f"/bills/{owed.id}/take-back")
    assert asked.status_code == 200
    gone = client.post(f"/bills/{owed.id}/take-back", {"reason": "paid in January"})
    assert gone.status_code == 303
    with database.reading() as session:
        assert bills.owed(session, [small.owner]) == {small.owner: 0}
    assert client.get(gone.headers["Location"]).status_code == 200
    assert schema.check(database) == []
