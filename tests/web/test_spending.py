"""Money out: suppliers' bills and deliveries."""

from collections.abc import Callable
from datetime import date

import pytest
import sqlalchemy as sa
from flask import Flask

from backoffice import schema
from backoffice.books import service as books
from backoffice.daybook import service as daybook
from backoffice.db import Database
from backoffice.practice import service as people
from backoffice.practice.rules import FarrierDetails
from backoffice.stock import queries as stock
from backoffice.stock import service as shelf
from backoffice.suppliers import service as suppliers
from backoffice.suppliers.queries import SupplierDetails
from backoffice.web.forms import new_key
from tests.factories import Small, plan, small_practice
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


def sorting(small: Small, **more: object) -> dict[str, object]:
    """Ten pairs of shoes and a box of nails, said as they are usually counted."""
    return {
        **shelf_line(small, qty="10", per="usual", amount="57"),
        **shelf_line(small, 1, item=small.nail, qty="1", per="usual", amount="12.50"),
        **more,
    }


def test_what_a_bill_was_is_said_later_on_its_page(
    client: Browser, small: Small, database: Database
) -> None:
    made = client.post("/spending/new", bill())
    assert "$80.00 not sorted yet" in client.get("/spending").text
    said = client.post(f"{made.location}/lines", sorting(small))

    assert said.location == made.location
    page = client.get(made.location).text
    for told in ("10 pairs", "1 box", "$57.00", "$10.50 not sorted yet", "Say what it was"):
        assert told in page
    rest = {"lines-7-what": "Diesel", "lines-7-amount": "10.50"}
    client.post(f"{made.location}/lines", rest)
    page = client.get(made.location).text
    assert "Diesel" in page
    assert "not sorted yet" not in page
    assert "Say what it was" not in page
    listed = client.get("/spending").text
    assert listed.count(f'href="{made.location}"') == 1
    assert "not sorted yet" not in listed
    assert schema.check(database) == []


def test_lines_sent_twice_arrive_once(client: Browser, small: Small, database: Database) -> None:
    made = client.post("/spending/new", bill())
    sent = sorting(small, form_key=new_key())
    client.post(f"{made.location}/lines", sent)
    after = digest(client.app)

    assert client.post(f"{made.location}/lines", sent).location == made.location
    assert digest(client.app) == after


@pytest.mark.parametrize(
    ("typed", "status", "says"),
    [
        ({"lines-2-what": "Tea", "lines-2-amount": "10.51"}, 409, "Only $80.00 of this bill"),
        ({"lines-2-what": "Tea"}, 422, "Please fill this in."),
        ({"lines-0-qty": "x"}, 422, "x"),
        ({"lines-0-amount": "-57"}, 422, "An amount below nothing cannot be meant here."),
    ],
)
def test_lines_that_cannot_be_are_kept_and_save_nothing(
    client: Browser, small: Small, typed: dict[str, str], status: int, says: str
) -> None:
    made = client.post("/spending/new", bill())
    before = digest(client.app)
    answer = client.post(f"{made.location}/lines", sorting(small, **typed))

    assert answer.status_code == status
    assert says in answer.text
    for text in ("12.50", *typed.values()):
        assert f'value="{text}"' in answer.text
    assert digest(client.app) == before


def test_lines_of_nothing_and_of_no_bill_are_refused(client: Browser, small: Small) -> None:
    made = client.post("/spending/new", bill())

    nothing = client.post(f"{made.location}/lines", {})
    assert nothing.status_code == 409
    assert "Say at least one thing" in nothing.text
    assert client.post("/spending/99/lines", sorting(small)).status_code == 404


def test_a_shelf_counted_after_the_bill_is_to_be_counted_again(
    client: Browser, small: Small
) -> None:
    made = client.post("/spending/new", bill(day="2026-03-10"))
    with client.house.database.writing() as unit:
        entry = daybook.record(unit.session, "count", date(2026, 3, 12))
        shelf.count(unit.session, entry, small.shoe, small.truck, 30, date(2026, 3, 12))
    sent = shelf_line(small, qty="5", place=small.truck, amount="20")
    client.post(f"{made.location}/lines", sent)

    assert "count it again, it may stand there twice" in client.get(made.location).text


def test_days_along_and_what_they_are_owed_stand_under_the_bills(
    client: Browser, small: Small, database: Database
) -> None:
    with database.writing() as unit:
        tam = people.save_farrier(
            unit.session,
            FarrierDetails(name="Tam", place_id=1, sort="apprentice", day_pay=9_000),
        )
        for day in (date(2026, 2, 27), date(2026, 3, 3), date(2026, 3, 4)):
            plan(unit.session, small, day, small.bay, service=small.trim)
            books.come_along(unit.session, day, tam, today=date(2026, 3, 17))

    page = client.get("/spending").text
    for told in ("Tam", "$180.00", "2 days along", "$90.00", "1 day along"):
        assert told in page
