"""Prices: the list in force, prices from a day on, agreements, kinds of horse, sales tax."""

from collections.abc import Callable
from datetime import date

import pytest
from flask import Flask

from backoffice.clients import queries as clients
from backoffice.clients import service as saving_clients
from backoffice.clients.rules import HorseTypeDetails
from backoffice.db import Database
from backoffice.pricing import queries, service
from backoffice.pricing.rules import ServiceDetails
from backoffice.stock import service as stock
from backoffice.stock.rules import ItemDetails
from tests.factories import OPENED, Small
from tests.web.browser import Browser
from tests.web.furnished import HOSTILE, furnish, no_hostile, questions, shoe_bramble


@pytest.fixture
def small(app: Flask, database: Database) -> Small:
    """A small practice."""
    return furnish(database)


def listed(database: Database, day: date) -> dict[tuple[int, int | None], tuple[int, date]]:
    with database.reading() as session:
        book = queries.price_book(session, day)
    return {key: (dated.amount, dated.from_day) for key, dated in book.listed.items()}


def test_the_price_list_shows_what_is_in_force_and_since_when(
    client: Browser, small: Small, database: Database
) -> None:
    with database.writing() as unit:
        service.set_price(unit.session, small.trim, small.draft, date(2026, 3, 1), 11_000)
        service.set_price(unit.session, small.trim, None, date(2026, 4, 1), 6_000)
    page = client.get("/prices").text

    assert "$58.00" in page
    assert "from Mon, Jan 5, 2026" in page
    assert "$110.00" in page
    assert "from Sun, Mar 1, 2026" in page
    assert "$60.00" not in page


def test_prices_are_set_from_a_day_on_and_those_that_stay_are_left_alone(
    client: Browser, small: Small, database: Database
) -> None:
    fields = {"from_day": "2026-04-01", "any_kind": "58", f"kind_{small.draft}": "110.50"}
    answer = client.post(f"/prices/services/{small.trim}", fields)

    assert answer.status_code == 303
    found = listed(database, date(2026, 4, 1))
    assert found[small.trim, None] == (5_800, OPENED)
    assert found[small.trim, small.draft] == (11_050, date(2026, 4, 1))
    assert (small.trim, small.draft) not in listed(database, date(2026, 3, 31))


def test_a_price_that_cannot_be_read_is_kept_beside_the_others(
    client: Browser, small: Small, database: Database
) -> None:
    fields = {"from_day": "2026-04-01", "any_kind": "61", f"kind_{small.draft}": "about 110"}
    answer = client.post(f"/prices/services/{small.trim}", fields)

    assert answer.status_code == 422
    assert "“about 110” is not an amount." in answer.text
    assert 'value="61"' in answer.text
    assert listed(database, date(2026, 4, 1))[small.trim, None] == (5_800, OPENED)


def test_a_new_service_leads_to_its_prices(client: Browser, small: Small) -> None:
    fields = {"name": "Hot fit", "front": "new", "hind": "trim", "minutes": "60", "place_no": "5"}
    answer = client.post("/prices/services/new", fields)

    assert client.get(answer.location).status_code == 200
    assert "no price yet" in client.get("/prices").text


def test_a_service_put_away_waits_below_the_list(
    client: Browser, small: Small, database: Database
) -> None:
    with database.reading() as session:
        details = queries.service_details(session, small.full)
    fields = {
        "name": details.name,
        "front": "new",
        "hind": "new",
        "minutes": "85",
        "place_no": "0",
        "version": "1",
        "hidden": "y",
    }
    assert client.post(f"/prices/services/{small.full}/edit", fields).status_code == 303

    page = client.get("/prices").text
    assert page.index("No longer offered") < page.index("Full set")
    assert client.get(f"/prices/services/{small.full}").status_code == 404
    assert client.get(f"/prices/services/{small.full}/edit").status_code == 200


def test_a_name_that_is_taken_is_said_beside_it(client: Browser, small: Small) -> None:
    fields = {"name": "Trim", "front": "trim", "hind": "trim", "minutes": "25", "place_no": "9"}
    answer = client.post("/prices/services/new", fields)

    assert answer.status_code == 409
    assert "There is already one called “Trim”." in answer.text
    assert 'value="25"' in answer.text


def test_a_service_somebody_else_changed_shows_theirs(client: Browser, small: Small) -> None:
    path = f"/prices/services/{small.trim}/edit"
    good = {"front": "trim", "hind": "trim", "minutes": "20", "place_no": "0", "version": "1"}
    client.post(path, good | {"name": "Theirs", "hind": "none"})
    answer = client.post(path, good | {"name": "Mine"})

    assert answer.status_code == 409
    assert "Theirs now: Theirs" in answer.text
    assert "Theirs now: Nothing" in answer.text


