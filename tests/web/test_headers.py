"""What every answer carries, and how much may be sent."""

from pathlib import Path

import pytest
from flask import Flask

from backoffice.db import Database
from backoffice.web import create_app
from backoffice.web.guard import HEADERS, LARGEST_UPLOAD
from backoffice.web.secret import secret_of
from tests.web.browser import ORIGIN, PORT, Browser

PATHS = {
    "/sign-in": 200,
    "/sample/": 200,
    "/sample": 308,
    "/sample/77": 404,
    "/nothing-here": 404,
    "/sign-out": 405,
    "/sample/breaks": 500,
    "/static/base.css": 200,
    "/static/none.css": 404,
    "/static/../secret": 404,
}


@pytest.mark.parametrize(("path", "status"), PATHS.items())
@pytest.mark.parametrize("verb", ["GET", "HEAD"])
def test_every_answer_carries_every_header(
    client: Browser, path: str, status: int, verb: str
) -> None:
    answer = client.get(path, verb=verb)

    assert answer.status_code == status
    for name, value in HEADERS.items():
        if name != "Cache-Control" or not path.startswith("/static/base"):
            assert answer.headers.getlist(name) == [value]
    assert "Server" not in answer.headers
    assert not [name for name, _ in answer.headers if name.startswith("Access-Control")]


def test_refused_forms_carry_every_header_too(client: Browser, browser: Browser) -> None:
    answers = [
        browser.post("/sample/new"),
        client.post("/sample/new", origin="http://evil.example"),
        client.post("/sample/new", {"form_key": ""}),
        client.post("/sample/new", {"name": "x" * (3 * 2**20)}),
        client.post("/sample/new", environ_overrides={"CONTENT_LENGTH": str(LARGEST_UPLOAD + 1)}),
    ]

    assert [answer.status_code for answer in answers] == [403, 403, 400, 413, 413]
    for answer in answers:
        assert HEADERS.items() <= dict(answer.headers).items()


@pytest.mark.parametrize("verb", ["TRACE", "OPTIONS", "PUT", "PATCH", "DELETE", "CONNECT", "BREW"])
def test_no_other_verb_is_answered(client: Browser, verb: str) -> None:
    answer = client.get("/sample/", verb=verb)

    assert (answer.status_code, answer.data) == (405, b"")


def test_a_wrong_verb_is_told_the_right_one(client: Browser) -> None:
    assert client.post("/sample/").headers["Allow"] == "GET, HEAD"


URLENCODED = "application/x-www-form-urlencoded"
MULTIPART = "multipart/form-data; boundary=b"


def parts(*sent: tuple[str, int], file: str = "") -> bytes:
    """Write a body of several fields of some length."""
    more = '; filename="photo.jpg"' if file else ""
    return (
        "".join(
            f'--b\r\nContent-Disposition: form-data; name="{name}"{more}\r\n\r\n{"x" * length}\r\n'
            for name, length in sent
        ).encode()
        + b"--b--\r\n"
    )


@pytest.mark.parametrize(
    ("body", "kind"),
    [
        (b"name=" + b"x" * (2 * 2**20 + 1), URLENCODED),
        (b"name=" + b"x" * (300 * 2**10), URLENCODED),
        (b"&".join(b"field%d=x" % n for n in range(600)), URLENCODED),
        (parts(("name", 300 * 2**10)), MULTIPART),
        (parts(*((f"field{n}", 1) for n in range(600))), MULTIPART),
        (parts(("photo", 3 * 2**20), file="photo.jpg"), MULTIPART),
    ],
    ids=["body", "field", "fields", "part", "parts", "file where none is taken"],
)
def test_too_much_is_stopped_in_plain_words(client: Browser, body: bytes, kind: str) -> None:
    headers = {"Origin": ORIGIN, "X-CSRF-Token": client.csrf}
    answer = client.client.post(
        "/sample/new", base_url=ORIGIN, data=body, content_type=kind, headers=headers
    )

    assert answer.status_code == 413
    assert "too large" in answer.text


def test_a_form_of_ordinary_size_gets_through(client: Browser) -> None:
    answer = client.post("/sample/new", {"name": "Blue"}, content_type="multipart/form-data")

    assert answer.status_code == 303


def test_a_browser_keeps_static_files_of_this_version_and_no_page(client: Browser) -> None:
    page = client.get("/sample/").text
    address = page.split('rel="stylesheet" href="')[1].split('"')[0]
    kept = client.get(address.replace("&amp;", "&")).headers["Cache-Control"]

    assert "?v=" in address
    assert "immutable" in kept
    assert "immutable" not in client.get("/static/base.css").headers["Cache-Control"]


def test_our_cookie_is_kept_from_scripts_and_other_sites(browser: Browser) -> None:
    (cookie,) = browser.get("/sign-in").headers.getlist("Set-Cookie")

    name, *rest = cookie.split("; ")
    assert name.startswith("farrier_")
    assert {"HttpOnly", "Path=/", "SameSite=Strict"} == set(rest)


def test_two_practices_on_one_machine_have_cookies_of_different_names(
    app: Flask, database: Database, tmp_path_factory: pytest.TempPathFactory
) -> None:
    elsewhere = tmp_path_factory.mktemp("other")
    other = create_app(database, data_folder=elsewhere, port=PORT, testing=True)

    assert other.extensions["backoffice"].cookie != app.extensions["backoffice"].cookie


def test_the_secret_is_closed_to_other_users_and_stays(app: Flask, tmp_path: Path) -> None:
    secret = app.extensions["backoffice"].secret

    assert (tmp_path / "secret").stat().st_mode & 0o777 == 0o600
    assert secret_of(tmp_path) == secret
    assert len(secret) == 32


def test_no_debugger_is_ever_on(
    monkeypatch: pytest.MonkeyPatch, database: Database, tmp_path: Path
) -> None:
    monkeypatch.setenv("FLASK_DEBUG", "1")
    app = create_app(database, data_folder=tmp_path, port=PORT)

    assert (app.debug, app.testing) == (False, False)
