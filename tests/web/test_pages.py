"""Every page answers, every form survives what nobody should type."""

import re
import shutil
from collections.abc import Iterator
from pathlib import Path

import pytest
from flask import Flask

from backoffice import demo, schema
from backoffice.access import queries as access
from backoffice.db import Database
from backoffice.web import create_app
from tests.web.browser import PORT, Browser
from tests.web.crawl import addresses, forms_of
from tests.web.state import digest

HOSTILE = {
    "script": "<script>alert(1)</script>",
    "attribute": '"><img src=x onerror=alert(2)>',
    "quote": "' OR 1=1 --",
    "braces": "{{ 7*7 }}{% raw %}",
    "formula": '=HYPERLINK("http://x.example","y")',
    "reversed": "\u202eabc\u200f",
    "typst": '#panic("x") *bold* $x$',
    "nul": "a\0b",
    "lines": "one\r\ntwo\x0b\x1b[31m",
    "long": "x" * 10_000,
    "minus": "-1",
    "fraction": "1.005",
}


@pytest.fixture(scope="session")
def built(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The demo practice, built once."""
    path = tmp_path_factory.mktemp("demo") / "practice.db"
    demo.build(path)
    return path


@pytest.fixture
def practice(built: Path, tmp_path: Path) -> Iterator[Database]:
    """A copy of the demo practice."""
    path = tmp_path / "practice.db"
    shutil.copyfile(built, path)
    database = Database(f"sqlite:///{path}")
    yield database
    database.close()


@pytest.fixture
def owner(practice: Database, tmp_path: Path) -> Browser:
    """The owner's browser in the demo practice."""
    app: Flask = create_app(practice, data_folder=tmp_path, port=PORT, testing=True)
    with practice.reading() as session:
        user = access.first_owner(session)
    assert user is not None
    return Browser(app).as_user(user)


def test_every_page_answers_with_nothing_left_out(owner: Browser) -> None:
    seen = 0
    for rule, path in addresses(owner.app):
        answer = owner.get(path)
        may_be_gone = rule.endpoint in ("bills.ready", "payments.who")
        expected = (200, 409) if may_be_gone else (200,)

        assert answer.status_code in expected, path
        if answer.mimetype == "text/html":
            assert "<main" in answer.text, path
            assert not re.search(r"\bNone\b(?!:)", _text(answer.text)), path
            assert "Undefined" not in answer.text, path
        seen += 1
    assert seen > 40


def _text(html: str) -> str:
    """What is read: the page without its tags."""
    return re.sub(r"<[^>]*>", " ", html.partition("<main")[2])


def test_every_page_says_what_it_is_to_a_screen_reader(owner: Browser) -> None:
    for _rule, path in addresses(owner.app):
        answer = owner.get(path)
        if answer.status_code != 200 or answer.mimetype != "text/html":
            continue

        assert answer.text.count("<h1") == 1, path
        assert "<title></title>" not in answer.text, path
        assert 'lang="en"' in answer.text, path


@pytest.mark.parametrize("kind", HOSTILE)
def test_every_form_survives_hostile_text(owner: Browser, practice: Database, kind: str) -> None:
    sent = 0
    for _rule, path in list(addresses(owner.app)):
        page = owner.get(path)
        if page.mimetype != "text/html" or "sign" in path or "password" in path:
            continue
        for form in forms_of(path, page.text):
            if form.method != "post" or not form.typed or "sign" in form.action:
                continue
            fields = form.fields | dict.fromkeys(form.typed, HOSTILE[kind])
            fields.pop("csrf", None)
            answer = owner.post(form.action, fields)

            assert answer.status_code in (303, 400, 404, 409, 413, 422), (form.action, kind)
            sent += 1
    for _rule, path in addresses(owner.app):
        answer = owner.get(path)

        assert answer.status_code in (200, 404, 409), path
        if answer.mimetype == "text/html":
            assert "<script>alert" not in answer.text, path
            assert "<img src=x" not in answer.text, path
    assert sent > 15
    assert schema.check(practice) == []


def test_looking_at_every_page_changes_nothing(owner: Browser) -> None:
    owner.get("/")
    before = digest(owner.app)
    for _rule, path in addresses(owner.app):
        owner.get(path)

    assert digest(owner.app) == before
