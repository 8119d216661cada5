"""Somebody who starts the program, signs in and looks at its pages."""

import json
import os
import re
import socket
import subprocess
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from http.cookiejar import CookieJar
from pathlib import Path
from time import perf_counter, sleep
from typing import Any
from urllib.error import URLError
from urllib.parse import urlencode
from urllib.request import HTTPCookieProcessor, OpenerDirector, Request, build_opener

ROOT = Path(__file__).parents[2]
PAGES = (
    "/", "/day/2026-03-17", "/horse-record/1", "/horse-record/1/feet", "/horses", "/horses/1",
    "/clients", "/clients/3", "/yards", "/yards/1", "/money", "/bills", "/bills/1",
    "/shelf", "/stock/1", "/tools/1", "/spending/1", "/prices", "/office/settings", "/plan",
)  # fmt: skip


@dataclass(frozen=True, slots=True, kw_only=True)
class Visit:
    """Seconds until the first page, and the server after twenty of them and after a bill."""

    first_page: float
    pages: int
    resident: int | None
    with_a_bill: int | None
    pandas: bool


def _free_port() -> int:
    with socket.create_server(("127.0.0.1", 0)) as found:
        port: int = found.getsockname()[1]
    return port


@contextmanager
def _server(journal: str, folder: Path, port: int) -> Iterator["subprocess.Popen[str]"]:
    clean = {name: value for name, value in os.environ.items() if "BACKOFFICE" not in name}
    with subprocess.Popen(
        [sys.executable, "-m", "tests.speed.server", journal, str(folder), str(port)],
        cwd=ROOT, env=clean, stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True,
    ) as server:  # fmt: skip
        try:
            yield server
        finally:
            server.terminate()


def _until_it_answers(browser: OpenerDirector, address: str) -> str:
    for _ in range(2_000):
        try:
            with browser.open(address, timeout=10) as page:
                return str(page.read().decode())
        except URLError:
            sleep(0.005)
    raise TimeoutError(address)


def look_around(journal: str, folder: Path) -> Visit:
    """Start the program on a practice, sign in by its link and open twenty pages."""
    port = _free_port()
    at, browser = f"http://127.0.0.1:{port}", build_opener(HTTPCookieProcessor(CookieJar()))
    begun = perf_counter()
    with _server(journal, folder, port) as server:
        page = _until_it_answers(browser, f"{at}/sign-in")
        first_page = perf_counter() - begun
        line = ""
        while server.stdout is not None and "token=" not in line:
            line = server.stdout.readline()
        (csrf,) = set(re.findall(r'name="csrf" value="([^"]+)"', page))
        form = urlencode({"csrf": csrf, "token": line.strip().partition("token=")[2]}).encode()
        browser.open(Request(f"{at}/sign-in/link", form, {"Origin": at}), timeout=10).close()
        for path in PAGES:
            browser.open(f"{at}{path}", timeout=10).read()
        before = _asked(server)
        browser.open(f"{at}/bills/1/bill.pdf", timeout=10).read()
        after = _asked(server)
    return Visit(
        first_page=first_page,
        pages=len(PAGES),
        resident=before["resident"],
        with_a_bill=after["resident"],
        pandas=after["pandas"],
    )


def _asked(server: "subprocess.Popen[str]") -> dict[str, Any]:
    """Ask the server what it knows of itself."""
    if server.stdin is None or server.stdout is None:
        raise ValueError("the server has no ends to talk to")
    server.stdin.write("?\n")
    server.stdin.flush()
    line = ""
    while not line.startswith("{"):
        line = server.stdout.readline()
    known: dict[str, Any] = json.loads(line)
    return known
