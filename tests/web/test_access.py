"""Signing in and out."""

import re
from collections.abc import Callable

import pytest
import sqlalchemy as sa
from flask import Flask
from werkzeug.test import TestResponse

from backoffice.access import rules
from backoffice.access import service as access
from backoffice.access.models import SignIn, StartLink
from backoffice.db import Database
from tests.web.browser import Browser, Clock

PASSWORD = "three dry hooves"


@pytest.fixture(autouse=True)
def quick(monkeypatch: pytest.MonkeyPatch) -> None:
    """Spare the tests the dear hash; tests/access measures it."""
    monkeypatch.setattr(rules, "COST", 4)


@pytest.fixture
def owner(app: Flask, database: Database) -> int:
    """The owner, who has a password."""
    with database.writing() as unit:
        user_id = access.first_owner(unit.session, "Ruth")
        access.set_password(unit.session, user_id, PASSWORD)
    return user_id


def link(database: Database, user_id: int, clock: Clock) -> str:
    with database.writing() as unit:
        return access.make_start_link(unit.session, user_id, clock.now())


def enter(browser: Browser, name: str = "Ruth", password: str = PASSWORD) -> TestResponse:
    browser.get("/sign-in")
    return browser.post("/sign-in", {"name": name, "password": password})


def use(browser: Browser, token: str) -> TestResponse:
    browser.get("/sign-in")
    return browser.post("/sign-in/link", {"token": token})


def inside(browser: Browser) -> bool:
    answer = browser.get("/sample/")
    assert answer.status_code in (200, 303)
    return answer.status_code == 200


def test_who_is_not_signed_in_is_sent_to_the_sign_in_page(browser: Browser) -> None:
    answer = browser.get("/sample/")

    assert (answer.status_code, answer.location) == (303, "/sign-in")
    assert browser.post("/sample/new", {"name": "Blue"}).status_code == 403


def test_a_name_and_its_password_let_in(browser: Browser, owner: int) -> None:
    answer = enter(browser, "  ruth ")

    assert (answer.status_code, answer.location) == (303, "/")
    assert inside(browser)
    assert "Ruth" in browser.get("/sample/").text


@pytest.mark.parametrize(
    ("name", "password"),
    [("Ruth", "wrong"), ("Ruth", ""), ("Nobody", PASSWORD), ("Ruth", PASSWORD + " ")],
)
def test_a_wrong_name_and_a_wrong_password_get_the_same_answer(
    browser: Browser, owner: int, name: str, password: str
) -> None:
    answer = enter(browser, name, password)

    assert answer.status_code == 403
    assert "That name and password do not go together." in answer.text
    assert PASSWORD not in answer.text
    assert not inside(browser)


def test_the_sign_in_page_works_without_scripts(browser: Browser, owner: int) -> None:
    page = browser.get("/sign-in").text

    assert 'id="sign-in"' in page
    assert 'name="token"' in page
    assert page.count(f'name="csrf" value="{browser.csrf}"') == 2


def test_a_one_time_link_lets_in_once(
    app: Flask, database: Database, browser: Browser, owner: int, clock: Clock
) -> None:
    token = link(database, owner, clock)
    first = use(browser, f" {token} ")
    other = Browser(app)
    second = use(other, token)

    assert (first.status_code, first.location) == (303, "/")
    assert inside(browser)
    assert second.status_code == 403
    assert "used already" in second.text
    assert not inside(other)


def test_a_one_time_link_is_good_for_five_minutes(
    database: Database, browser: Browser, owner: int, clock: Clock
) -> None:
    token = link(database, owner, clock)
    clock.forward(minutes=5)

    assert "older than five minutes" in use(browser, token).text
    assert not inside(browser)


def test_a_one_time_link_stands_in_no_address(
    database: Database, browser: Browser, owner: int, clock: Clock
) -> None:
    token = link(database, owner, clock)

    assert browser.get(f"/sign-in?token={token}").status_code == 200
    assert not inside(browser)
    assert browser.post(f"/sign-in/link?token={token}").status_code == 422


@pytest.mark.parametrize("token", ["", "x" * 43, "a\0b", "x" * 5000])
def test_a_made_up_code_lets_nobody_in(browser: Browser, owner: int, token: str) -> None:
    answer = use(browser, token)

    assert "field-refused" in answer.text
    assert answer.status_code in (403, 422)
    assert not inside(browser)


def test_no_token_can_be_read_from_the_database(
    database: Database, browser: Browser, owner: int, clock: Clock
) -> None:
    token = link(database, owner, clock)
    enter(browser)
    with database.reading() as session:
        kept = [*session.scalars(sa.select(SignIn.token_digest))]
        kept += session.scalars(sa.select(StartLink.token_digest))

    assert len(kept) == 2
    assert all(re.fullmatch("[0-9a-f]{64}", one) for one in kept)
    assert not {browser.token, token} & set(kept)
    assert len(browser.token) == len(token) == 43


def test_signing_in_gives_a_new_token_and_ends_the_old_one(
    app: Flask, browser: Browser, owner: int
) -> None:
    browser.get("/sign-in")
    planted = browser.token
    enter(browser)
    first = browser.token
    enter(browser)

    assert len({planted, first, browser.token}) == 3
    for old in (planted, first):
        thief = Browser(app)
        thief.token = old
        assert not inside(thief)
    assert inside(browser)


