"""Suppliers: who we buy from."""

from collections.abc import Callable

import pytest
from flask import Flask

from backoffice.db import Database
from backoffice.suppliers import service
from backoffice.suppliers.queries import SupplierDetails
from backoffice.web.forms import new_key
from tests.web.browser import Browser
from tests.web.furnished import HOSTILE, no_hostile, questions


@pytest.fixture
def supplier(app: Flask, database: Database) -> int:
    """Somebody who sells shoes."""
    with database.writing() as unit:
        return service.save_supplier(unit.session, SupplierDetails(name="Bar End Supply"))


def test_an_empty_list_says_what_to_do(client: Browser) -> None:
    assert "Add whoever sells you shoes and nails." in client.get("/suppliers").text


def test_a_new_supplier_is_saved_once_and_listed(client: Browser) -> None:
    fields = {"name": "Anvil Yard", "contact": "555 0117\nopens at 7", "form_key": new_key()}
    assert [client.post("/suppliers/new", fields).status_code for _ in range(2)] == [303, 303]
    page = client.get("/suppliers").text

    assert page.count("Anvil Yard") == 1
    assert "555 0117 · opens at 7" in page


def test_a_supplier_is_changed_and_put_away(client: Browser, supplier: int) -> None:
    fields = {"name": "Bar End", "hidden": "y", "version": "1"}
    assert client.post(f"/suppliers/{supplier}", fields).status_code == 303

    assert "Bar End" not in client.get("/suppliers").text
    assert "Bar End" in client.get("/suppliers?all=1").text


def test_a_supplier_needs_a_name_and_the_rest_is_kept(client: Browser, supplier: int) -> None:
    fields = {"name": " ", "contact": "ring twice", "version": "1"}
    for path in ("/suppliers/new", f"/suppliers/{supplier}"):
        answer = client.post(path, fields)

        assert answer.status_code == 422
        assert "Please fill this in." in answer.text
        assert "ring twice" in answer.text


def test_a_supplier_somebody_else_changed_shows_theirs(client: Browser, supplier: int) -> None:
    client.post(f"/suppliers/{supplier}", {"name": "Theirs", "version": "1"})
    answer = client.post(f"/suppliers/{supplier}", {"name": "Mine", "version": "1"})

    assert answer.status_code == 409
    assert "Somebody else changed this" in answer.text
    assert "Theirs now: Theirs" in answer.text
    assert 'value="Mine"' in answer.text


def test_hostile_text_is_shown_as_text(client: Browser) -> None:
    client.post("/suppliers/new", {"name": HOSTILE, "contact": HOSTILE})

    for path in ("/suppliers", "/suppliers/1"):
        page = client.get(path).text
        assert no_hostile(page)
        assert "&lt;script&gt;" in page


def test_the_list_asks_as_much_for_thirty_as_for_three(
    client: Browser, supplier: int, database: Database
) -> None:
    few = questions(client, database, "/suppliers")
    with database.writing() as unit:
        for number in range(29):
            service.save_supplier(unit.session, SupplierDetails(name=f"Supplier {number}"))

    assert questions(client, database, "/suppliers") == few


def test_the_books_may_and_the_truck_may_not(
    sign_in_as: Callable[[str], Browser], supplier: int
) -> None:
    assert sign_in_as("books").get(f"/suppliers/{supplier}").status_code == 200
    assert sign_in_as("field").get("/suppliers").status_code == 403
    assert sign_in_as("owner").get("/suppliers/999").status_code == 404
