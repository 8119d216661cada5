"""What pays: who sees it, what it says, and that each figure opens."""

import re
from collections.abc import Callable
from dataclasses import replace
from datetime import date

import pytest
import sqlalchemy as sa

from backoffice.billing import queries as bills
from backoffice.billing import service as billing
from backoffice.books import service as books
from backoffice.clients import service as clients
from backoffice.clients.rules import ClientDetails, HorseDetails
from backoffice.daybook import service as daybook
from backoffice.db import Database
from backoffice.practice import service as practice
from backoffice.practice.rules import FarrierDetails
from backoffice.stock import service as stock
from backoffice.visits import service as visits
from backoffice.visits.rules import FactSort
from tests.factories import Small, feet_said, fronts_on, plan, said
from tests.web.browser import Browser
from tests.web.furnished import HOSTILE, furnish, no_hostile, questions

DAY, AFTER = date(2026, 3, 10), date(2026, 3, 12)


@pytest.fixture
def small(client: Browser, database: Database) -> Small:
    """A week ago: fronts on Bramble beyond stock, trims on shared Tolliver and on Stray."""
    made = furnish(database)
    with database.writing() as unit:
        session = unit.session
        entry_id = daybook.record(session, "count", DAY)
        stock.count(session, entry_id, made.shoe, made.truck, 1, DAY)
        stop = plan(session, made, DAY, made.bay, made.shared, made.stray, service=made.trim)
        fronts = feet_said(made.bay, fronts_on(made))
        visits.say(
            session,
            stop,
            [
                replace(fronts, data={**fronts.data, "service": made.fronts}),
                said(made.shared, FactSort.AS_PLANNED),
                said(made.stray, FactSort.AS_PLANNED),
            ],
        )
        billing.close_day(session, DAY, today=DAY)
    return made


def take_back_and_deliver(database: Database, small: Small) -> None:
    """Take the other client's bill back for good, and let a delivery cover the shoe."""
    with database.writing() as unit:
        session = unit.session
        (ready,) = bills.ready_bills(session, includes_tax=False, client_id=small.other)
        new = billing.NewBill(client_id=small.other, expected=ready.totals.payable, first_no=100)
        billing.credit(
            session, billing.issue(session, new, today=DAY), today=AFTER, reason="A gift"
        )
        entry_id = daybook.record(session, "delivery", AFTER)
        shoes = stock.Arrival(item_id=small.shoe, place_id=small.truck, qty=2, cost=1_300)
        stock.receive(session, entry_id, [shoes])


def text(html: str) -> str:
    return " ".join(re.sub(r"<[^>]*>", " ", html.partition("<main")[2]).split())


def test_only_the_owner_sees_what_pays(
    client: Browser, sign_in_as: Callable[[str], Browser], small: Small
) -> None:
    for role in ("field", "books"):
        someone = sign_in_as(role)
        for path in ("/what-pays", f"/what-pays/clients/{small.owner}"):
            assert someone.get(path).status_code == 403, (role, path)
        assert "/what-pays" not in someone.get("/office").text, role
    assert "/what-pays" not in sign_in_as("books").get("/money").text
    assert 'href="/what-pays"' in client.get("/money").text
    assert 'href="/what-pays"' in client.get("/office").text


def test_clients_are_listed_with_what_they_left_and_what_an_hour_left(
    client: Browser, small: Small
) -> None:
    page = text(client.get("/what-pays").text)

    # Bramble 120.00 and 3.34 of the trip fee; half of Tolliver's 58.00 + 3.33; Stray's 61.33.
    assert "Of $246.00 worked for" in page
    assert "Wenna Harrow left most" in page
    assert "Wenna Harrow $154.01" in page
    assert "Corbin Ash $30.66" in page
    assert "Payer not known yet $61.33" in page
    assert "All $246.00" in page
    assert "Measured: none of the minutes, none of the drive," in page


def test_the_bars_are_said_plainly_and_pay_owed_beside_them_is_named(
    client: Browser, small: Small, database: Database
) -> None:
    page = text(client.get("/what-pays").text)
    assert "where the solid part goes past the line, your hour is paid" in page
    assert "apprentice" not in page
    with database.writing() as unit:
        tam = practice.save_farrier(
            unit.session,
            FarrierDetails(name="Tam", place_id=small.truck, sort="apprentice", day_pay=9_000),
        )
        books.come_along(unit.session, DAY, tam, today=AFTER)

    html = client.get("/what-pays").text

    sentence = "An apprentice’s pay is not in these figures: $90.00 is owed for days in this time."
    assert f"{sentence} Money out" in text(html)
    assert 'href="/spending"' in html.partition("<main")[2]
    before = client.get("/what-pays?period=last_month").text
    assert "apprentice" not in before


def test_kinds_of_horse_come_to_the_same_sum(client: Browser, small: Small) -> None:
    page = text(client.get("/what-pays?by=kinds").text)

    assert "Stock horse $246.00" in page
    assert "All $246.00" in page


