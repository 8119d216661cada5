"""The program with an empty practice, and browsers signed in to it.

``client`` is the owner's browser (see browser.py): ``client.get(path)``, and
``client.post(path, {...})``, which adds Host, Origin, the csrf field and a fresh form key.
``sign_in_as("field")`` gives another person's, ``browser`` nobody's. The practice's today is
``today``, Tuesday 17 March 2026. ``clock`` stands still until ``clock.forward(minutes=5)``.
"""

from collections.abc import Callable, Iterator
from datetime import UTC, date, datetime
from pathlib import Path

import pytest
from flask import Flask

from backoffice.access import service as access
from backoffice.db import Database
from tests.web.browser import Browser, Clock, set_up, stopped_clock


@pytest.fixture
def app(database: Database, tmp_path: Path, today: date) -> Flask:
    """The program, with one practice and the sample pages besides its own."""
    return set_up(database, tmp_path, today)


@pytest.fixture
def sign_in_as(app: Flask) -> Callable[[str], Browser]:
    """Browsers of people by their role, each a person of its own."""

    def someone(role: str) -> Browser:
        database: Database = app.extensions["backoffice"].database
        with database.writing() as unit:
            name = f"{role} {len(list(access.queries.users(unit.session)))}"
            user_id = access.add_user(unit.session, name, role)
        return Browser(app).as_user(user_id)

    return someone


@pytest.fixture
def client(sign_in_as: Callable[[str], Browser]) -> Browser:
    """The owner's browser."""
    return sign_in_as("owner")


@pytest.fixture
def browser(app: Flask) -> Browser:
    """The browser of nobody in particular."""
    return Browser(app)


@pytest.fixture
def clock() -> Iterator[Clock]:
    """A clock that stands at a Tuesday noon."""
    with stopped_clock(datetime(2026, 3, 17, 12, tzinfo=UTC)) as stands:
        yield stands
