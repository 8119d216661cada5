"""What may be typed, and how it is read."""

import threading
from collections.abc import Callable, Iterator, Mapping
from datetime import date
from pathlib import Path

import pytest
from flask import Flask
from werkzeug.test import TestResponse

from backoffice.access import service as access
from backoffice.db import Database
from backoffice.errors import Refused
from backoffice.practice import queries
from backoffice.web.forms import fingerprint, new_key, refuse
from tests.web import sample
from tests.web.browser import Browser, set_up

GOOD = {"name": "Blue", "home": "1", "kind": "truck"}
HOSTILE = (
    "<script>alert(1)</script>",
    '"><img src=x onerror=alert(1)>',
    "' onmouseover='alert(1)",
    "javascript:alert(1)",
    "{{ 7777 * 7777 }}",
    "{% raw %}",
    "{name}",
    "</textarea></form>",
    "=HYPERLINK(1)",
    "\u202egnp.exe",
    "&lt;b&gt;",
    "'; drop table place; --",
    "%00",
    "😀" * 40,
)


@pytest.fixture
def typed(app: Flask) -> Iterator[Callable[..., sample.Everything]]:
    """Send a form and read it."""
    with app.test_request_context() as context:

        def read(**fields: str) -> sample.Everything:
            context.request.form = context.request.form.__class__({**GOOD, **fields})  # type: ignore[misc]
            form = sample.Everything.typed()
            form.truck.offer([(1, "Blue"), (2, "Red")])
            form.home.offer([(1, "Blue")])
            form.validate()
            return form

        yield read


@pytest.mark.parametrize(
    ("field", "text", "value"),
    [
        ("name", "  Blue truck ", "Blue truck"),
        ("note", "first\r\nsecond", "first\nsecond"),
        ("note", "", None),
        ("price", "1,234.50", 123450),
        ("price", "$58", 5800),
        ("price", "", None),
        ("owed", "-3", -300),
        ("pairs", "12", 12),
        ("pairs", "", None),
        ("worked", "2026-03-17", date(2026, 3, 17)),
        ("worked", "", None),
        ("truck", "2", 2),
        ("truck", "", None),
        ("kind", "shop", "shop"),
        ("done", "y", True),
    ],
)
def test_what_is_typed_is_read(
    typed: Callable[..., sample.Everything], field: str, text: str, value: object
) -> None:
    form = typed(**{field: text})

    assert form.errors == {}
    assert form[field].data == value


@pytest.mark.parametrize(
    ("field", "text", "says"),
    [
        ("name", "   ", "Please fill this in."),
        ("name", "a\0b", "There is a character in here"),
        ("name", "a\x1bb", "There is a character in here"),
        ("name", "a\nb", "There is a character in here"),
        ("name", "x" * 21, "longer than 20"),
        ("note", "x" * 4001, "longer than 4000"),
        ("note", "a\x07", "There is a character in here"),
        ("price", "about 50", "“about 50” is not an amount"),
        ("price", "1.234", "more than 2 decimals"),
        ("price", "-1", "below nothing"),
        ("price", "9" * 30, "too large"),
        ("pairs", "1.5", "“1.5” is not a whole number"),
        ("pairs", "٣", "is not a whole number"),
        ("pairs", "-2", "below nothing"),
        ("pairs", "0", "at least 1"),
        ("pairs", "100", "more than can be meant"),
        ("pairs", "9" * 5000, "is not a whole number"),
        ("worked", "17.3.2026", "is not a date"),
        ("worked", "0206-03-17", "far off"),
        ("truck", "3", "choose one of these"),
        ("truck", "x", "choose one of these"),
        ("truck", "9" * 5000, "choose one of these"),
        ("home", "", "choose one of these"),
        ("kind", "boat", "choose one of these"),
        ("kind", "", "choose one of these"),
    ],
)
def test_what_cannot_be_read_is_said_beside_its_field_and_kept_as_typed(
    typed: Callable[..., sample.Everything], field: str, text: str, says: str
) -> None:
    form = typed(**{field: text})

    assert list(form.errors) == [field]
    (sentence,) = form[field].errors
    assert says in sentence
    if isinstance(form[field], sample.TextField | sample.MoneyField | sample.DayField):
        assert form[field]._value() == text


def test_what_a_service_refuses_stands_beside_its_field_or_at_the_top(
    typed: Callable[..., sample.Everything],
) -> None:
    form = typed()
    refuse(form, Refused("name.taken", field="name", name="Blue"))
    refuse(form, Refused("shares.make_nothing"))

    assert form.name.errors == ["There is already one called “Blue”."]
    assert form.form_errors == ["These shares make nothing: give at least one of them a part."]


def test_a_field_no_form_declares_changes_nothing(client: Browser, app: Flask) -> None:
    client.post("/sample/new", {"name": "Blue", "hidden": "1", "role": "owner", "sort": "shop"})

    (place,) = places(app)
    assert (place.name, place.sort, place.hidden) == ("Blue", "truck", False)


def test_labels_and_choices_speak_the_words_of_the_practice(client: Browser) -> None:
    assert "Name of the truck" in client.get("/sample/new").text
    page = client.get("/sample/everything").text

    assert "not known yet" in page
    assert ">Truck</" in page
    assert "choose one" not in page
    assert "Careful." in page
    assert "no sign" in page


@pytest.mark.parametrize("text", HOSTILE)
def test_hostile_text_is_shown_as_text(client: Browser, app: Flask, text: str) -> None:
    answer = client.post("/sample/new", {"name": text})
    shown = [client.get(answer.location), client.get("/sample/")]
    again = client.post("/sample/new", {"name": text})

    assert [place.name for place in places(app)] == [text]
    assert again.status_code == 409
    for page in (*(page.text for page in shown), again.text):
        assert "<script>alert" not in page
        assert "<img src=x" not in page
        assert "</textarea></form>" not in page
        assert "60481729" not in page