def test_a_price_is_agreed_with_a_client(client: Browser, small: Small, database: Database) -> None:
    fields = {
        "service": str(small.trim),
        "amount": "50",
        "from_day": "2026-04-01",
        "until_day": "2026-12-31",
    }
    for _ in range(2):
        answer = client.post(f"/prices/agreed/{small.owner}", fields)
    page = client.get(answer.location).text

    assert "$50.00" in page
    assert "until Thu, Dec 31, 2026" in page
    assert "$50.00" in client.get(f"/prices/agreed/{small.owner}").text
    with database.reading() as session:
        assert len(queries.agreed_with(session, small.owner)) == 1


@pytest.mark.parametrize(
    ("typed", "status", "says"),
    [
        ({"until_day": "2026-01-01"}, 409, "It cannot end before that."),
        ({"service": ""}, 422, "Please choose one of these."),
        ({"amount": "cheap"}, 422, "“cheap” is not an amount."),
    ],
)
def test_an_agreement_that_cannot_be_is_refused_and_kept(
    client: Browser, small: Small, typed: dict[str, str], status: int, says: str
) -> None:
    fields = {"service": str(small.trim), "amount": "51.25", "from_day": "2026-04-01"} | typed
    answer = client.post(f"/prices/agreed/{small.owner}", fields)

    assert answer.status_code == status
    assert says in answer.text
    assert 'value="2026-04-01"' in answer.text


def test_an_agreement_needs_a_client_there_is(client: Browser, small: Small) -> None:
    assert client.get("/prices/agreed/999").status_code == 404
    assert client.post("/prices/agreed/999", {"amount": "1"}).status_code == 404


def test_kinds_of_horse_say_in_plain_words_what_they_wear_and_take(
    client: Browser, small: Small
) -> None:
    page = client.get("/prices/kinds").text

    assert "wears tools like 3 ordinary horses" in page
    assert "takes 2.1 times as long" in page
    assert "wears tools like an ordinary horse" in page
    assert "unit" not in page


KIND = {
    "name": "Pony",
    "wear_factor": "0.7",
    "time_factor": ".95",
    "nails": "5",
    "shod_days": "56",
    "trim_days": "56",
}


def test_a_kind_of_horse_is_kept_to_the_thousandth(
    client: Browser, small: Small, database: Database
) -> None:
    assert client.post("/prices/kinds/new", KIND).status_code == 303

    with database.reading() as session:
        kind = next(c for c in clients.horse_types(session) if c.details.name == "Pony")
    assert (kind.details.wear_factor, kind.details.time_factor) == (700, 950)
    page = client.get(f"/prices/kinds/{kind.id}").text
    assert 'value="0.7"' in page
    assert 'value="0.95"' in page


@pytest.mark.parametrize(
    ("typed", "status", "says"),
    [
        ({"wear_factor": "much"}, 422, "“much” is not a number. Write it like 3 or 1.15."),
        ({"wear_factor": "1.1234"}, 422, "“1.1234” has more than 3 decimals."),
        ({"wear_factor": "0"}, 409, "This needs to be at least 1."),
        ({"wear_factor": "."}, 422, "is not a number"),
        ({"wear_factor": "٣"}, 422, "is not a number"),
        ({"wear_factor": "1e3"}, 422, "is not a number"),
        ({"nails": "40"}, 422, "more than can be meant"),
        ({"name": "Draft"}, 409, "There is already one called “Draft”."),
    ],
)
def test_a_kind_that_cannot_be_meant_is_refused_and_kept(
    client: Browser, small: Small, typed: dict[str, str], status: int, says: str
) -> None:
    answer = client.post("/prices/kinds/new", KIND | typed)

    assert answer.status_code == status
    assert says in answer.text
    assert 'value=".95"' in answer.text


def test_when_horses_are_due_follows_the_days_of_their_kind(
    client: Browser, small: Small, database: Database, today: date
) -> None:
    shoe_bramble(database, small, today)
    fields = KIND | {"name": "Stock horse", "shod_days": "35", "version": "1"}
    assert client.post(f"/prices/kinds/{small.stock_horse}", fields).status_code == 303

    assert "Tue, Apr 14, 2026" in client.get("/horses").text


def test_a_kind_somebody_else_changed_shows_theirs(client: Browser, small: Small) -> None:
    path = f"/prices/kinds/{small.draft}"
    client.post(path, KIND | {"name": "Draft", "wear_factor": "3.5", "version": "1"})
    answer = client.post(path, KIND | {"name": "Draft", "version": "1"})

    assert answer.status_code == 409
    assert "Theirs now: 3.5" in answer.text


