"""Where a page begins and ends a transaction."""

from collections.abc import Iterator
from contextlib import contextmanager

from flask import redirect, request
from sqlalchemy.orm.exc import StaleDataError
from werkzeug.wrappers import Response

from backoffice.db import Session, Unit
from backoffice.errors import Refused
from backoffice.web import clock, roles
from backoffice.web.caller import caller, house


@contextmanager
def reading() -> Iterator[Session]:
    """Look at one moment of the books; the page is rendered after the block."""
    with house().database.reading() as session:
        yield session


@contextmanager
def writing(key: str = "", fingerprint: str = "") -> Iterator[Unit]:
    """Save all of a block or nothing of it, as whoever is signed in, at this moment.

    A form that makes money, stock or documents gives ``*form.key()``, and its view is ``@once``.
    Raises: Refused if somebody else changed the same record meanwhile.
    """
    if bool(key) != roles.needs_key(request.endpoint or ""):
        raise RuntimeError(f"{request.endpoint}: a view is @once if and only if its form has a key")
    database = house().database
    try:
        with database.writing(key, fingerprint, by=caller().user_id, at=clock.now()) as unit:
            yield unit
    except StaleDataError:
        raise Refused("changed.meanwhile") from None


def see_other(unit: Unit) -> Response:
    """Send the browser to what was saved."""
    if not unit.location:
        raise RuntimeError("unit.see_other(url) belongs inside the block")
    return redirect(unit.location, 303)
