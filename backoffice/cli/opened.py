"""Which books a command works on, what day it is there, and what is said while it works."""

import os
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from datetime import UTC, date, datetime
from pathlib import Path
from time import monotonic
from typing import Any, TypeVar
from zoneinfo import ZoneInfo

import click
from sqlalchemy.exc import DatabaseError

from backoffice import folders, schema
from backoffice.db import Database
from backoffice.errors import Refused

Command = TypeVar("Command", bound=Callable[..., Any])
FILE = "practice.db"


def data_option(command: Command) -> Command:
    """Give a command the option that names its data folder."""
    return click.option(
        "--data", "data", default="", help="The practice's data folder, if not the usual one."
    )(command)


@contextmanager
def opened(folder: Path) -> Iterator[Database]:
    """Open the books of a data folder, whatever version they are of.

    Raises: Refused if their file is damaged.
    """
    url = os.environ.get("BACKOFFICE_DATABASE_URL", "") or f"sqlite:///{folder / FILE}"
    database = Database(url)
    try:
        yield database
    except DatabaseError as failure:
        if type(failure) is not DatabaseError:  # its kinds are mistakes of ours; it is the file's
            raise
        raise Refused("cli.damaged", said=failure.orig) from failure
    finally:
        database.close()


@contextmanager
def standing(data: str) -> Iterator[Database]:
    """Open the books that stand in a folder, and make none where there are none.

    Raises: Refused where there are none.
    """
    folder = folders.chosen(data)
    in_file = not os.environ.get("BACKOFFICE_DATABASE_URL", "")
    none = Refused("cli.no_practice", folder=folder) if in_file else Refused("cli.empty_database")
    if in_file and not (folder / FILE).exists():
        raise none
    with opened(folder) as database:
        if schema.revision_of(database) is None:
            raise none
        yield database


@contextmanager
def ready(data: str) -> Iterator[Database]:
    """Open books that are of this version.

    Raises: Refused for older and newer ones.
    """
    with standing(data) as database:
        schema.require_newest(database)
        yield database


def today_in(zone: str) -> date:
    """Say what day it is in a time zone."""
    return datetime.now(UTC).astimezone(ZoneInfo(zone)).date()


def each_second() -> Callable[[str, int], None]:
    """Say what is being written, once it has taken a second and then once in each."""
    last = monotonic()

    def say(what: str, rows: int) -> None:
        nonlocal last
        if monotonic() - last >= 1:
            last = monotonic()
            click.echo(f"  {what}, {rows:,} …" if rows else f"  {what} …", err=True)

    return say
