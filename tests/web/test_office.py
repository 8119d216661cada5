"""The office: the business, its people and trucks, its settings, and the books proved."""

import re
from collections.abc import Callable
from datetime import date
from pathlib import Path

import pytest
import sqlalchemy as sa
from flask import Flask

from backoffice import folders
from backoffice.billing.models import Series
from backoffice.db import Database
from backoffice.practice import queries
from backoffice.practice.rules import SETTINGS
from backoffice.words import UK, US
from tests.factories import Small
from tests.web.browser import Browser
from tests.web.crawl import forms_of
from tests.web.furnished import HOSTILE, furnish, no_hostile, questions, shoe_bramble


@pytest.fixture
def small(app: Flask, database: Database) -> Small:
    """A small practice."""
    return furnish(database)


@pytest.mark.parametrize("role", ["owner", "field", "books"])
def test_the_office_leads_to_whatever_is_open_to_who_looks(
    sign_in_as: Callable[[str], Browser], small: Small, role: str
) -> None:
    someone = sign_in_as(role)
    page = someone.get("/office").text.partition("<main")[2].partition("</main>")[0]
    links = re.findall(r'href="([^"]+)"', page)

    assert "/clients" in links
    assert ("/office/settings" in links) is (role == "owner")
    assert {link: someone.get(link).status_code for link in links} == dict.fromkeys(links, 200)


BUSINESS = {
    "name": "Marlpit Forge",
    "words": "us",
    "country": "US",
    "currency": "USD",
    "zone": "America/New_York",
    "paper": "us-letter",
    "version": "1",
}
PERSON = {"name": "Ada Fell", "place_id": "1", "sort": "farrier"}


def test_the_business_is_changed_and_every_page_follows(
    client: Browser, small: Small, database: Database, today: date
) -> None:
    fields = BUSINESS | {"name": "Marlpit & Sons", "words": "uk", "how_to_pay": "Bank\nor cash"}
    assert client.post("/office/business", fields).status_code == 303

    page = client.get("/yards").text
    assert "Marlpit &amp; Sons" in page
    assert "Add a yard" in page
    with database.reading() as session:
        details = queries.practice(session)
    assert (details.how_to_pay, details.demo_today) == ("Bank\nor cash", today)


@pytest.mark.parametrize(
    "typed",
    [{"country": "XX"}, {"currency": "ABC"}, {"zone": "Moon/Base"}, {"paper": ""}, {"words": "fr"}],
)
def test_a_business_that_cannot_be_is_refused_and_kept(
    client: Browser, small: Small, typed: dict[str, str]
) -> None:
    answer = client.post("/office/business", BUSINESS | {"phone": "555 0100"} | typed)

    assert answer.status_code == 422
    assert "Please choose one of these." in answer.text
    assert 'value="555 0100"' in answer.text


def test_a_business_somebody_else_changed_shows_theirs(client: Browser, small: Small) -> None:
    client.post("/office/business", BUSINESS | {"name": "Theirs", "currency": "CAD"})
    answer = client.post("/office/business", BUSINESS | {"name": "Mine"})

    assert answer.status_code == 409
    assert 'value="Mine"' in answer.text
    assert "Theirs now: Theirs" in answer.text
    assert "Theirs now: CAD · Canadian Dollar" in answer.text


def test_people_and_trucks_are_added_and_changed(client: Browser, small: Small) -> None:
    truck = {"name": "Truck B", "sort": "truck"}
    assert client.post("/office/trucks/new", truck).status_code == 303
    person = PERSON | {"sort": "apprentice", "day_pay": "90"}
    assert client.post("/office/people/new", person).status_code == 303
    changed = PERSON | {"name": "Idris T.", "version": "1", "hidden": "y"}
    assert client.post(f"/office/people/{small.farrier}", changed).status_code == 303
    shop = {"name": "The forge", "sort": "shop", "version": "1"}
    assert client.post(f"/office/trucks/{small.shop}", shop).status_code == 303

    page = client.get("/office/people").text
    for name in (
        "Truck B",
        "Ada Fell",
        "apprentice",
        "$90.00",
        "Idris T.",
        "The forge",
        "put away",
    ):
        assert name in page


@pytest.mark.parametrize(
    ("path", "fields", "status", "says"),
    [
        ("people/new", PERSON | {"place_id": ""}, 422, "Please choose one of these."),
        ("people/new", PERSON | {"name": ""}, 422, "Please fill this in."),
        ("trucks/new", {"name": "Truck A", "sort": "truck"}, 409, "already one called “Truck A”"),
        ("trucks/new", {"name": "Boat", "sort": "boat"}, 422, "Please choose one of these."),
        ("trucks/1", {"name": "Shop", "sort": "truck", "version": "1"}, 409, "already one called"),
        ("people/new", PERSON | {"sort": "boss"}, 422, "Please choose one of these."),
        ("people/new", PERSON | {"day_pay": "-1"}, 422, "An amount below nothing"),
        ("people/1", PERSON | {"name": "Mine", "version": "7"}, 409, "Theirs now: Idris"),
        ("trucks/1", {"name": "Mine", "sort": "shop", "version": "7"}, 409, "Theirs now: Truck A"),
    ],
)
def test_people_and_trucks_that_cannot_be_are_refused_and_kept(
    client: Browser, small: Small, path: str, fields: dict[str, str], status: int, says: str
) -> None:
    answer = client.post(f"/office/{path}", fields)

    assert answer.status_code == status
    assert says in answer.text
    assert f'value="{fields["name"]}"' in answer.text


