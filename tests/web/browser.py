"""A browser for tests: it sends what a real one sends, and nothing has to be clicked."""

from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from dataclasses import replace
from datetime import date, datetime, timedelta
from pathlib import Path
from typing import Any

from flask import Flask
from werkzeug.test import TestResponse

from backoffice.access import service as access
from backoffice.db import Database
from backoffice.practice import service as practice
from backoffice.practice.rules import STARTING
from backoffice.web import clock, create_app
from backoffice.web.forms import new_key
from tests.web import sample

PORT = 8350
HOST = f"127.0.0.1:{PORT}"
ORIGIN = f"http://{HOST}"


def set_up(database: Database, folder: Path, today: date) -> Flask:
    """Make the program with one practice, and the sample pages besides its own."""
    app = create_app(database, data_folder=folder, port=PORT, testing=True)
    app.register_blueprint(sample.pages)
    sample.stand_in(app)
    with database.writing() as unit:
        details = replace(STARTING["us"], name="Hollow Lane Farriery", demo_today=today)
        practice.save_practice(unit.session, details)
    return app


class Clock:
    """A clock that stands until it is moved."""

    def __init__(self, moment: datetime) -> None:
        self.moment = moment

    def now(self) -> datetime:
        """Give the moment it shows."""
        return self.moment

    def forward(self, **time: float) -> None:
        """Let time pass."""
        self.moment += timedelta(**time)


class Browser:
    """One person's browser. ``post`` adds Host, Origin, the csrf field and a fresh form key."""

    def __init__(self, app: Flask) -> None:
        self.app = app
        self.house = app.extensions["backoffice"]
        self.client = app.test_client()

    def get(self, path: str, *, verb: str = "GET", **more: Any) -> TestResponse:
        """Open an address."""
        return self.client.open(path, method=verb, base_url=ORIGIN, buffered=True, **more)

    def post(
        self,
        path: str,
        data: Mapping[str, Any] | None = None,
        *,
        origin: str | None = ORIGIN,
        headers: Mapping[str, str] | None = None,
        **more: Any,
    ) -> TestResponse:
        """Send a form. What is in ``data`` wins over the csrf field and key that are added."""
        sent = {"csrf": self.csrf, "form_key": new_key(), **(data or {})}
        said = {**({"Origin": origin} if origin else {}), **(headers or {})}
        return self.client.post(
            path, base_url=ORIGIN, buffered=True, data=sent, headers=said, **more
        )

    @property
    def token(self) -> str:
        """The cookie this browser holds."""
        cookie = self.client.get_cookie(self.house.cookie, domain="127.0.0.1")
        return cookie.value if cookie else ""

    @token.setter
    def token(self, token: str) -> None:
        self.client.set_cookie(self.house.cookie, token, domain="127.0.0.1")

    @property
    def csrf(self) -> str:
        """What the forms shown to this browser carry."""
        return str(self.house.seal("csrf", self.token))

    def as_user(self, user_id: int) -> "Browser":
        """Sign somebody in."""
        with self.house.database.writing() as unit:
            self.token = access.sign_in(unit.session, user_id, clock.now())
        return self


@contextmanager
def stopped_clock(moment: datetime) -> Iterator[Clock]:
    """Let the web see a clock that stands."""
    real, stands = clock.now, Clock(moment)
    clock.now = stands.now
    yield stands
    clock.now = real
