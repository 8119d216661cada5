"""The demo served as the README says, and a real browser to open it with."""

import re
import shutil
import socket
import subprocess
import sys
import time
import urllib.request
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path

import pytest
from playwright.sync_api import Page, sync_playwright

from backoffice import demo, schema
from backoffice.db import Database
from tests.conftest import skip

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

    @contextmanager
    def books(self) -> Iterator[Database]:
        """Open the books beside the program."""
        database = Database(f"sqlite:///{self.folder / 'practice.db'}")
        yield database
        database.close()

    def check(self) -> None:
        """Prove the books as they stand."""
        with self.books() as database:
            assert schema.check(database) == []

    def text_of(self, page: Page, link: str) -> str:
        """Fetch a PDF as the browser would, and read it."""
        if shutil.which("pdftotext") is None:
            skip("no pdftotext here")
        made = page.request.get(f"http://127.0.0.1:{self.port}{link}")
        assert made.headers["content-type"] == "application/pdf"
        pdf = self.folder / "fetched.pdf"
        pdf.write_bytes(made.body())
        command = ["pdftotext", "-layout", str(pdf), "-"]
        return subprocess.run(command, capture_output=True, text=True, check=True).stdout


@pytest.fixture(scope="session")
def built(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The demo practice as one file, to copy from."""
    path = tmp_path_factory.mktemp("demo") / "practice.db"
    demo.build(path)
    return path


@pytest.fixture
def running(built: Path, tmp_path: Path) -> Iterator[Running]:
    """Start the program the way the README does."""
    shutil.copy(built, tmp_path / "practice.db")
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
        page.set_default_timeout(10_000)
        problems: list[str] = []
        page.on("pageerror", lambda error: problems.append(str(error)))
        page.on(
            "console", lambda said: problems.append(said.text) if said.type == "error" else None
        )
        yield page
        browser.close()
    assert problems == []
