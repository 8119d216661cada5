"""The load list: what is there, what is short and where there are others, on screen and paper."""

from collections.abc import Callable
from datetime import date

import pytest
from flask import Flask

from backoffice.clients import service as clients
from backoffice.clients.rules import HorseDetails
from backoffice.daybook import service as daybook
from backoffice.db import Database
from backoffice.practice import service as practice
from backoffice.practice.rules import PlaceDetails
from backoffice.stock import service as stock
from tests.factories import Small, plan
from tests.web.browser import Browser
from tests.web.furnished import HOSTILE, furnish, no_hostile, questions, shoe_bramble

DAY = date(2026, 3, 17)
PATH = "/day/2026-03-17/load"


@pytest.fixture
def small(app: Flask, database: Database) -> Small:
    """A small practice."""
    return furnish(database)


def count(database: Database, item: int, place: int, qty: int) -> None:
    with database.writing() as unit:
        entry = daybook.record(unit.session, "count", DAY)
        stock.count(unit.session, entry, item, place, qty, DAY)


def test_the_list_says_what_the_day_takes_and_what_is_short(
    client: Browser, small: Small, database: Database, today: date
) -> None:
    shoe_bramble(database, small, today)
    count(database, small.shoe, small.truck, 1)
    count(database, small.shoe, small.shop, 9)
    with database.writing() as unit:
        plan(unit.session, small, DAY, small.bay, small.stray, service=small.fronts)
    page = client.get(PATH).text

    assert "Truck A: 2 horses at 1 stop" in page
    assert "1 pair" in page
    assert "1 shoe short" in page
    assert "Shop: 4 pairs + 1" in page
    assert "about ½ box" not in page
    assert "13 nails" in page
    assert "Stray: size and nails not known yet" in page
    assert "Everything known" not in page


def test_a_day_before_that_is_not_finished_is_said_first(
    client: Browser, small: Small, database: Database
) -> None:
    with database.writing() as unit:
        plan(unit.session, small, date(2026, 3, 13), small.bay, service=small.trim)
        plan(unit.session, small, DAY, small.shared, service=small.trim)
    page = client.get(PATH).text

    assert page.index("Friday, March 13, 2026 is not finished yet") < page.index(">Take<")
    assert "/day/2026-03-13" in page


def test_an_empty_day_says_so(client: Browser, small: Small) -> None:
    page = client.get(PATH).text

    assert "No horse is on this day for this truck." in page
    assert "Nothing to load." in page


def test_a_day_that_is_written_up_says_that_nothing_is_left_to_load(
    client: Browser, small: Small, database: Database
) -> None:
    with database.writing() as unit:
        plan(unit.session, small, DAY, small.bay, small.shared, service=small.trim)
    sent = {"farrier": str(small.farrier), "text": "1 a"}
    client.post("/day/2026-03-17/evening", sent)
    assert "1 horse at 1 stop" in client.get(PATH).text
    client.post("/day/2026-03-17/evening/done", {"farrier": str(small.farrier), "rest": "1"})

    page = client.get(PATH).text
    assert "Truck A: the day is written up, nothing is left to load." in page
    assert "What the day took is off the shelf already." in page
    assert "No horse is on this day" not in page
    assert "Plan a stop" not in page


def test_another_truck_is_chosen_and_one_there_is_not_is_not_found(
    client: Browser, small: Small, database: Database
) -> None:
    with database.writing() as unit:
        other = practice.save_place(unit.session, PlaceDetails(name="Truck B"))
        plan(unit.session, small, DAY, small.bay, service=small.trim)

    assert "Truck A: 1 horse" in client.get(PATH).text
    assert "Truck B: No horse" in client.get(f"{PATH}?truck={other}").text
    assert client.get(f"{PATH}?truck=99").status_code == 404


def test_the_day_leads_to_its_load_list(client: Browser, small: Small, database: Database) -> None:
    with database.writing() as unit:
        plan(unit.session, small, DAY, small.bay, service=small.trim)

    assert PATH in client.get("/day/2026-03-17").text


def test_it_asks_as_often_for_many_horses_as_for_one(
    client: Browser, small: Small, database: Database
) -> None:
    counts = []
    for more in (0, 15):
        with database.writing() as unit:
            horses = [
                clients.save_horse(unit.session, HorseDetails(name=f"H{n}", yard_id=small.yard))
                for n in range(more)
            ]
            plan(unit.session, small, DAY, small.bay, *horses, service=small.fronts)
        counts.append(questions(client, database, PATH))

    assert counts[0] == counts[1] <= 16


def test_what_people_typed_stays_text(client: Browser, small: Small, database: Database) -> None:
    with database.writing() as unit:
        horse = clients.save_horse(
            unit.session, HorseDetails(name=HOSTILE[:200], yard_id=small.yard)
        )
        plan(unit.session, small, DAY, horse, service=small.fronts)

    assert no_hostile(client.get(PATH).text)


def test_who_does_the_books_does_not_load(
    sign_in_as: Callable[[str], Browser], small: Small
) -> None:
    assert sign_in_as("field").get(PATH).status_code == 200
    assert sign_in_as("books").get(PATH).status_code == 403
