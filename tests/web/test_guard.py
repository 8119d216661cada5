"""Who may knock at all: the Host, and where a form comes from. Every check has planted faults."""

import socket
import threading
from collections.abc import Callable, Iterator
from datetime import date
from itertools import product

import pytest
import waitress
from flask import Flask

from backoffice.db import Database
from backoffice.web import create_app, guard, layers
from tests.web.browser import HOST, ORIGIN, PORT, Browser
from tests.web.state import digest

HOSTILE_HOSTS = (
    "", " ", "evil.example", f"evil.example:{PORT}", "127.0.0.1", "localhost", "127.0.0.1:80",
    f"127.0.0.1:{PORT + 1}", f"127.0.0.1:0{PORT}", f"127.0.0.1:{PORT}0", f"127.0.0.1:{PORT}/",
    f"127.0.0.1:{PORT} ", f" 127.0.0.1:{PORT}", f"127.0.0.1.evil.example:{PORT}",
    f"evil.example.127.0.0.1:{PORT}", f"localhost.evil.example:{PORT}", f"evillocalhost:{PORT}",
    f"127.0.0.1@evil.example:{PORT}", f"evil.example@127.0.0.1:{PORT}", f"user:x@127.0.0.1:{PORT}",
    f"127.0.0.1:{PORT}@evil.example", f"[::1]:{PORT}", f"[::ffff:127.0.0.1]:{PORT}",
    f"0.0.0.0:{PORT}", f"127.1:{PORT}", f"127.0.0.2:{PORT}", f"2130706433:{PORT}",
    f"0x7f000001:{PORT}", f"017700000001:{PORT}", f"LOCALHOST:{PORT}", f"localhost.:{PORT}",
    f"127.0.0.1:{PORT}, evil.example", f"evil.example, 127.0.0.1:{PORT}",
    f"127.0.0.1:{PORT},127.0.0.1:{PORT}", f"127.0.0.1:{PORT}#evil.example",
    f"127.0.0.1:{PORT}\\evil.example", f"127.0.0.1%00.evil.example:{PORT}", f"xn--localhost:{PORT}",
    f"http://127.0.0.1:{PORT}", f"//127.0.0.1:{PORT}",
)  # fmt: skip
PATHS = ("/sample/", "/sign-in", "/static/base.css", "/nothing-here")


def let_in(browser: Browser) -> Iterator[tuple[str, str]]:
    """Give which hostile Hosts were answered with anything."""
    for host, path in product(HOSTILE_HOSTS, PATHS):
        answer = browser.get(path, environ_overrides={"HTTP_HOST": host})
        if answer.status_code != 421 or answer.data:
            yield host, path


def test_no_foreign_host_gets_an_answer(client: Browser) -> None:
    assert len(HOSTILE_HOSTS) >= 40
    assert list(let_in(client)) == []


def test_no_request_without_host_or_with_a_host_in_its_line_gets_an_answer(
    client: Browser,
) -> None:
    answers = [
        client.get("/sign-in", environ_overrides={"HTTP_HOST": None}),
        client.get("/sign-in", environ_overrides={"REQUEST_URI": "http://evil.example/sign-in"}),
        client.get("/sign-in", environ_overrides={"REQUEST_URI": f"{ORIGIN}/sign-in"}),
        client.get("/sign-in", environ_overrides={"REQUEST_URI": "*"}),
    ]

    assert [answer.status_code for answer in answers] == [421] * 4


@pytest.mark.parametrize("host", [HOST, f"localhost:{PORT}"])
def test_our_own_hosts_are_answered(browser: Browser, host: str) -> None:
    forwarded = {"X-Forwarded-Host": "evil.example", "Forwarded": "host=evil.example"}
    answer = browser.get("/sign-in", headers=forwarded, environ_overrides={"HTTP_HOST": host})

    assert answer.status_code == 200
    assert "evil.example" not in answer.text