def test_sales_tax_starts_with_nothing_set_and_says_to_ask(client: Browser, small: Small) -> None:
    page = client.get("/prices/tax").text

    assert page.count("nothing set: no sales tax") == 3
    assert "Check with your accountant." in page
    assert "Check with your accountant." in client.get("/prices/tax/labour").text


@pytest.mark.parametrize(
    ("typed", "ppm", "shown"),
    [
        ("7", 70_000, "taxed at 7 %"),
        ("7.125", 71_250, "taxed at 7.125 %"),
        ("0.0001", 1, "taxed at 0.0001 %"),
        ("8.2500 %", 82_500, "taxed at 8.25 %"),
    ],
)
def test_a_rate_is_kept_exactly_as_typed(
    client: Browser, small: Small, database: Database, typed: str, ppm: int, shown: str
) -> None:
    fields = {"category": "S", "rate_ppm": typed, "from_day": "2026-03-01"}
    assert client.post("/prices/tax/goods", fields).status_code == 303

    with database.reading() as session:
        assert queries.price_book(session, date(2026, 3, 17)).taxes["goods"].rate_ppm == ppm
    assert f"{shown}, from Sun, Mar 1, 2026" in client.get("/prices/tax").text


@pytest.mark.parametrize(
    ("category", "rate", "status", "says"),
    [
        ("S", "", 409, "A taxed line needs its rate."),
        ("E", "7", 409, "Only a taxed line has a rate."),
        ("S", "7.12345", 422, "has more than 4 decimals"),
        ("S", "101", 409, "more than can be meant"),
        ("S", "seven", 422, "“seven” is not a number."),
        ("", "7", 422, "Please choose one of these."),
    ],
)
def test_a_rate_that_cannot_be_is_refused_and_kept(
    client: Browser, small: Small, category: str, rate: str, status: int, says: str
) -> None:
    fields = {"category": category, "rate_ppm": rate, "from_day": "2026-03-02"}
    answer = client.post("/prices/tax/labour", fields)

    assert answer.status_code == status
    assert says in answer.text
    assert f'value="{rate}"' in answer.text
    assert 'value="2026-03-02"' in answer.text


def test_a_kind_of_line_there_is_not_is_not_found(client: Browser, small: Small) -> None:
    assert client.get("/prices/tax/hay").status_code == 404
    fields = {"category": "O", "from_day": "2026-03-02"}
    assert client.post("/prices/tax/hay", fields).status_code == 404


def test_hostile_text_is_shown_as_text(client: Browser, small: Small, database: Database) -> None:
    with database.writing() as unit:
        made = service.save_service(unit.session, ServiceDetails(name=HOSTILE))
        kind = saving_clients.save_horse_type(unit.session, HorseTypeDetails(name=HOSTILE))
        service.set_price(unit.session, made, kind, OPENED, 100)
        service.agree_price(unit.session, small.owner, made, OPENED, 100)

    for path in (
        "/prices", f"/prices/services/{made}", f"/prices/services/{made}/edit", "/prices/kinds",
        f"/prices/kinds/{kind}", f"/prices/agreed/{small.owner}", f"/clients/{small.owner}",
    ):  # fmt: skip
        page = client.get(path).text
        assert no_hostile(page), path
        assert "&lt;script&gt;" in page, path


def test_the_price_list_asks_as_much_for_thirty_services_as_for_four(
    client: Browser, small: Small, database: Database
) -> None:
    few = questions(client, database, "/prices")
    with database.writing() as unit:
        for number in range(26):
            made = service.save_service(unit.session, ServiceDetails(name=f"Service {number}"))
            service.set_price(unit.session, made, small.draft, OPENED, 100)

    assert questions(client, database, "/prices") == few


def test_the_books_may_and_the_truck_may_not(
    sign_in_as: Callable[[str], Browser], small: Small
) -> None:
    books, field = sign_in_as("books"), sign_in_as("field")
    for path in ("/prices", "/prices/tax", "/prices/kinds", f"/prices/agreed/{small.owner}"):
        assert books.get(path).status_code == 200
        assert field.get(path).status_code == 403


def test_what_a_service_takes_besides_shoes_is_said_item_by_item(
    client: Browser, small: Small, database: Database
) -> None:
    with database.writing() as unit:
        details = ItemDetails(sort="packing", name="Sole packing", pack=16)
        packing = stock.save_item(unit.session, details)
    path = f"/prices/services/{small.fronts}/takes"
    sent = {"item": str(packing), "qty": "2", "per": "shod_foot"}

    assert client.post(path, sent).status_code == 303
    assert "2 × Sole packing for each shod foot" in client.get(path).text
    assert client.post(path, sent | {"qty": "-1"}).status_code == 422
    assert client.post(path, sent | {"qty": "0"}).status_code == 303
    assert "Nothing besides shoes and nails yet." in client.get(path).text
    assert client.get("/prices/services/999/takes").status_code == 404
