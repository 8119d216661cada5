"""The command line: start the program, look after its data, prove the books."""

import os
import sys
import threading
import webbrowser
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from datetime import UTC, date, datetime
from pathlib import Path
from typing import Any

import click
from sqlalchemy.orm import Session

from backoffice import __version__, folders, schema
from backoffice.access import queries as access_queries
from backoffice.access import service as access
from backoffice.billing import queries as billing_queries
from backoffice.billing import service as billing
from backoffice.cli.bringing_in import bring_in
from backoffice.cli.opened import (
    FILE,
    data_option,
    each_second,
    opened,
    ready,
    standing,
    today_in,
)
from backoffice.clients import service as clients
from backoffice.days import parse_day
from backoffice.db import Database
from backoffice.errors import Refused
from backoffice.interchange import service as interchange
from backoffice.planning import document as paper
from backoffice.practice import queries as practice
from backoffice.practice import service as practice_service
from backoffice.practice.rules import FarrierDetails, PlaceDetails, today_of
from backoffice.pricing import service as pricing
from backoffice.typeset import Paper
from backoffice.visits import queries as visits
from backoffice.words import Speech

PORT = 8350


class Sentences(click.Group):
    """Refusals end with one plain sentence and status 2, never with a trace."""

    def invoke(self, ctx: click.Context) -> Any:
        """Run a command and put what it refuses in words."""
        try:
            return super().invoke(ctx)
        except Refused as refused:
            click.echo(Speech().say(refused.code, **refused.facts), err=True)
            ctx.exit(2)
        except (FileExistsError, NotADirectoryError, PermissionError) as no:
            click.echo(Speech().say("cli.no_folder", folder=no.filename), err=True)
            ctx.exit(2)


@click.group(cls=Sentences)
@click.version_option(__version__, prog_name="backoffice")
def main() -> None:
    """The back office of a farrier's practice.

    Example: backoffice demo
    """


@main.command()
@click.option("--folder", default="", help="Where to build the demo, if not the usual place.")
@click.option("--port", type=click.IntRange(1, 65_535), default=PORT, show_default=True)
@click.option("--no-browser", is_flag=True, help="Print the link instead of opening it.")
@click.option("--build-only", is_flag=True, help="Build the demo and stop.")
@click.option("--anew", is_flag=True, help="Build it again from the start.")
@click.option(
    "--years",
    type=click.IntRange(0, 40),
    default=3,
    show_default=True,
    help="Whole years before the day of the demo; 0 builds its last weeks alone.",
)
@click.option(
    "--horses",
    type=click.IntRange(21, 2_000),
    default=180,
    show_default=True,
    help="Horses in those years.",
)
@click.option(
    "--trucks",
    type=click.IntRange(1, 4),
    default=2,
    show_default=True,
    help="Trucks in those years.",
)
@click.option("--seed", type=int, default=1717, show_default=True, help="The seed of its dice.")
def demo(
    folder: str,
    port: int,
    no_browser: bool,  # noqa: FBT001 (click passes its options so)
    build_only: bool,  # noqa: FBT001
    anew: bool,  # noqa: FBT001
    **size: int,
) -> None:
    """Build a practice of three years and open it in the browser.

    Example: backoffice demo --port 8351
    """
    home = Path(folder) if folder else folders.data() / "demo"
    home = folders.data(str(home))
    path = home / FILE
    if anew or not path.exists():
        _build(path, size)
    if not build_only:
        with _opened_file(path) as database:
            schema.upgrade(database)
            _serve(database, home, port, open_browser=not no_browser)


def _build(path: Path, size: Mapping[str, int]) -> None:
    from backoffice import demo as scenario

    chosen = scenario.Size(**size)
    first, last = scenario.span(chosen)
    with click.progressbar(length=(last - first).days, label="Building the demo practice") as bar:

        def told(day: str) -> None:
            bar.update(max(0, (date.fromisoformat(day) - first).days - bar.pos))

        scenario.build(path, told, chosen)
        bar.update((last - first).days - bar.pos)


