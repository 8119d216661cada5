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

ALL, YARD, DESK, OWNER = "owner field books", "owner field", "owner books", "owner"
TABLE = {
    "GET /": ALL,
    "GET /bills": DESK,
    "GET /bills/<int:document_id>": DESK,
    "GET /bills/<int:document_id>/bill.pdf": DESK,
    "POST /bills/<int:document_id>/fix": OWNER,
    "POST /bills/<int:document_id>/handed-over": DESK,
    "GET /bills/<int:document_id>/take-back": OWNER,
    "POST /bills/<int:document_id>/take-back": OWNER,
    "GET /bills/from/<int:first>/to/<int:last>": DESK,
    "GET /bills/ready/<int:client_id>": DESK,
    "POST /bills/ready/<int:client_id>": OWNER,
    "GET /clients": ALL,
    "GET /clients/<int:client_id>": ALL,
    "GET /clients/<int:client_id>/edit": DESK,
    "POST /clients/<int:client_id>/edit": DESK,
    "GET /clients/<int:client_id>/payment": DESK,
    "POST /clients/<int:client_id>/payment": DESK,
    "GET /clients/new": DESK,
    "POST /clients/new": DESK,
    "GET /day/<day:day>": ALL,
    "GET /day/<day:day>/evening": YARD,
    "POST /day/<day:day>/evening": YARD,
    "POST /day/<day:day>/evening/done": OWNER,
    "POST /day/<day:day>/evening/rest-as-planned": YARD,
    "GET /evening": YARD,
    "POST /day/<day:day>/done": OWNER,
    "GET /day/<day:day>/load": YARD,
    "POST /day/<day:day>/rest-as-planned": YARD,
    "GET /day/<day:day>/stop/<int:visit_id>/next-date": YARD,
    "POST /day/<day:day>/stop/<int:visit_id>/next-date": YARD,
    "GET /day/<day:day>/stop/<int:visit_id>/next-date/notice": YARD,
    "GET /day/<day:day>/sheet.pdf": YARD,
    "GET /files/<int:file_id>": DESK,
    "GET /horse-record/<int:work_id>": ALL,
    "POST /horse-record/<int:work_id>/as-planned": YARD,
    "GET /horse-record/<int:work_id>/feet": YARD,
    "POST /horse-record/<int:work_id>/feet": YARD,
    "POST /horse-record/<int:work_id>/not-there": YARD,
    "POST /horse-record/<int:work_id>/undo": YARD,
    "POST /horse-record/<int:work_id>/take-off": YARD,
    "GET /horse-record/<int:work_id>/price": OWNER,
    "POST /horse-record/<int:work_id>/price": OWNER,
    "POST /horse-record/<int:work_id>/price-again": OWNER,
    "POST /horse-record/<int:work_id>/put-right": OWNER,
    "GET /horse-record/<int:work_id>/finish": YARD,
    "POST /horse-record/<int:work_id>/finish": YARD,
    "POST /horse-record/<int:work_id>/lost": YARD,
    "POST /horse-record/<int:work_id>/more": YARD,
    "POST /horse-record/<int:work_id>/tap": YARD,
    "POST /horse-record/<int:work_id>/unfinished": OWNER,
    "GET /horse-record/<int:work_id>/who-pays": OWNER,
    "POST /horse-record/<int:work_id>/who-pays": OWNER,
    "GET /horses": ALL,
    "GET /horses/<int:horse_id>": ALL,
    "GET /horses/<int:horse_id>/edit": OWNER,
    "POST /horses/<int:horse_id>/edit": OWNER,
    "GET /horses/<int:horse_id>/handling": OWNER,
    "POST /horses/<int:horse_id>/handling": OWNER,
    "GET /horses/<int:horse_id>/handling/<int:flag_id>/end": OWNER,
    "POST /horses/<int:horse_id>/handling/<int:flag_id>/end": OWNER,
    "GET /horses/<int:horse_id>/life": OWNER,
    "POST /horses/<int:horse_id>/life": OWNER,
    "POST /horses/<int:horse_id>/lost-shoe": YARD,
    "GET /horses/<int:horse_id>/next-time": OWNER,
    "POST /horses/<int:horse_id>/next-time": OWNER,
    "GET /horses/<int:horse_id>/payers": OWNER,
    "POST /horses/<int:horse_id>/payers": OWNER,
    "GET /horses/new": OWNER,
    "POST /horses/new": OWNER,
    "GET /money": DESK,
    "POST /money/issue-all": OWNER,
    "GET /office": ALL,
    "GET /office/business": OWNER,
    "POST /office/business": OWNER,
    "GET /office/people": OWNER,
    "GET /office/people/<int:farrier_id>": OWNER,
    "POST /office/people/<int:farrier_id>": OWNER,
    "GET /office/people/new": OWNER,
    "POST /office/people/new": OWNER,
    "GET /office/proof": DESK,
    "GET /office/settings": OWNER,
    "GET /office/settings/<name>": OWNER,
    "POST /office/settings/<name>": OWNER,
    "GET /office/trucks/<int:place_id>": OWNER,
    "POST /office/trucks/<int:place_id>": OWNER,
    "GET /office/trucks/new": OWNER,
    "POST /office/trucks/new": OWNER,
    "GET /password": ALL,
    "POST /password": ALL,
    "GET /payments/who/<fact_id>": DESK,
    "POST /payments/who/<fact_id>": DESK,
    "GET /plan": YARD,
    "POST /plan/<int:yard_id>": YARD,
    "GET /prices": DESK,
    "GET /prices/agreed/<int:client_id>": DESK,
    "POST /prices/agreed/<int:client_id>": DESK,
    "GET /prices/kinds": DESK,
    "GET /prices/kinds/<int:type_id>": DESK,
    "POST /prices/kinds/<int:type_id>": DESK,
    "GET /prices/kinds/new": DESK,
    "POST /prices/kinds/new": DESK,
    "GET /prices/services/<int:service_id>": DESK,
    "POST /prices/services/<int:service_id>": DESK,
    "GET /prices/services/<int:service_id>/edit": DESK,
    "POST /prices/services/<int:service_id>/edit": DESK,
    "GET /prices/services/<int:service_id>/takes": DESK,
    "POST /prices/services/<int:service_id>/takes": DESK,
    "GET /prices/services/new": DESK,
    "POST /prices/services/new": DESK,
    "GET /prices/tax": DESK,
    "GET /prices/tax/<word>": DESK,
    "POST /prices/tax/<word>": DESK,
    "GET /shelf": YARD,
    "GET /sign-in": "anyone",
    "POST /sign-in": "anyone",
    "POST /sign-in/link": "anyone",
    "POST /sign-out": "anyone",
    "GET /spending": DESK,
    "GET /spending/<int:bill_id>": DESK,
    "POST /spending/<int:bill_id>/lines": DESK,
    "GET /spending/new": DESK,
    "POST /spending/new": DESK,
    "GET /static/<path:filename>": "anyone",
    "GET /stock/<int:item_id>": YARD,
    "GET /stock/<int:item_id>/count": YARD,
    "POST /stock/<int:item_id>/count": YARD,
    "GET /stock/<int:item_id>/edit": OWNER,
    "POST /stock/<int:item_id>/edit": OWNER,
    "GET /stock/<int:item_id>/move": OWNER,
    "POST /stock/<int:item_id>/move": OWNER,
    "GET /stock/new": OWNER,
    "POST /stock/new": OWNER,
    "POST /stop/<int:visit_id>/late": OWNER,
    "GET /suppliers": DESK,
    "GET /suppliers/<int:supplier_id>": DESK,
    "POST /suppliers/<int:supplier_id>": DESK,
    "GET /suppliers/new": DESK,
    "POST /suppliers/new": DESK,
    "GET /tools/<int:tool_id>": YARD,
    "GET /tools/<int:tool_id>/edit": OWNER,
    "POST /tools/<int:tool_id>/edit": OWNER,
    "POST /tools/<int:tool_id>/event": YARD,
    "GET /tools/new": OWNER,
    "POST /tools/new": OWNER,
    "GET /what-pays": OWNER,
    "GET /what-pays/<by>/<int:group_id>": OWNER,
    "GET /yards": YARD,
    "GET /yards/<int:yard_id>": YARD,
    "GET /yards/<int:yard_id>/edit": OWNER,
    "POST /yards/<int:yard_id>/edit": OWNER,
    "GET /yards/new": OWNER,
    "POST /yards/new": OWNER,
}
# Forms that make money, stock or documents; they carry a key.
ONCE = {
    "POST /bills/<int:document_id>/fix",
    "POST /bills/<int:document_id>/handed-over",
    "POST /bills/<int:document_id>/take-back",
    "POST /bills/ready/<int:client_id>",
    "POST /clients/<int:client_id>/payment",
    "POST /clients/new",
    "POST /money/issue-all",
    "POST /payments/who/<fact_id>",
    "POST /day/<day:day>/done",
    "POST /day/<day:day>/evening",
    "POST /day/<day:day>/evening/done",
    "POST /horse-record/<int:work_id>/feet",
    "POST /horse-record/<int:work_id>/finish",
    "POST /horse-record/<int:work_id>/lost",
    "POST /horse-record/<int:work_id>/more",
    "POST /horse-record/<int:work_id>/price",
    "POST /horse-record/<int:work_id>/price-again",
    "POST /horse-record/<int:work_id>/put-right",
    "POST /horse-record/<int:work_id>/tap",
    "POST /horse-record/<int:work_id>/unfinished",
    "POST /horse-record/<int:work_id>/who-pays",
    "POST /horses/<int:horse_id>/handling",
    "POST /horses/new",
    "POST /office/people/new",
    "POST /office/trucks/new",
    "POST /prices/kinds/new",
    "POST /prices/services/new",
    "POST /spending/<int:bill_id>/lines",
    "POST /spending/new",
    "POST /stock/<int:item_id>/count",
    "POST /stock/<int:item_id>/move",
    "POST /stock/new",
    "POST /stop/<int:visit_id>/late",
    "POST /suppliers/new",
    "POST /tools/<int:tool_id>/event",
    "POST /tools/new",
    "POST /yards/new",
}
SAMPLES = {"NumberConverter": 1, "DayConverter": date(2026, 3, 17)}
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
