"""Clients: listed with what they owe, looked at, changed."""

from collections.abc import Callable
from datetime import date

import pytest
from flask import Flask

from backoffice.clients import queries
from backoffice.clients import service as clients
from backoffice.clients.rules import ClientDetails
from backoffice.db import Database
from backoffice.web.forms import new_key
from tests.factories import Small
from tests.web.browser import Browser
from tests.web.furnished import HOSTILE, furnish, no_hostile, questions, shoe_bramble

GOOD = {"bill_when": "monthly", "bill_how": "email", "sort": "business"}


@pytest.fixture
def small(app: Flask, database: Database) -> Small:
    """A small practice."""
    return furnish(database)


def test_clients_are_listed_with_what_they_owe(
    client: Browser, small: Small, database: Database, today: date
) -> None:
    shoe_bramble(database, small, today)
    page = client.get("/clients").text

    assert "Wenna Harrow" in page
    assert "$130.00" in page
    assert "owes" in page


def test_a_client_shows_horses_bills_and_a_way_to_take_a_payment(
    client: Browser, small: Small, database: Database, today: date
) -> None:
    shoe_bramble(database, small, today)
    page = client.get(f"/clients/{small.owner}").text

    assert "Bramble" in page
    assert "Bill 100" in page
    assert f'href="/clients/{small.owner}/payment"' in page
    assert "/bills/1" in page
    assert "Alder Row" in page


def test_who_works_the_horses_sees_no_money(
    sign_in_as: Callable[[str], Browser], small: Small, database: Database, today: date
) -> None:
    shoe_bramble(database, small, today)
    field = sign_in_as("field")

    for path in ("/clients", f"/clients/{small.owner}"):
        page = field.get(path).text
        assert "Wenna Harrow" in page
        assert "$" not in page
        assert "owes" not in page.lower()
        assert "payment" not in page
    assert field.get("/clients/new").status_code == 403
    assert field.get(f"/clients/{small.owner}/edit").status_code == 403
    assert sign_in_as("books").get("/clients/new").status_code == 200


def test_a_new_client_is_saved_once(client: Browser, small: Small, database: Database) -> None:
    fields = GOOD | {"name": "Rowan Livery", "phone": "555 0142", "form_key": new_key()}
    answers = [client.post("/clients/new", fields) for _ in range(2)]
    page = client.get(answers[0].location).text

    assert answers[0].location == answers[1].location
    assert "Rowan Livery" in page
    assert "monthly, by e-mail" in page
    with database.reading() as session:
        assert len(queries.client_list(session, "rowan").rows) == 1


def test_a_client_without_a_name_is_one_not_named_yet(client: Browser, small: Small) -> None:
    answer = client.post("/clients/new", GOOD)

    assert "a client not named yet" in client.get(answer.location).text


def test_a_client_put_away_leaves_the_list(client: Browser, small: Small) -> None:
    fields = GOOD | {"name": "Corbin Ash", "hidden": "y", "version": "1"}
    assert client.post(f"/clients/{small.other}/edit", fields).status_code == 303

    assert "Corbin Ash" not in client.get("/clients").text
    assert "put away" in client.get("/clients?all=1").text


@pytest.mark.parametrize(
    ("typed", "says"),
    [
        ({"terms_days": "soon"}, "“soon” is not a whole number."),
        ({"terms_days": "-3"}, "below nothing"),
        ({"bill_when": "never"}, "Please choose one of these."),
        ({"phone": "5" * 300}, "longer than 200"),
    ],
)
def test_what_is_refused_is_said_and_kept(
    client: Browser, small: Small, typed: dict[str, str], says: str
) -> None:
    fields = GOOD | {"name": "Wenna of Alder Row", "version": "1"} | typed
    answer = client.post(f"/clients/{small.owner}/edit", fields)

    assert answer.status_code == 422
    assert says in answer.text
    assert "Wenna of Alder Row" in answer.text


def test_a_client_somebody_else_changed_shows_theirs(client: Browser, small: Small) -> None:
    path = f"/clients/{small.owner}/edit"
    client.post(path, GOOD | {"name": "Theirs", "hidden": "y", "version": "1"})
    answer = client.post(path, GOOD | {"name": "Mine", "bill_when": "weekly", "version": "1"})

    assert answer.status_code == 409
    assert 'value="Mine"' in answer.text
    assert "Theirs now: Theirs" in answer.text
    assert "Theirs now: Monthly" in answer.text
    assert "Theirs now: ticked" in answer.text


def test_hostile_text_is_shown_as_text(client: Browser, small: Small) -> None:
    fields = GOOD | dict.fromkeys(("name", "address", "phone", "email", "notes"), HOSTILE)
    location = client.post("/clients/new", fields).location

    for path in ("/clients", location, f"{location}/edit"):
        page = client.get(path).text
        assert no_hostile(page), path
        assert "&lt;script&gt;" in page, path


def test_the_list_asks_as_much_for_thirty_as_for_three(
    client: Browser, small: Small, database: Database
) -> None:
    few = questions(client, database, "/clients")
    with database.writing() as unit:
        for number in range(28):
            clients.save_client(unit.session, ClientDetails(name=f"Client {number}"))

    assert questions(client, database, "/clients") == few


def test_a_client_there_is_not_is_not_found(client: Browser, small: Small) -> None:
    assert client.get("/clients/999").status_code == 404
    assert client.get("/clients/999/edit").status_code == 404