@pytest.mark.parametrize(
    "fault",
    [
        lambda environ, hosts: None,
        lambda environ, hosts: None if environ["HTTP_HOST"].endswith(tuple(hosts)) else 421,
        lambda environ, hosts: None if environ["HTTP_HOST"].startswith(tuple(hosts)) else 421,
        lambda environ, hosts: None if environ["HTTP_HOST"].strip() in hosts else 421,
        lambda environ, hosts: None if environ["HTTP_HOST"].lower() in hosts else 421,
        lambda environ, hosts: (
            None if environ["HTTP_HOST"].split(":")[0] in ("127.0.0.1", "localhost") else 421
        ),
    ],
)
def test_a_planted_hole_in_the_guard_is_seen(
    app: Flask, monkeypatch: pytest.MonkeyPatch, fault: Callable[..., object]
) -> None:
    def faulty(environ: dict[str, str], hosts: frozenset[str]) -> object:
        return None if fault(environ, hosts) is None else guard.HTTPStatus.MISDIRECTED_REQUEST

    app.config["TRUSTED_HOSTS"] = None  # Flask's own check would hide the hole
    monkeypatch.setattr(guard, "misdirected", faulty)

    assert next(let_in(Browser(app)), None)


# -------------------------------------------------------------- over a real socket


@pytest.fixture
def port(database: Database, tmp_path: object) -> Iterator[int]:
    """A server on a real socket."""
    listening = socket.socket()
    listening.bind(("127.0.0.1", 0))
    port: int = listening.getsockname()[1]
    app = create_app(database, data_folder=tmp_path, port=port, testing=True)  # type: ignore[arg-type]
    server = waitress.create_server(app, sockets=[listening], ident=None, threads=1)
    thread = threading.Thread(target=server.run, daemon=True)
    thread.start()
    yield port
    server.close()
    thread.join(5)


def knock(port: int, request: str) -> str:
    with socket.create_connection(("127.0.0.1", port), timeout=5) as line:
        line.sendall(request.replace("PORT", str(port)).encode())
        answer = b""
        while part := line.recv(65536):
            answer += part
    return answer.decode()


GOOD = "Host: 127.0.0.1:PORT\r\nConnection: close\r\n\r\n"


@pytest.mark.parametrize(
    ("request_text", "status"),
    [
        (f"GET /sign-in HTTP/1.1\r\n{GOOD}", 200),
        (f"GET /sign-in HTTP/1.1\r\nHost: evil.example\r\n{GOOD}", 421),
        (f"GET /sign-in HTTP/1.1\r\nHost: 127.0.0.1:PORT\r\n{GOOD}", 421),
        ("GET /sign-in HTTP/1.0\r\n\r\n", 421),
        (f"GET http://evil.example/sign-in HTTP/1.1\r\n{GOOD}", 421),
        (f"GET http://127.0.0.1:PORT/sign-in HTTP/1.1\r\n{GOOD}", 421),
        (f"TRACE /sign-in HTTP/1.1\r\n{GOOD}", 405),
        (f"BREW /sign-in HTTP/1.1\r\n{GOOD}", 405),
        (f"OPTIONS /sign-in HTTP/1.1\r\n{GOOD}", 405),
    ],
)
def test_the_guard_holds_over_a_real_socket(port: int, request_text: str, status: int) -> None:
    head = knock(port, request_text).split("\r\n\r\n")[0]

    assert head.startswith((f"HTTP/1.1 {status} ", f"HTTP/1.0 {status} "))
    assert "\r\nServer:" not in head
    assert head.count("X-Frame-Options: DENY") == 1


# -------------------------------------------------------------- where a form comes from

ORIGINS = (
    None, "null", "http://evil.example", f"http://evil.example:{PORT}",
    f"http://127.0.0.1:{PORT + 1}", f"https://{HOST}", "http://127.0.0.1", f"http://localhost:{PORT}",
    f"{ORIGIN}.evil.example", ORIGIN,
)  # fmt: skip
SITES = (None, "none", "same-site", "cross-site", "same-origin")
TOKENS = ("missing", "of another browser", "right")
RIGHT = {
    (ORIGIN, None, "right"),
    (ORIGIN, "same-origin", "right"),
    (None, "same-origin", "right"),
}