def test_signing_out_ends_it_at_once(app: Flask, browser: Browser, owner: int) -> None:
    enter(browser)
    token = browser.token
    answer = browser.post("/sign-out")

    assert (answer.status_code, answer.location) == (303, "/sign-in")
    assert browser.token == ""
    thief = Browser(app)
    thief.token = token
    assert not inside(thief)


def test_twelve_idle_hours_end_it(browser: Browser, owner: int, clock: Clock) -> None:
    enter(browser)
    clock.forward(hours=11, minutes=59)
    assert inside(browser)
    clock.forward(hours=11, minutes=59)
    assert inside(browser)
    clock.forward(hours=12)

    assert not inside(browser)


def test_seven_days_end_it_however_busy(browser: Browser, owner: int, clock: Clock) -> None:
    enter(browser)
    for _ in range(15):
        clock.forward(hours=11)
        assert inside(browser)
    clock.forward(hours=3)

    assert not inside(browser)


def test_being_here_is_noted_every_quarter_of_an_hour(
    database: Database, browser: Browser, owner: int, clock: Clock
) -> None:
    def seen() -> object:
        with database.reading() as session:
            return session.scalar(sa.select(SignIn.seen_at))

    enter(browser)
    began = seen()
    clock.forward(minutes=14)
    inside(browser)
    assert seen() == began
    clock.forward(minutes=1)
    inside(browser)

    assert seen() == clock.now()


def test_who_is_shut_out_is_out_at_once(
    database: Database, client: Browser, sign_in_as: Callable[[str], Browser]
) -> None:
    apprentice = sign_in_as("field")
    assert inside(apprentice)
    with database.writing() as unit:
        access.shut_out(unit.session, 2)

    assert not inside(apprentice)
    assert inside(client)


def test_a_new_password_ends_every_other_sign_in(app: Flask, browser: Browser, owner: int) -> None:
    enter(browser)
    other = Browser(app)
    enter(other)
    before = browser.token
    answer = browser.post("/password", {"now": PASSWORD, "password": "four dry hooves"})

    assert answer.status_code == 303
    assert browser.token != before
    assert inside(browser)
    assert not inside(other)
    assert answer.location == "/"
    assert enter(Browser(app), "Ruth", PASSWORD).status_code == 403
    assert enter(Browser(app), "Ruth", "four dry hooves").status_code == 303


@pytest.mark.parametrize(
    ("now", "password", "says"),
    [
        ("wrong", "four dry hooves", "do not go together"),
        (PASSWORD, "short", "at least 8 characters"),
        (PASSWORD, "password1234", "guessed at once"),
        (PASSWORD, "x" * 257, "longer than 256"),
    ],
)
def test_a_password_that_will_not_do_changes_nothing(
    app: Flask, browser: Browser, owner: int, now: str, password: str, says: str
) -> None:
    enter(browser)
    answer = browser.post("/password", {"now": now, "password": password})

    assert answer.status_code == 409
    assert says in answer.text
    assert password not in answer.text
    assert inside(browser)
    assert enter(Browser(app)).status_code == 303


def test_the_first_password_needs_none_before_it(client: Browser) -> None:
    assert 'name="now"' not in client.get("/password").text
    assert client.post("/password", {"password": "four dry hooves"}).status_code == 303
    assert 'name="now"' in client.get("/password").text


# -------------------------------------------------------------- guessing


def test_a_thousand_guesses_in_ten_minutes_are_twenty_at_most(
    app: Flask, owner: int, clock: Clock, monkeypatch: pytest.MonkeyPatch
) -> None:
    looked_at = []
    fits = access.fits
    monkeypatch.setattr(
        access, "fits", lambda claim, password: looked_at.append(1) or fits(claim, password)
    )
    guesser = Browser(app)
    guesser.get("/sign-in")
    for _ in range(1000):
        answer = guesser.post("/sign-in", {"name": "Ruth", "password": "guess"})
        assert answer.status_code == 403
        clock.forward(seconds=0.6)

    assert 5 < len(looked_at) <= 20
    assert "Too many tries. Wait" in enter(guesser).text
    clock.forward(seconds=300)
    assert enter(guesser).status_code == 303
    assert enter(Browser(app), "Ruth", "guess").status_code == 403
    assert enter(Browser(app)).status_code == 303


def test_unknown_names_have_to_wait_just_the_same(app: Flask, owner: int, clock: Clock) -> None:
    said = {
        name: [re.sub(r"\s+", " ", enter(Browser(app), name, "guess").text) for _ in range(7)][-1]
        for name in ("Ruth", "Nobody")
    }

    assert "Too many tries. Wait" in said["Ruth"]
    assert "Too many tries. Wait" in said["Nobody"]


def test_one_source_trying_many_names_has_to_wait(app: Flask, owner: int, clock: Clock) -> None:
    for number in range(5):
        enter(Browser(app), f"Name {number}", "guess")

    assert "Too many tries" in enter(Browser(app), "Ruth").text


def test_guesses_still_count_after_a_restart(
    app: Flask, owner: int, clock: Clock, database: Database
) -> None:
    for _ in range(5):
        enter(Browser(app), "Ruth", "guess")
    database.close()

    assert "Too many tries" in enter(Browser(app)).text
