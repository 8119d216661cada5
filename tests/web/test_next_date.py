"""The next date of a whole yard, and the notice of it."""

from datetime import date

import pytest
from flask import Flask

from backoffice.clients import service as clients
from backoffice.clients.rules import HorseDetails
from backoffice.db import Database
from backoffice.visits import queries as visits
from backoffice.visits import service as visiting
from backoffice.visits.rules import FactSort
from tests.factories import Small, feet_said, fronts_on, plan, said
from tests.web.browser import Browser
from tests.web.furnished import furnish, questions

DAY = date(2026, 3, 17)


@pytest.fixture
def small(app: Flask, database: Database) -> Small:
    """A small practice."""
    return furnish(database)


@pytest.fixture
def stop(small: Small, database: Database) -> str:
    """The address of a stop: one horse shod, one trimmed, one missed, one on its own cycle."""
    with database.writing() as unit:
        racing = clients.save_horse(
            unit.session, HorseDetails(name="Comet", yard_id=small.yard, cycle_days=28)
        )
        known = clients.save_horse(
            unit.session,
            HorseDetails(name="Pilot", type_id=small.stock_horse, yard_id=small.yard),
        )
        horses = (small.bay, small.shared, small.stray, racing, known)
        visit = plan(unit.session, small, DAY, *horses, service=small.fronts)
        for horse in (small.bay, known):
            visiting.say(unit.session, visit, [feet_said(horse, fronts_on(small))])
        visiting.say(unit.session, visit, [said(small.stray, FactSort.ABSENT)])
    return f"/day/2026-03-17/stop/{visit}/next-date"


def ticked(page: str) -> list[str]:
    """The horses whose box is ticked."""
    lines = [line for line in page.split("<li>") if 'type="checkbox"' in line]
    names = ("Bramble", "Tolliver", "Stray", "Comet", "Pilot")
    return [name for line in lines for name in names if name in line and "checked" in line]


def test_all_are_ticked_but_those_missed_and_on_their_own_cycle(client: Browser, stop: str) -> None:
    page = client.get(stop).text

    assert 'value="2026-04-28"' in page
    assert ticked(page) == ["Bramble", "Tolliver", "Pilot"]
    assert "was not there" in page
    assert "every 28 days, due Tue, Apr 14, 2026" in page


def test_the_date_is_set_and_the_notice_names_the_horses_and_no_price(
    client: Browser, small: Small, stop: str, database: Database
) -> None:
    sent = {"day": "2026-04-30", f"h{small.bay}-tick": "y", f"h{small.shared}-tick": "y"}
    answer = client.post(stop, sent)
    assert answer.status_code == 303
    notice = client.get(answer.location).text

    assert "Thursday, April 30, 2026" in notice
    assert "Bramble" in notice
    assert "Tolliver" in notice
    assert "Pilot" not in notice
    assert "$" not in notice.partition("<main")[2]
    with database.reading() as session:
        dues = visits.dues_of(session, [small.bay, small.shared, small.stray])
    assert dues[small.bay] == dues[small.shared] == date(2026, 4, 30)
    assert dues[small.stray] is None
    assert "down for Thu, Apr 30, 2026" in client.get(stop).text


def test_a_notice_before_any_date_says_so(client: Browser, stop: str) -> None:
    assert "No date is set yet." in client.get(f"{stop}/notice").text


@pytest.mark.parametrize(
    ("day", "tick", "status", "says"),
    [
        ("soon", "y", 422, "“soon” is not a date."),
        ("2026-03-17", "y", 409, "Choose a day after this stop."),
        ("2026-04-28", "", 409, "Tick at least one horse."),
    ],
)
def test_what_cannot_be_set_is_refused_and_kept(
    client: Browser,
    small: Small,
    stop: str,
    day: str,
    tick: str,
    status: int,
    says: str,
) -> None:
    sent = {"day": day} | ({f"h{small.bay}-tick": tick} if tick else {})
    answer = client.post(stop, sent)

    assert answer.status_code == status
    assert says in answer.text
    assert f'value="{day}"' in answer.text
    assert ticked(answer.text) == (["Bramble"] if tick else [])


def test_a_stop_of_another_day_is_not_found(client: Browser, stop: str) -> None:
    other = stop.replace("2026-03-17", "2026-03-18")

    assert client.get(other).status_code == 404
    assert client.get(f"{other}/notice").status_code == 404
    assert client.post(other, {"day": "2026-04-28"}).status_code == 404


def test_the_day_leads_to_the_next_date_of_each_stop(client: Browser, stop: str) -> None:
    assert stop in client.get("/day/2026-03-17").text


def test_it_asks_as_often_for_many_horses_as_for_few(
    client: Browser, small: Small, stop: str, database: Database
) -> None:
    few = questions(client, database, stop)
    with database.writing() as unit:
        more = [
            clients.save_horse(unit.session, HorseDetails(name=f"H{n}", yard_id=small.yard))
            for n in range(12)
        ]
        plan(unit.session, small, DAY, *more, service=small.trim)

    assert questions(client, database, stop) == few <= 6