def test_each_line_and_its_bar_open_into_the_horses(client: Browser, small: Small) -> None:
    page = client.get("/what-pays?period=this_month").text
    link = f'href="/what-pays/clients/{small.owner}?period=this_month"'
    assert link in page
    assert "<svg" in page.partition(link)[2].partition("</a>")[0]
    assert 'href="/what-pays/clients/0?period=this_month"' in page

    behind = client.get(f"/what-pays/clients/{small.owner}?period=this_month").text

    for name, work in (("Bramble", 1), ("Tolliver", 2)):
        assert name in behind
        assert f'href="/horse-record/{work}"' in behind
    assert "Stray" not in behind
    assert "Stray" in client.get("/what-pays/clients/0?period=this_month").text


def test_what_came_later_stands_apart_and_is_counted(
    client: Browser, small: Small, database: Database
) -> None:
    take_back_and_deliver(database, small)

    other = text(client.get(f"/what-pays/clients/{small.other}").text)
    owner = text(client.get(f"/what-pays/clients/{small.owner}").text)

    assert "Taken back since -$30.66" in other
    assert "its bill was taken back -$30.66" in other
    # The shoe beyond stock was assumed at 5.50, and half the delivery is 6.50.
    assert "Put right by deliveries since -$1.00" in owner
    assert "a delivery since put the cost right -$1.00" in owner
    assert "Of $215.34 worked for" in text(client.get("/what-pays").text)


@pytest.mark.parametrize(
    ("asked", "shown"),
    [
        ("period=this_month", "Wenna Harrow"),
        ("period=last_month", "Nothing was written up in this time."),
        ("period=soon", "Wenna Harrow"),
        ("since=2026-03-10&until=2026-03-10", "Wenna Harrow"),
        ("since=2026-03-11&until=2026-03-17", "Nothing was written up in this time."),
    ],
)
def test_a_period_holds_the_days_it_says(
    client: Browser, small: Small, asked: str, shown: str
) -> None:
    page = client.get(f"/what-pays?{asked}")

    assert page.status_code == 200
    assert shown in page.text


@pytest.mark.parametrize(
    ("asked", "kept"),
    [
        ("since=2026-03-05&until=2026-03-01", 'value="2026-03-01"'),
        ("since=soon&until=2026-03-01", 'value="soon"'),
        ("since=2026-03-05", 'value="2026-03-05"'),
        ("since=0026-03-05&until=2026-03-01", 'value="0026-03-05"'),
    ],
)
def test_days_that_cannot_be_meant_are_kept_and_answered(
    client: Browser, small: Small, asked: str, kept: str
) -> None:
    page = client.get(f"/what-pays?{asked}")

    assert page.status_code == 422
    assert kept in page.text
    assert 'aria-invalid="true"' in page.text


@pytest.mark.parametrize(
    "path", ["/what-pays/clients/999", "/what-pays/works/1", "/what-pays/kinds/999"]
)
def test_what_there_is_not_is_not_found(client: Browser, small: Small, path: str) -> None:
    assert client.get(path).status_code == 404


def test_a_client_without_work_in_that_time_says_so(client: Browser, small: Small) -> None:
    page = client.get(f"/what-pays/clients/{small.owner}?period=last_month")

    assert page.status_code == 200
    assert "Nothing was written up in this time." in page.text


def test_an_hour_worth_more_than_was_left_is_said(
    client: Browser, small: Small, database: Database
) -> None:
    assert "so that still pays for it" in client.get("/what-pays").text
    with database.writing() as unit:
        practice.change_setting(unit.session, "hour_cents", 50_000)

    assert "so that does not pay for it" in client.get("/what-pays").text


def test_hostile_names_are_text(client: Browser, small: Small, database: Database) -> None:
    with database.writing() as unit:
        details = ClientDetails(name=HOSTILE, version=1)
        clients.save_client(unit.session, details, small.owner)

    for path in ("/what-pays", f"/what-pays/clients/{small.owner}"):
        assert no_hostile(client.get(path).text), path


@pytest.mark.parametrize("path", ["/what-pays", "/what-pays?by=kinds", "/what-pays/kinds/1"])
def test_the_pages_ask_as_much_for_many_horses_as_for_few(
    client: Browser, small: Small, database: Database, path: str
) -> None:
    few = questions(client, database, path)
    with database.writing() as unit:
        session = unit.session
        horses = []
        for n in range(120):
            payer = clients.save_client(session, ClientDetails(name=f"Client {n}"))
            details = HorseDetails(name=f"Horse {n}", type_id=small.stock_horse, yard_id=small.yard)
            horses.append(clients.save_horse(session, details))
            clients.set_payers(session, horses[-1], date(2026, 1, 5), [(payer, 1)])
        stop = plan(session, small, AFTER, *horses, service=small.trim)
        visits.say(session, stop, [said(horse, FactSort.AS_PLANNED) for horse in horses])
        billing.close_day(session, AFTER, today=AFTER)

    assert questions(client, database, path) == few <= 12
    if path.endswith("/1"):
        assert "page=2" in client.get(path).text
        assert "Bramble" in client.get(f"{path}?page=2").text


def test_a_result_of_nothing_but_costs_is_drawn_without_a_bar(
    client: Browser, small: Small, database: Database
) -> None:
    with database.writing() as unit:
        unit.session.execute(sa.text("UPDATE result SET net = 0, minutes = 0"))

    page = client.get("/what-pays")

    assert page.status_code == 200
    assert "Of $0.00 worked for, -$" in page.text
