"""A horse on the day for a lost shoe: never as planned, and free where the guarantee holds."""

from datetime import date

import pytest
import sqlalchemy as sa
from flask import Flask

from backoffice import schema
from backoffice.db import Database
from backoffice.pricing import service as pricing
from backoffice.pricing.rules import ServiceDetails
from backoffice.visits import queries as visits
from tests.factories import OPENED, Small, plan
from tests.web.browser import Browser
from tests.web.furnished import furnish, questions, shoe_bramble

DAY = date(2026, 3, 17)
PAGE = "/day/2026-03-17"
EVENING = f"{PAGE}/evening"
FREE = "free under guarantee, day 7 of 14"  # nailed on on March 10
ASK = "say which shoe: 1 lost lf found"


@pytest.fixture
def small(app: Flask, database: Database) -> Small:
    """Bramble, shod a week ago, is line 1 for a lost shoe; lines 2 and 3 are trims."""
    made = furnish(database)
    shoe_bramble(database, made, DAY)
    with database.writing() as unit:
        lost = pricing.save_service(
            unit.session, ServiceDetails(name="Lost shoe", front="none", hind="none", minutes=20)
        )
        pricing.set_price(unit.session, lost, None, OPENED, 3_500)
        plan(unit.session, made, DAY, made.bay, service=lost)
        plan(unit.session, made, DAY, made.shared, made.stray, service=made.trim)
    return made


def outcomes(database: Database) -> list[tuple[str, bool]]:
    with database.reading() as session:
        (sheet,) = visits.sheets(session, DAY)
    return [(line.outcome, line.closed) for stop in sheet.stops for line in stop.lines]


def record_of(database: Database, small: Small) -> str:
    with database.reading() as session:
        (work,) = visits.open_works(session, small.bay)
    return f"/horse-record/{work.work_id}"


def main_of(page: str) -> str:
    return page.partition("<main")[2]


def test_the_rest_as_planned_leaves_it_open_and_says_what_to_type(
    client: Browser, small: Small, database: Database
) -> None:
    assert ASK in client.get(EVENING).text
    sent = {"farrier": str(small.farrier)}
    page = client.get(client.post(f"{EVENING}/rest-as-planned", sent).location).text

    assert "2 horses as planned" in page
    assert f"1 Bramble: {ASK}" in page
    assert "The rest as planned" not in page
    assert [outcome for outcome, _ in outcomes(database)] == ["planned", "done", "done"]


def test_one_press_closes_the_rest_and_says_that_it_is_still_open(
    client: Browser, small: Small, database: Database
) -> None:
    assert "2 horses: prices" in client.get(EVENING).text
    sent = {"farrier": str(small.farrier), "rest": "1"}
    page = client.get(client.post(f"{EVENING}/done", sent).location).text

    assert "Tue, Mar 17, 2026: 2 horses written up, still open:" in page
    assert f"1 Bramble: {ASK}" in page
    assert "This day is written up" not in page
    assert outcomes(database) == [("planned", False), ("done", True), ("done", True)]

    typed = client.post(EVENING, {"farrier": str(small.farrier), "text": "1 lost lf found"})
    assert "Done for the day" in client.get(typed.location).text
    page = client.get(client.post(f"{EVENING}/done", sent).location).text
    assert "Tue, Mar 17, 2026 is done: 1 horse written up." in page
    assert set(outcomes(database)) == {("done", True)}
    with database.reading() as session:
        first = visits.sheets(session, DAY)[0].stops[0].lines[0]
    assert first.price == 0
    assert [found.code for found in schema.check(database)] == []


def test_the_page_of_the_day_leaves_it_open_too(
    client: Browser, small: Small, database: Database
) -> None:
    page = main_of(client.get(PAGE).text)
    assert 'aria-label="As planned: Bramble"' not in page
    assert f'href="{record_of(database, small)}#lost" aria-label="Lost shoe: Bramble"' in page
    assert "Nothing was said yet about 2 horses." in page

    client.post(f"{PAGE}/rest-as-planned")
    page = main_of(client.get(PAGE).text)
    assert "The rest as planned" not in page
    assert f">Bramble</a>: {ASK}" in page
    assert "writes up 2 horses" in page
    assert [outcome for outcome, _ in outcomes(database)] == ["planned", "done", "done"]


def test_its_record_asks_for_the_shoe_and_offers_no_as_planned(
    client: Browser, small: Small, database: Database
) -> None:
    record = record_of(database, small)
    page = client.get(record).text
    assert 'value="as_planned"' not in page
    assert '<details class="opens" id="lost" open>' in page
    assert "Free under guarantee, day 7 of 14." in page

    sent = {"foot": "LF", "lost": "found", "seen": "999"}
    assert client.post(f"{record}/lost", sent).status_code == 303
    page = client.get(record).text
    assert 'value="as_planned"' not in page
    assert '<details class="opens" id="lost">' in page


def test_typed_as_planned_it_is_asked_about(
    client: Browser, small: Small, database: Database
) -> None:
    answer = client.post(EVENING, {"farrier": str(small.farrier), "text": "1 ok; 2"})

    assert answer.status_code == 422
    assert "“1 ok”: which shoe was lost, and was it found?" in answer.text
    assert {outcome for outcome, _ in outcomes(database)} == {"planned"}

    nothing = client.post(EVENING, {"farrier": str(small.farrier), "text": "1 all nothing"})
    assert nothing.status_code == 303
    assert outcomes(database)[0] == ("done", False)


def test_an_extra_horse_with_a_lost_shoe_stays_open_as_well(
    client: Browser, small: Small, database: Database
) -> None:
    text = "a + the grey cob, lost, 35"
    answer = client.post(EVENING, {"farrier": str(small.farrier), "text": text})

    page = client.get(answer.location).text
    assert "4 the grey cob: Lost shoe, told $35.00, say which shoe: 4 lost lf found" in page
    assert outcomes(database)[-1] == ("planned", False)


def test_where_the_guarantee_holds_every_page_says_free(
    client: Browser, small: Small, database: Database
) -> None:
    for path in (PAGE, EVENING):
        page = main_of(client.get(path).text)
        assert FREE in page
        assert "$38.34" not in page  # 35.00 and a third of the trip fee
    client.post(EVENING, {"farrier": str(small.farrier), "text": "1 lost lf found"})
    for path in (PAGE, EVENING):
        assert FREE in main_of(client.get(path).text)

    client.post(EVENING, {"farrier": str(small.farrier), "text": "1 told 20"})
    for path in (PAGE, EVENING):
        assert FREE not in main_of(client.get(path).text)


def test_a_foot_done_that_had_not_lost_its_shoe_is_not_free(client: Browser, small: Small) -> None:
    client.post(EVENING, {"farrier": str(small.farrier), "text": "1 lf reset"})

    assert FREE not in client.get(EVENING).text


@pytest.mark.parametrize("path", [PAGE, EVENING])
def test_two_lost_shoes_ask_no_more_of_the_database_than_one(
    client: Browser, small: Small, database: Database, path: str
) -> None:
    one = questions(client, database, path)
    with database.writing() as unit:
        unit.session.execute(
            sa.text("UPDATE foot SET planned = 'none', done = 'none' WHERE done = 'trim'")
        )
    assert questions(client, database, path) == one
