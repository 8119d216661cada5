"""Money out: suppliers' bills and deliveries."""

from collections.abc import Callable

import pytest
import sqlalchemy as sa
from flask import Flask

from backoffice import schema
from backoffice.db import Database
from backoffice.stock import queries as stock
from backoffice.suppliers import service as suppliers
from backoffice.suppliers.queries import SupplierDetails
from backoffice.web.forms import new_key
from tests.factories import Small, small_practice
from tests.web.browser import Browser
from tests.web.state import digest
from tests.web.test_shelf import questions

HOSTILE = "<script>alert(1)</script>{{ 7777 * 7777 }}'\"><img src=x onerror=alert(2)>=1+1"


@pytest.fixture
def small(app: Flask, database: Database) -> Small:
    """A small practice on Tuesday 17 March."""
    with database.writing() as unit:
        unit.session.execute(sa.text("DELETE FROM practice"))
        made = small_practice(unit.session)
        unit.session.execute(sa.text("UPDATE practice SET demo_today = '2026-03-17'"))
    return made


def bill(**more: object) -> dict[str, object]:
    return {"day": "2026-03-16", "reference": "A-117", "total": "80", "paid_by": "card", **more}


def shelf_line(small: Small, no: int = 0, **more: object) -> dict[str, object]:
    typed = {
        "item": small.shoe, "qty": "3", "per": "pair", "place": small.shop, "amount": "33", **more
    }  # fmt: skip
    return {f"lines-{no}-{name}": value for name, value in typed.items()}


def test_a_delivery_goes_on_the_shelf_and_the_rest_is_expense(
    client: Browser, small: Small, database: Database
) -> None:
    sent = bill(
        **shelf_line(small),
        **shelf_line(small, 1, item=small.nail, qty="2", per="pack", amount="20"),
        **{"lines-2-what": "Carriage", "lines-2-amount": "9.50"},
    )
    made = client.post("/spending/new", sent)

    assert made.status_code == 303
    page = client.get(made.location).text
    for said in ("3 pairs", "2 boxes (500)", "Carriage", "$9.50", "not sorted yet", "$17.50"):
        assert said in page
    with database.reading() as session:
        left = stock.item_card(session, small.nail).left
    assert [(one.qty, one.cost) for one in left if one.place_id == small.shop] == [(500, 2_000)]
    assert "$80.00" in client.get("/spending").text
    assert schema.check(database) == []


def test_a_bill_sent_twice_is_entered_once(
    client: Browser, small: Small, database: Database
) -> None:
    sent = bill(form_key=new_key(), **shelf_line(small))
    first = client.post("/spending/new", sent)
    after = digest(client.app)
    second = client.post("/spending/new", sent)

    assert first.location == second.location
    assert digest(client.app) == after
    assert schema.check(database) == []


@pytest.mark.parametrize(
    ("typed", "says"),
    [
        ({"total": "12.345"}, "has more than 2 decimals"),
        ({"total": "-1"}, "An amount below nothing cannot be meant here."),
        ({"total": ""}, "Please fill this in."),
        ({"day": "3026-03-16"}, "The year 3026 is far off."),
        ({"reference": "a\x00b"}, "cannot be kept"),
        ({"paid_by": "beer"}, "Please choose one of these."),
        ({"supplier": "77"}, "Please choose one of these."),
        ({"lines-0-amount": "99"}, "The lines come to $19.00 more than the total"),
        ({"lines-0-amount": "1.234"}, "has more than 2 decimals"),
        ({"lines-0-qty": "-3"}, "A count cannot be below nothing."),
        ({"lines-0-qty": ""}, "Please fill this in."),
        ({"lines-0-place": ""}, "Please fill this in."),
        ({"lines-0-item": "99"}, "Please choose one of these."),
        ({"lines-7-what": "Tea"}, "Please fill this in."),
        ({"lines-7-amount": "4"}, "Please fill this in."),
    ],
)
def test_a_bill_that_cannot_be_meant_is_kept_and_saves_nothing(
    client: Browser, small: Small, typed: dict[str, str], says: str
) -> None:
    before = digest(client.app)
    sent = {**bill(**shelf_line(small)), **typed}
    answer = client.post("/spending/new", sent)

    assert answer.status_code in (409, 422)
    assert says in answer.text
    assert "Not saved yet" in answer.text
    kept = {name: text for name, text in sent.items() if name in ("reference", "total", *typed)}
    for name, text in kept.items():
        if "\0" not in str(text) and not name.endswith(("supplier", "paid_by", "item", "place")):
            assert f'value="{text}"' in answer.text, name
    assert digest(client.app) == before


def test_more_lines_than_the_page_has_are_not_read(client: Browser, small: Small) -> None:
    sent = bill(**{f"lines-{no}-what": "x" for no in range(40)})

    assert client.post("/spending/new", sent).status_code == 422


def test_names_are_shown_as_they_were_typed(
    client: Browser, small: Small, database: Database
) -> None:
    with database.writing() as unit:
        seller = suppliers.save_supplier(unit.session, SupplierDetails(name=HOSTILE))
    sent = bill(supplier=seller, **{"lines-0-what": HOSTILE, "lines-0-amount": "1"})
    made = client.post("/spending/new", {**sent, "reference": HOSTILE[:60]})

    for path in (made.location, "/spending", "/spending/new"):
        page = client.get(path).text
        assert "<script>alert" not in page
        assert "<img" not in page


def test_who_does_the_books_enters_bills(
    sign_in_as: Callable[[str], Browser], small: Small
) -> None:
    books = sign_in_as("books")

    made = books.post("/spending/new", bill(**shelf_line(small)))
    assert made.status_code == 303
    assert f"/stock/{small.shoe}" not in books.get(made.location).text


def test_a_bill_that_is_not_there_is_not_found(client: Browser) -> None:
    assert client.get("/spending/999").status_code == 404
    assert "No supplier’s bill is entered yet." in client.get("/spending").text


def test_the_pages_ask_the_same_number_of_questions_however_much_was_bought(
    client: Browser, small: Small, database: Database
) -> None:
    client.post("/spending/new", bill(**shelf_line(small, amount="1")))
    paths = ("/spending", "/spending/1", "/spending/new")
    few = [questions(database, client, path) for path in paths]
    for _ in range(8):
        lines = {}
        for no in range(8):
            lines |= shelf_line(small, no, amount="1")
        assert client.post("/spending/new", bill(**lines)).status_code == 303

    assert [
        questions(database, client, path) for path in ("/spending", "/spending/9", paths[2])
    ] == few
