"""A newcomer's evening in a real browser: the one-time link, the day, the bill, the PDF."""

import re
import shutil
import socket
import subprocess
import sys
import time
import urllib.request
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

import pytest
from playwright.sync_api import Page, expect, sync_playwright

from backoffice import demo, schema
from backoffice.db import Database
from tests.conftest import skip

pytestmark = pytest.mark.browser
ARGUMENTS = (
    "--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run",
    "--disable-background-networking", "--disable-component-update", "--disable-sync",
)  # fmt: skip


@dataclass(frozen=True)
class Running:
    """The demo as `backoffice demo` serves it."""

    folder: Path
    port: int
    link: str


@pytest.fixture
def running(tmp_path: Path) -> Iterator[Running]:
    """Start the program the way the README does."""
    demo.build(tmp_path / "practice.db")
    with socket.socket() as free:
        free.bind(("127.0.0.1", 0))
        port = free.getsockname()[1]
    command = [sys.executable, "-c", "from backoffice.cli import main; main()", "demo"]
    with subprocess.Popen(
        [*command, "--folder", str(tmp_path), "--no-browser", "--port", str(port)],
        stdout=subprocess.PIPE,
        text=True,
    ) as process:
        assert process.stdout is not None
        said = ""
        while "token=" not in said:
            line = process.stdout.readline()
            assert line, f"the program ended: {said}"
            said += line
        found = re.search(r"http://\S+", said)
        assert found is not None
        _wait_for(f"http://127.0.0.1:{port}/sign-in")
        yield Running(folder=tmp_path, port=port, link=found[0])
        process.terminate()


def _wait_for(url: str) -> None:
    for _ in range(100):
        try:
            urllib.request.urlopen(url, timeout=1).close()
        except OSError:
            time.sleep(0.05)
        else:
            return
    pytest.fail("the program did not answer")


@pytest.fixture
def page() -> Iterator[Page]:
    """A page of a real, headless browser that reports every script error."""
    chromium = shutil.which("chromium") or shutil.which("chromium-browser")
    if chromium is None:
        skip("no chromium here")
    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=chromium, args=list(ARGUMENTS))
        page = browser.new_page(viewport={"width": 390, "height": 844})
        problems: list[str] = []
        page.on("pageerror", lambda error: problems.append(str(error)))
        page.on(
            "console", lambda said: problems.append(said.text) if said.type == "error" else None
        )
        yield page
        browser.close()
    assert problems == []


def test_a_newcomer_signs_in_closes_the_day_and_opens_the_bill(
    running: Running, page: Page
) -> None:
    page.goto(running.link)
    expect(page.get_by_role("heading", name="Tuesday, March 17, 2026")).to_be_visible()
    assert "token" not in page.url

    page.get_by_role("button", name="As planned: Bramble").click()
    expect(page.locator("li", has_text="Bramble").get_by_text("done")).to_be_visible()
    page.get_by_role("button", name="The rest as planned").click()
    page.get_by_role("button", name="Done for the day").click()
    expect(page.get_by_role("status")).to_contain_text("8 horses written up")

    page.get_by_role("link", name="Wenna Harrowgill").click()
    page.get_by_role("button", name="Issue the bill").click()
    expect(page.get_by_role("heading", name="Bill 1006")).to_be_visible()
    link = page.get_by_role("link", name="Open as PDF").get_attribute("href")
    made = page.request.get(f"http://127.0.0.1:{running.port}{link}")

    assert made.headers["content-type"] == "application/pdf"
    pdf = running.folder / "bill.pdf"
    pdf.write_bytes(made.body())
    text = _text_of(pdf)
    # Bramble 175.00 and 15.00 trip; half of Old Tolliver: 60.00 and 7.50.
    assert "Bill 1006" in text
    assert "Bramble" in text
    assert "257.50" in text
    database = Database(f"sqlite:///{running.folder / 'practice.db'}")
    assert schema.check(database) == []
    database.close()


def _text_of(pdf: Path) -> str:
    if shutil.which("pdftotext") is None:
        skip("no pdftotext here")
    command = ["pdftotext", "-layout", str(pdf), "-"]
    return subprocess.run(command, capture_output=True, text=True, check=True).stdout
