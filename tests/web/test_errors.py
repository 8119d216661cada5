"""What is said when something cannot be done."""

import logging
from collections.abc import Callable

import pytest
import sqlalchemy as sa
from flask import Flask

from backoffice.db import Database, FormKey
from backoffice.practice import service
from backoffice.practice.rules import PlaceDetails
from backoffice.web import writing
from backoffice.web.forms import new_key
from tests.web import sample
from tests.web.browser import Browser
from tests.web.test_forms import fields_of, places, send


@pytest.fixture(autouse=True)
def _no_outcome_is_left_over() -> None:
    sample.outcomes.clear()


def test_what_is_not_there_is_said_in_plain_words(client: Browser, browser: Browser) -> None:
    for page in (client.get("/nothing-here"), client.get("/sample/77"), browser.get("/none")):
        assert page.status_code == 404
        assert page.content_type == "text/html; charset=utf-8"
        assert "Traceback" not in page.text
    assert "Back to the first page" in client.get("/nothing-here").text


def test_our_own_mistake_has_a_number_and_no_trace(
    client: Browser, caplog: pytest.LogCaptureFixture
) -> None:
    with caplog.at_level(logging.ERROR):
        page = client.get("/sample/breaks")

    assert page.status_code == 500
    number = page.text.split("<strong>")[1].split("</strong>")[0]
    assert number in caplog.text
    assert sample.SECRET not in page.text
    assert "Traceback" not in page.text
    assert "RuntimeError" not in page.text


@pytest.mark.parametrize(
    ("outcome", "status", "says"),
    [
        (sample.full_disk, 507, "The disk is full"),
        (sample.busy, 503, "busy with the books"),
        (sample.unknown, 503, "It may be saved. Send again; it cannot be saved twice."),
        (lambda: sample.unknown(sample.full_disk()), 507, "The disk is full. Make some room"),
    ],
    ids=["full", "busy", "unknown", "full at the last moment"],
)
def test_a_form_that_could_not_be_saved_is_sent_again_with_the_same_key(
    client: Browser, app: Flask, outcome: Callable[[], Exception], status: int, says: str
) -> None:
    sample.outcomes.append(outcome())
    key = new_key()
    answer = send(client, key, 'Blue & "Red"', more="1")

    assert answer.status_code == status
    assert says in answer.text
    assert answer.headers["Retry-After"]
    assert sample.SECRET not in answer.text
    fields = fields_of(answer.text)
    assert fields["form_key"] == key
    assert fields["name"] == "Blue &amp; &#34;Red&#34;"
    assert fields["more"] == "1"
    assert fields["csrf"] == client.csrf
    assert places(app) == ()
    assert send(client, key, 'Blue & "Red"', more="1").location == "/sample/1"


def test_a_commit_that_really_happened_though_it_failed_is_not_repeated(
    client: Browser, app: Flask, monkeypatch: pytest.MonkeyPatch
) -> None:
    def commits_and_fails(session: sa.orm.Session) -> None:
        real(session)
        raise sa.exc.OperationalError("commit", {}, OSError("disk I/O error"))

    from backoffice.db import Session

    real, key = Session.commit, new_key()
    monkeypatch.setattr(Session, "commit", commits_and_fails)
    assert send(client, key).status_code == 503
    monkeypatch.setattr(Session, "commit", real)

    assert send(client, key).location == "/sample/1"
    assert len(places(app)) == 1


def test_a_locked_database_is_said_in_words_and_pages_can_still_be_read(
    client: Browser, app: Flask
) -> None:
    database: Database = app.extensions["backoffice"].database
    with database.writer.connect() as elsewhere:
        elsewhere.exec_driver_sql("select 1")
        sa.event.listen(database.writer, "connect", _impatient)
        database.writer.pool = database.writer.pool.recreate()
        answer = send(client, new_key())
        page = client.get("/sample/")

    assert answer.status_code == 503
    assert "busy with the books" in answer.text
    assert page.status_code == 200


def _impatient(connection: object, _record: object) -> None:
    connection.execute("PRAGMA busy_timeout=50")  # type: ignore[attr-defined]


def test_what_a_rule_refuses_anywhere_is_said_in_its_own_sentence(client: Browser) -> None:
    send(client, new_key(), "Blue")
    send(client, new_key(), "Red")
    answer = client.post("/sample/2", {"name": "Blue", "version": "1"})

    assert answer.status_code == 409
    assert "There is already one called “Blue”." in answer.text


def test_the_second_of_two_who_change_the_same_record_is_told(client: Browser, app: Flask) -> None:
    send(client, new_key(), "Blue")
    first = client.post("/sample/1", {"name": "Red", "version": "1"})
    second = client.post("/sample/1", {"name": "Green", "version": "1"})

    assert (first.status_code, second.status_code) == (303, 409)
    assert "Somebody else changed this" in second.text
    assert [place.name for place in places(app)] == ["Red"]


def test_a_row_changed_between_reading_and_saving_is_told_as_well(
    client: Browser, app: Flask, monkeypatch: pytest.MonkeyPatch
) -> None:
    send(client, new_key(), "Blue")

    def stale(*_given: object, **_more: object) -> int:
        raise sa.orm.exc.StaleDataError

    monkeypatch.setattr(service, "save_place", stale)

    assert client.post("/sample/1", {"name": "Red", "version": "1"}).status_code == 409


def test_a_form_sent_after_the_sign_in_ran_out_is_not_lost(
    client: Browser, app: Flask, sign_in_as: Callable[[str], Browser]
) -> None:
    client.token = "x" * 43
    key = new_key()
    answer = send(client, key, "Blue")

    assert answer.status_code == 403
    assert "Sign in first" in answer.text
    assert fields_of(answer.text)["name"] == "Blue"
    stale = client.csrf
    client.token = sign_in_as("owner").token
    again = send(client, key, "Blue", csrf=stale)
    assert again.status_code == 403
    fields = fields_of(again.text)
    assert fields["form_key"] == key
    assert client.post("/sample/new", fields).location == "/sample/1"


def test_nothing_is_handed_back_that_another_page_sent(client: Browser, browser: Browser) -> None:
    for who in (client, browser):
        answer = who.post(
            "/sample/new", {"name": "planted", "csrf": ""}, origin="http://evil.example"
        )
        assert answer.status_code == 403
        assert "planted" not in answer.text


def test_an_error_page_never_names_what_the_template_lacks(app: Flask, client: Browser) -> None:
    with app.extensions["backoffice"].database.reading() as session:
        assert session.scalar(sa.select(sa.func.count()).select_from(FormKey)) == 0

    assert client.get("/sample/77").status_code == 404


def test_a_key_and_once_belong_together(app: Flask, client: Browser) -> None:
    with (
        app.test_request_context("/sample/1", method="POST"),
        pytest.raises(RuntimeError, match="@once"),
        writing.writing("0" * 32, "x") as unit,
    ):
        service.save_place(unit.session, PlaceDetails(name="Blue"))
    with (
        app.test_request_context("/sample/new", method="POST"),
        pytest.raises(RuntimeError, match="@once"),
        writing.writing() as unit,
    ):
        service.save_place(unit.session, PlaceDetails(name="Blue"))

    assert places(app) == ()