def test_settings_say_their_default_and_why(client: Browser, small: Small) -> None:
    page = client.get("/office/settings").text

    assert "72.5 cents" in page
    assert "6 %" in page
    assert "15 horses" in page
    assert "Touched up every 12 to 20 horses." in page
    assert "unit" not in page.lower().replace("units", "")


@pytest.mark.parametrize(
    ("name", "typed", "value", "shown"),
    [
        ("nail_waste_ppm", "7.5", 75_000, "7.5 %"),
        ("hour_cents", "52.50", 5_250, "$52.50"),
        ("mile_thousandths", "70", 70_000, "70 cents"),
        ("setup_minutes", "20", 20, "20 minutes"),
        ("guarantee_days", "21", 21, "21 days"),
        ("chase_days", "3", 3, "3 days past due"),
        ("ground_mud", "1.25", 1_250, "× 1.25"),
        ("knife_edge", "12.5", 12_500, "12.5 horses"),
    ],
)
def test_a_setting_is_changed_in_its_own_words(
    client: Browser, small: Small, database: Database, name: str, typed: str, value: int, shown: str
) -> None:
    assert client.post(f"/office/settings/{name}", {"value": typed}).status_code == 303

    with database.reading() as session:
        assert queries.settings(session)[name] == value
    page = client.get("/office/settings").text
    assert shown in page
    assert "your own" in page
    assert f'value="{typed}"' in client.get(f"/office/settings/{name}").text


@pytest.mark.parametrize(
    ("name", "typed", "status", "says"),
    [
        ("nail_waste_ppm", "101", 409, "101 % is more than can be meant."),
        ("ground_mud", "0", 409, "This needs to be at least × 0.001."),
        ("setup_minutes", "ten", 422, "“ten” is not a whole number."),
        ("hour_cents", "much", 422, "“much” is not an amount."),
        ("knife_edge", "", 422, "Please fill this in."),
    ],
)
def test_a_setting_that_cannot_be_meant_is_refused_and_kept(
    client: Browser, small: Small, name: str, typed: str, status: int, says: str
) -> None:
    answer = client.post(f"/office/settings/{name}", {"value": typed})

    assert answer.status_code == status
    assert says in answer.text
    assert f'value="{typed}"' in answer.text


def test_every_setting_opens_and_has_its_words(client: Browser, small: Small) -> None:
    for setting in SETTINGS:
        assert client.get(f"/office/settings/{setting.name}").status_code == 200
    assert client.get("/office/settings/horsepower").status_code == 404
    assert client.post("/office/settings/horsepower", {"value": "1"}).status_code == 404


def test_books_that_hold_say_so(
    client: Browser, small: Small, database: Database, today: date
) -> None:
    shoe_bramble(database, small, today)

    assert "Everything holds." in client.get("/office/proof").text


def test_books_that_do_not_hold_say_where(
    client: Browser, small: Small, database: Database, today: date
) -> None:
    shoe_bramble(database, small, today)
    with database.writing() as unit:
        unit.session.execute(sa.text("UPDATE horse_state SET last_day = '2020-01-01'"))
        unit.session.execute(sa.text("UPDATE balance SET owed = owed + 1"))
    page = client.get("/office/proof").text

    assert "Everything holds." not in page
    assert f"The day horse {small.bay} was last done is wrong." in page
    assert f"What client {small.owner} owes is not bills less payments." in page


def test_everything_a_proof_can_find_has_its_sentence() -> None:
    package = Path(folders.__file__).parent
    texts = [path.read_text(encoding="utf-8") for path in package.glob("*/checks.py")]
    texts.append((package / "schema.py").read_text(encoding="utf-8"))
    found = {code for text in texts for code in re.findall(r'Broken\(\s*"([\w.]+)"', text)}

    assert len(found) > 20
    assert found - US.keys() == set()
    assert found - UK.keys() == set()


def test_hostile_text_is_shown_as_text(client: Browser, small: Small) -> None:
    texts = ("name", "address", "phone", "email", "how_to_pay", "tax_number")
    client.post("/office/business", BUSINESS | dict.fromkeys(texts, HOSTILE))
    client.post("/office/trucks/new", {"name": HOSTILE, "sort": "truck"})
    client.post("/office/people/new", PERSON | {"name": HOSTILE})

    for path in ("/office", "/office/business", "/office/people", "/office/people/2"):
        page = client.get(path).text
        assert no_hostile(page), path
        assert "&lt;script&gt;" in page, path


def test_the_pages_ask_as_much_for_thirty_people_as_for_one(
    client: Browser, small: Small, database: Database
) -> None:
    few = questions(client, database, "/office/people")
    for number in range(29):
        client.post("/office/people/new", PERSON | {"name": f"Person {number}"})

    assert questions(client, database, "/office/people") == few


def test_the_business_is_the_owners(sign_in_as: Callable[[str], Browser], small: Small) -> None:
    books = sign_in_as("books")

    assert books.get("/office/proof").status_code == 200
    for path in ("business", "people", "settings", "settings/hour_cents"):
        assert books.get(f"/office/{path}").status_code == 403
    assert sign_in_as("field").get("/office/proof").status_code == 403


def test_the_currency_stays_once_a_bill_was_issued(client: Browser, database: Database) -> None:
    page = client.get("/office/business").text
    (form,) = (form for form in forms_of("/office/business", page) if "currency" in form.fields)
    with database.writing() as unit:
        unit.session.add(Series(name="bills", first_no=1, last_no=1, last_hash="0" * 64))

    answer = client.post("/office/business", form.fields | {"currency": "JPY"})

    assert answer.status_code == 409
    assert "it cannot change any more" in answer.text
