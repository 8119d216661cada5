"""Who may open what, and which forms are saved only once: the reviewed table of every address.

A new address belongs in the table, with its roles; the test prints the line it lacks.
"""

from collections.abc import Callable
from datetime import date

import pytest
from flask import Flask
from werkzeug.routing import Rule

from backoffice.db import Database
from backoffice.web import create_app, roles
from tests.web.browser import PORT, Browser
from tests.web.state import digest

ALL = "owner field books"
TABLE = {
    "GET /static/<path:filename>": "anyone",
    "GET /sign-in": "anyone",
    "POST /sign-in": "anyone",
    "POST /sign-in/link": "anyone",
    "POST /sign-out": "anyone",
    "GET /password": ALL,
    "POST /password": ALL,
}
# Forms that make money, stock or documents; they carry a key.
ONCE: set[str] = set()
SAMPLES = {"IntegerConverter": 1, "DayConverter": date(2026, 3, 17)}
PEOPLE = ("owner", "field", "books")


def line(rule: Rule) -> str:
    verb = "POST" if "POST" in (rule.methods or ()) else "GET"
    return f"{verb} {rule.rule}"


def address(rule: Rule) -> str:
    values = {
        name: SAMPLES.get(type(converter).__name__, "x")
        for name, converter in rule._converters.items()
    }
    _domain, path = rule.build(values) or ("", "")
    return path


@pytest.fixture
def plain(database: Database, tmp_path: object) -> Flask:
    """The program without the sample pages."""
    return create_app(database, data_folder=tmp_path, port=PORT, testing=True)  # type: ignore[arg-type]


def test_every_address_has_the_roles_it_was_reviewed_with(plain: Flask) -> None:
    with plain.app_context():
        found = {
            line(rule): " ".join(
                r for r in ("anyone", *PEOPLE) if r in roles.allowed(rule.endpoint)
            )
            for rule in plain.url_map.iter_rules()
        }

    lacking = [f'"{at}": "{who}",' for at, who in found.items() if TABLE.get(at) != who]
    assert found == TABLE, "\n".join(["not in the table as it is:", *sorted(lacking)])


def test_every_form_that_makes_something_carries_a_key(plain: Flask) -> None:
    with plain.app_context():
        found = {
            line(rule)
            for rule in plain.url_map.iter_rules()
            if rule.endpoint != "static" and roles.needs_key(rule.endpoint)
        }

    assert sorted(found) == sorted(ONCE)


def test_an_address_answers_to_one_verb(plain: Flask) -> None:
    both = [
        rule.rule
        for rule in plain.url_map.iter_rules()
        if {"GET", "POST"} <= (rule.methods or set())
    ]

    assert both == []


@pytest.mark.parametrize("role", ["", *PEOPLE])
def test_every_address_opens_to_its_roles_alone(
    app: Flask, browser: Browser, sign_in_as: Callable[[str], Browser], role: str
) -> None:
    wrong = []
    for rule in app.url_map.iter_rules():
        with app.app_context():
            allowed = roles.allowed(rule.endpoint)
        who = sign_in_as(role) if role else browser
        posts = "POST" in (rule.methods or ())
        answer = who.post(address(rule)) if posts else who.get(address(rule))
        stopped = (
            (answer.status_code, answer.location) == (303, "/sign-in") and rule.rule != "/sign-out"
        ) or (
            answer.status_code == 403
            and ("You have been signed out" in answer.text or "not open to you" in answer.text)
        )
        if stopped == bool(allowed & {role, "anyone"}):
            wrong.append((line(rule), role))

    assert wrong == []


def test_what_declares_no_role_is_the_owners_alone(app: Flask) -> None:
    with app.app_context():
        assert roles.allowed("sample.edit") == {"owner"}


def test_a_role_there_is_not_cannot_be_declared() -> None:
    with pytest.raises(ValueError, match="no such role"):
        roles.allow("boss")


def test_reading_changes_nothing(app: Flask, client: Browser) -> None:
    before = digest(app)
    pages = [address(rule) for rule in app.url_map.iter_rules() if "GET" in (rule.methods or ())]
    failed = [page for page in pages if client.get(page).status_code >= 500]
    for page in pages:
        client.get(page, verb="HEAD")

    assert failed == ["/sample/breaks"]
    assert digest(app) == before


def test_a_page_that_writes_while_it_is_read_would_be_seen(app: Flask, client: Browser) -> None:
    before = digest(app)
    client.post("/sample/new", {"name": "Blue"})

    assert digest(app) != before