@contextmanager
def _opened_file(path: Path) -> Iterator[Database]:
    database = Database(f"sqlite:///{path}")
    try:
        yield database
    finally:
        database.close()


@main.command()
@data_option
@click.option("--port", type=click.IntRange(1, 65_535), default=PORT, show_default=True)
@click.option("--no-browser", is_flag=True, help="Print the link instead of opening it.")
def serve(data: str, port: int, no_browser: bool) -> None:  # noqa: FBT001 (click passes its options so)
    """Open your own practice in the browser; the first time it is empty.

    Example: backoffice serve --port 8350
    """
    folder = folders.data(data)
    with opened(folder) as database:
        if schema.revision_of(database) is None:
            schema.upgrade(database)
            _begin(database)
        schema.require_newest(database)
        _serve(database, folder, port, open_browser=not no_browser)


def _begin(database: Database) -> None:
    """Give an empty practice what every practice has: a truck, kinds of horse, services."""
    words = "us"
    with database.writing() as unit:
        session = unit.session
        place = practice_service.save_place(session, PlaceDetails(name="Truck"))
        practice_service.save_farrier(session, FarrierDetails(name="Me", place_id=place))
        clients.start_types(session, words)
        pricing.start_services(session, words)


def _serve(database: Database, folder: Path, port: int, *, open_browser: bool) -> None:
    from waitress.server import create_server

    from backoffice.web import create_app
    from backoffice.web.guard import LARGEST_UPLOAD

    with _alone(folder, port):
        app = create_app(database, data_folder=folder, port=port)
        try:
            server = create_server(
                app, host="127.0.0.1", port=port, threads=8, connection_limit=100,
                channel_timeout=60, ident=None, max_request_body_size=LARGEST_UPLOAD,
            )  # fmt: skip
        except OSError:
            raise Refused("cli.port_taken", port=port) from None
        link = _start_link(database, port)
        click.echo(f"Open this within five minutes to sign in:\n  {link}\nStop with Ctrl-C.")
        if open_browser:
            threading.Timer(0.3, webbrowser.open, [link]).start()
        try:
            server.run()
        finally:
            server.close()


def _start_link(database: Database, port: int) -> str:
    now = datetime.now(UTC)
    with database.writing(at=now) as unit:
        owner = access_queries.first_owner(unit.session)
        if owner is None:
            owner = access.first_owner(unit.session, "Owner")
        token = access.make_start_link(unit.session, owner, now)
    return f"http://127.0.0.1:{port}/sign-in#token={token}"


@contextmanager
def _alone(folder: Path, port: int) -> Iterator[None]:
    """Hold the data folder for one server; a second is told where the first one is."""
    with (folder / "serving.lock").open("a+", encoding="utf-8") as lock:
        if not _held(lock.fileno()):
            lock.seek(0)
            raise Refused("cli.already_open", address=lock.read().strip() or "another window")
        lock.truncate(0)
        lock.write(f"http://127.0.0.1:{port}/")
        lock.flush()
        yield


if sys.platform == "win32":
    import msvcrt

    def _held(file: int) -> bool:
        try:
            os.lseek(file, 1_000, os.SEEK_SET)
            msvcrt.locking(file, msvcrt.LK_NBLCK, 1)
        except OSError:
            return False
        return True
else:
    import fcntl

    def _held(file: int) -> bool:
        try:
            fcntl.flock(file, fcntl.LOCK_EX | fcntl.LOCK_NB)
        except OSError:
            return False
        return True


@main.command()
@data_option
def check(data: str) -> None:
    """Prove the books: recompute every figure from its rows.

    Example: backoffice check
    """
    with ready(data) as database:
        with database.reading() as session:
            speech = practice.speech(session)
        broken = schema.check(database, lambda name: click.echo(f"  {name} …"))
    for found in broken:
        click.echo(speech.say(found.code, **found.facts))
    if broken:
        raise SystemExit(1)
    click.echo("Everything holds.")