def post_routes(app: Flask) -> list[str]:
    """Give an address for each route that takes forms."""
    adapter = app.url_map.bind(HOST)
    return [
        adapter.build(
            rule.endpoint,
            {
                name: sample_value(type(converter).__name__)
                for name, converter in rule._converters.items()
            },
            method="POST",
        )
        for rule in app.url_map.iter_rules()
        if "POST" in (rule.methods or ())
    ]


def sample_value(converter: str) -> object:
    """Give something an address may hold."""
    return {"NumberConverter": 1, "DayConverter": date(2026, 3, 17)}.get(converter, "x")


def leaks(app: Flask, client: Browser, other: Browser) -> Iterator[tuple[object, ...]]:
    """Give what was not stopped with 403 although one of the three was wrong."""
    tokens = {"missing": "", "of another browser": other.csrf, "right": client.csrf}
    for path, origin, site, token in product(post_routes(app), ORIGINS, SITES, TOKENS):
        if (origin, site, token) in RIGHT:
            continue
        headers = {"Sec-Fetch-Site": site} if site else {}
        answer = client.post(path, {"csrf": tokens[token]}, origin=origin, headers=headers)
        if answer.status_code != 403:
            yield path, origin, site, token


def test_only_our_own_forms_get_through(
    app: Flask, client: Browser, sign_in_as: Callable[[str], Browser]
) -> None:
    other = sign_in_as("owner")
    before = digest(app)

    assert list(leaks(app, client, other)) == []
    assert digest(app) == before


@pytest.mark.parametrize(("origin", "site"), [right[:2] for right in sorted(RIGHT, key=str)])
def test_our_own_forms_do_get_through(
    app: Flask, sign_in_as: Callable[[str], Browser], origin: str | None, site: str | None
) -> None:
    headers = {"Sec-Fetch-Site": site} if site else {}
    pages = [
        sign_in_as("owner").post(path, origin=origin, headers=headers).text
        for path in post_routes(app)
    ]

    assert len(pages) >= 6
    assert not [page for page in pages if "our own pages" in page or "before you signed" in page]


def _nothing(*given: object) -> bool:
    return True


FAULTS: dict[str, Callable[[pytest.MonkeyPatch], None]] = {
    "no look at the origin": lambda m: m.setattr(layers, "from_our_own_page", _nothing),
    "silence is taken for ours": lambda m: m.setattr(
        layers,
        "from_our_own_page",
        lambda: (
            layers.request.headers.get("Origin") in (None, ORIGIN)
            and layers.request.headers.get("Sec-Fetch-Site") in (None, "same-origin")
        ),
    ),
    "same site is taken for same origin": lambda m: m.setattr(
        layers,
        "from_our_own_page",
        lambda: (
            layers.request.headers.get("Origin") == ORIGIN
            and layers.request.headers.get("Sec-Fetch-Site") in (None, "same-origin", "same-site")
        ),
    ),
    "any port will do": lambda m: m.setattr(
        layers,
        "from_our_own_page",
        lambda: (
            str(layers.request.headers.get("Origin")).startswith("http://127.0.0.1")
            and layers.request.headers.get("Sec-Fetch-Site") in (None, "same-origin")
        ),
    ),
    "any token will do": lambda m: m.setattr(layers.hmac, "compare_digest", _nothing),
    "one token for everybody": lambda m: m.setattr(layers.caller, "csrf", lambda: "constant"),
}


@pytest.mark.parametrize("fault", FAULTS)
def test_a_planted_hole_in_the_layers_is_seen(
    app: Flask,
    client: Browser,
    sign_in_as: Callable[[str], Browser],
    monkeypatch: pytest.MonkeyPatch,
    fault: str,
) -> None:
    other = sign_in_as("owner")
    if fault == "one token for everybody":
        monkeypatch.setattr(type(client), "csrf", property(lambda self: "constant"))
    FAULTS[fault](monkeypatch)

    assert next(leaks(app, client, other), None)
