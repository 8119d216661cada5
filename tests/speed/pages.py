"""How long pages take on the demo, against the same questions asked in sqlite3 by hand."""

import shutil
import sqlite3
from collections.abc import Iterator
from pathlib import Path
from statistics import median
from time import perf_counter
from typing import Any

import sqlalchemy as sa

from backoffice.access import service as access
from backoffice.web import create_app
from tests.speed.practice import opened
from tests.web.browser import PORT, Browser

PAGES = {
    "today": "/",
    "the evening": "/day/2026-03-17/evening",
    "what pays": "/what-pays",
    "one client's": "/what-pays/clients/1",
    "money": "/money",
    "load list": "/day/2026-03-17/load",
    "horse card": "/horses/1",
}
Asked = list[tuple[str, Any]]


def compare(original: Path, rounds: int) -> Iterator[tuple[str, float, float, int]]:
    """Give of each page its milliseconds, those of its questions by hand, and how many it asks."""
    path = original.with_name("pages.db")
    shutil.copyfile(original, path)
    hand = sqlite3.connect(path)
    with opened(path, "delete") as database:
        app = create_app(database, data_folder=path.parent, port=PORT, testing=True)
        with database.writing() as unit:
            user_id = access.add_user(unit.session, "speed", "owner")
        browser = Browser(app).as_user(user_id)
        for name, address in PAGES.items():
            asked: Asked = []

            def note(_connection: Any, _cursor: Any, said: str, with_: Any, *_: Any) -> None:
                asked.append((said, with_))  # noqa: B023 (heard only while this page is made)

            browser.get(address)
            sa.event.listen(database.reader, "before_cursor_execute", note)
            answer = browser.get(address)
            sa.event.remove(database.reader, "before_cursor_execute", note)
            if answer.status_code != 200:
                raise RuntimeError(f"{address} answered {answer.status_code}")
            questions = [(said, with_) for said, with_ in asked if said.startswith("SELECT")]
            ours = median(_timed(lambda a=address: browser.get(a)) for _ in range(rounds))  # type: ignore[misc]
            by_hand = median(
                _timed(lambda q=questions: _ask(hand, q))  # type: ignore[misc]
                for _ in range(rounds)
            )
            yield name, ours, by_hand, len(questions)
    hand.close()


def _ask(hand: sqlite3.Connection, questions: Asked) -> None:
    for said, with_ in questions:
        hand.execute(said, with_).fetchall()


def _timed(act: Any) -> float:
    begun = perf_counter()
    act()
    return (perf_counter() - begun) * 1_000