# -------------------------------------------------------------- saved once


def send(browser: Browser, key: str, name: str = "Blue", **more: str) -> TestResponse:
    return browser.post("/sample/new", {"name": name, "form_key": key, **more})


def places(app: Flask) -> tuple[queries.PlaceLine, ...]:
    with app.extensions["backoffice"].database.reading() as session:
        return queries.places(session)


def fields_of(page: str) -> Mapping[str, str]:
    """Read the hidden fields of the form that sends something again."""
    form = page[page.index('<form class="form"') :].split("</form>")[0]
    parts = [part.split('"') for part in form.split('<input type="hidden" name="')[1:]]
    return {part[0]: part[2] for part in parts}


def test_a_form_sent_twice_is_saved_once_and_leads_to_the_same_place(
    client: Browser, app: Flask
) -> None:
    key = new_key()
    first, second, third = (send(client, key) for _ in range(3))

    assert [answer.status_code for answer in (first, second, third)] == [303] * 3
    assert first.location == second.location == third.location == "/sample/1"
    assert len(places(app)) == 1


def test_a_form_sent_many_times_at_once_is_saved_once(
    both: Database, tmp_path: Path, today: date
) -> None:
    app = set_up(both, tmp_path, today)
    with both.writing() as unit:
        user_id = access.add_user(unit.session, "Ruth", "owner")
    browsers = [Browser(app).as_user(user_id) for _ in range(12)]
    keys = [new_key() for _ in range(4)]
    answers: list[tuple[str, int, str | None]] = []

    def tap(browser: Browser) -> None:
        for key in keys:
            answer = send(browser, key, key)
            answers.append((key, answer.status_code, answer.location))

    taps = [threading.Thread(target=tap, args=(browser,)) for browser in browsers]
    for thread in taps:
        thread.start()
    for thread in taps:
        thread.join()

    assert len(answers) == 48
    assert len(set(answers)) == len(keys)
    assert {status for _key, status, _location in answers} == {303}
    assert sorted(place.name for place in places(app)) == sorted(keys)


def test_two_forms_are_saved_twice(client: Browser, app: Flask) -> None:
    send(client, new_key(), "Blue")
    send(client, new_key(), "Red")

    assert [place.name for place in places(app)] == ["Blue", "Red"]


def test_a_changed_form_with_an_old_key_is_kept_and_offered_as_a_new_one(
    client: Browser, app: Flask
) -> None:
    key = new_key()
    send(client, key, "Blue")
    answer = send(client, key, 'Red & "Blue"')

    assert answer.status_code == 409
    assert "already saved" in answer.text
    assert 'href="/sample/1"' in answer.text
    assert len(places(app)) == 1
    fields = fields_of(answer.text)
    assert fields["form_key"] != key
    assert fields["name"] == "Red &amp; &#34;Blue&#34;"
    assert send(client, fields["form_key"], "Red").location == "/sample/2"


def test_what_was_saved_for_one_person_is_never_shown_to_another(
    client: Browser, sign_in_as: Callable[[str], Browser], app: Flask
) -> None:
    key = new_key()
    send(client, key)
    answer = send(sign_in_as("field"), key)

    assert answer.status_code == 409
    assert "/sample/1" not in answer.text
    assert "Location" not in answer.headers
    assert len(places(app)) == 1


def test_a_refused_form_keeps_its_key_and_is_saved_once_mended(client: Browser, app: Flask) -> None:
    key = new_key()
    send(client, new_key(), "Blue")
    refused = send(client, key, "Blue")

    assert refused.status_code == 409
    assert "already one called" in refused.text
    assert key in refused.text
    assert send(client, key, "Red").status_code == 303
    assert send(client, new_key(), " ").status_code == 422


@pytest.mark.parametrize("key", ["", "x" * 32, "A" * 32, "0" * 31, "0" * 33])
def test_without_a_key_nothing_is_saved(client: Browser, app: Flask, key: str) -> None:
    assert send(client, key).status_code == 400
    assert places(app) == ()


def test_the_key_in_a_form_is_new_each_time(client: Browser) -> None:
    shown = {fields_of(client.get("/sample/new").text)["csrf"] for _ in range(2)}
    keys = {
        client.get("/sample/new").text.split('name="form_key"')[1].split('value="')[1][:32]
        for _ in range(2)
    }

    assert shown == {client.csrf}
    assert len(keys) == 2


def test_a_key_tells_fields_apart_that_run_together(app: Flask) -> None:
    def of(path: str, **fields: str) -> str:
        with app.test_request_context(path, method="POST", data=fields):
            return fingerprint()

    assert of("/a", x="1", csrf="1", form_key="2") == of("/a", x="1", csrf="3")
    assert len({of("/a", x="12"), of("/a", x="1"), of("/b", x="1"), of("/a", x1="2")}) == 4


def test_a_one_sentence_answer_is_shown_once(client: Browser) -> None:
    answer = send(client, new_key(), "<b>Blue</b>")
    sentence = "There is no setting called “&lt;b&gt;Blue&lt;/b&gt;”."

    assert sentence in client.get(answer.location).text
    assert sentence not in client.get(answer.location).text


def test_a_sentence_somebody_else_made_up_is_not_shown(client: Browser) -> None:
    client.client.set_cookie(f"{client.house.cookie}_said", "cGF5IG1l.0000", domain="127.0.0.1")

    assert "pay me" not in client.get("/sample/").text
