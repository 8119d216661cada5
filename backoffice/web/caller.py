"""Who is asking, of which practice, and on which day?"""

import hashlib
import hmac
import secrets
from dataclasses import dataclass
from datetime import date, timedelta
from pathlib import Path
from typing import cast

from flask import current_app, g

from backoffice.access import queries as access
from backoffice.access.rules import SignedIn
from backoffice.db import Database
from backoffice.practice import queries as practice
from backoffice.practice.rules import PracticeDetails
from backoffice.web import clock
from backoffice.words import Speech


@dataclass(frozen=True, slots=True)
class House:
    """What one running program serves: its database, its secret, its cookie and its folder."""

    database: Database
    secret: bytes
    cookie: str
    folder: Path

    def seal(self, purpose: str, text: str) -> str:
        """Give a seal on a text that only this practice can make."""
        return hmac.new(self.secret, f"{purpose} {text}".encode(), hashlib.sha256).hexdigest()

    def sealed(self, purpose: str, text: str, seal: str) -> bool:
        """Whether a text carries our seal."""
        return hmac.compare_digest(self.seal(purpose, text).encode(), seal.encode())


@dataclass(frozen=True, slots=True)
class Caller:
    """One request's person, practice and day, read once before its page is made."""

    token: str
    signed_in: SignedIn | None
    practice: PracticeDetails
    today: date

    @property
    def user_id(self) -> int | None:
        """The user signed in, if any."""
        return self.signed_in.user_id if self.signed_in else None

    @property
    def role(self) -> str:
        """The role of who is signed in, else nothing."""
        return self.signed_in.role if self.signed_in else ""

    @property
    def speech(self) -> Speech:
        """The words, money and dates of the practice."""
        return Speech(words=self.practice.words, currency=self.practice.currency)


def house() -> House:
    """Give what this program serves."""
    return cast(House, current_app.extensions["backoffice"])


def caller() -> Caller:
    """Give who is asking; nobody, where that could not be read."""
    if "caller" not in g:
        plain = PracticeDetails()
        g.caller = Caller(secrets.token_urlsafe(32), None, plain, clock.today(plain))
    return cast(Caller, g.caller)


def find_caller(cookie: str | None) -> Caller:
    """Read who holds this cookie, and what every page says about the practice."""
    with house().database.reading() as session:
        details = practice.practice(session)
        signed_in = access.who(session, cookie, clock.now()) if cookie else None
    token = cookie or secrets.token_urlsafe(32)
    return Caller(token, signed_in, details, clock.today(details))


def csrf() -> str:
    """Give the token every form of this browser carries."""
    return house().seal("csrf", caller().token)


def long_unseen(signed_in: SignedIn, every: timedelta) -> bool:
    """Whether it is time again to note that somebody is here."""
    return clock.now() - signed_in.seen_at >= every