@main.command()
@data_option
def upgrade(data: str) -> None:
    """Bring the books of an older version up to this one; a copy is kept beside them.

    Example: backoffice upgrade
    """
    with standing(data) as database:
        if schema.revision_of(database) != schema.newest():
            kept = database.keep_copy(folders.chosen(data) / f"before-{schema.newest()}.db")
            click.echo(f"Kept a copy: {kept}" if kept else "Make a copy with pg_dump first.")
        schema.upgrade(database)
    click.echo("The books are at the newest version.")


@main.command("take-out")
@click.argument("folder", type=click.Path(path_type=Path))
@data_option
def take_out(folder: Path, data: str) -> None:
    """Write every record as CSV and JSON into a new folder, and all of it as one workbook.

    Example: backoffice take-out my-books
    """
    with ready(data) as database, database.reading() as session:
        speech, home = practice.speech(session), folders.data(data)
        gone = interchange.take_out(session, folder, each_second(), data_folder=home)
    for name in gone:
        click.echo(speech.say("interchange.file_gone", name=name))
    click.echo(f"Everything is in {folder}.")


main.add_command(bring_in)


@main.command("close-day")
@click.argument("day")
@data_option
def close_day(day: str, data: str) -> None:
    """Close a day and make its bills ready; it issues none.

    Example: backoffice close-day 2026-03-17
    """
    with ready(data) as database, database.writing() as unit:
        details = practice.practice(unit.session)
        today = today_of(details, today_in(details.zone))
        closed = billing.close_day(unit.session, parse_day(day), today=today)
    click.echo(f"{closed} horses written up.")


@main.command("day-sheet")
@click.argument("day")
@click.option("--to", "to", default="", help="The file to write, if not day-sheet-DAY.pdf here.")
@click.option("--farrier", "name", default="", help="The sheet of one farrier, not of all.")
@data_option
def day_sheet(day: str, to: str, name: str, data: str) -> None:
    """Write the day sheet as PDF, to be printed and written on in the yard.

    Example: backoffice day-sheet 2026-03-17 --to tuesday.pdf
    """
    on_day = parse_day(day)
    with ready(data) as database, database.reading() as session:
        farrier_id = _farrier_named(session, name) if name else None
        found = visits.sheets(session, on_day, farrier_id)
        guarantees = billing_queries.guarantees(session, visits.open_lost_shoes(found), on_day)
        speech, details = practice.speech(session), practice.practice(session)
    if not found:
        raise Refused("sheet.nothing", on_day=on_day)
    size: Paper = "a4" if details.paper == "a4" else "us-letter"
    made = paper.pdf(on_day, found, speech, size, guarantees)
    file = Path(to or f"day-sheet-{on_day}.pdf")
    try:
        file.write_bytes(made)
    except OSError:
        raise Refused("sheet.not_written", file=file) from None
    click.echo(f"The day sheet is in {file}.")


def _farrier_named(session: Session, name: str) -> int:
    for farrier in practice.farriers(session, hidden=True):
        if farrier.name.casefold() == name.strip().casefold():
            return farrier.id
    raise Refused("sheet.no_such_farrier", name=name)


@main.command("password")
@click.argument("name")
@data_option
def password(name: str, data: str) -> None:
    """Set the password of someone who may sign in.

    Example: backoffice password "Idris Thornbeck"
    """
    with ready(data) as database:
        typed = click.prompt("New password", hide_input=True, confirmation_prompt=True)
        with database.writing() as unit:
            user = access_queries.user_named(unit.session, name)
            if user is None:
                raise Refused("cli.no_such_person", name=name)
            access.set_password(unit.session, user, typed)
    click.echo("The password is set.")
