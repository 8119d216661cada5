"""The demo practice with its eight horses of the day told, ready to be closed."""

import json
import shutil
import sqlite3
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import date
from pathlib import Path
from statistics import median
from time import perf_counter
from typing import Any, Literal

import sqlalchemy as sa

from backoffice import demo, schema
from backoffice.billing import queries as bills
from backoffice.billing import service as billing
from backoffice.billing.document import pdf
from backoffice.db import Database
from backoffice.visits import queries
from backoffice.visits import service as visits
from backoffice.visits.rules import FactSort, Said

Journal = Literal["wal", "delete"]
Rows = dict[str, list[dict[str, Any]]]
DAY = date(2026, 3, 17)


@contextmanager
def opened(path: Path, journal: Journal) -> Iterator[Database]:
    """Open a practice with one of the two journals."""
    database = Database(f"sqlite:///{path}", journal=journal)
    try:
        yield database
    finally:
        database.close()


def told(folder: Path) -> Path:
    """Build the demo practice and say that its eight horses of today were done as planned."""
    path = folder / "practice.db"
    demo.build(path)
    with opened(path, "delete") as database, database.writing() as unit:
        for stop in queries.day_page(unit.session, DAY).stops:
            facts = [
                Said(id=f"speed-{work.id}", subject=work.subject, sort=FactSort.AS_PLANNED)
                for work in stop.works
            ]
            visits.say(unit.session, stop.id, facts)
    return path


@dataclass(frozen=True, slots=True, kw_only=True)
class Closing:
    """How long closing a day took, in how many statements, and the same rows by hand."""

    milliseconds: float
    statements: int
    rows: int
    by_hand: float


def closing(original: Path, journal: Journal, rounds: int) -> Closing:
    """Close the day of eight horses a few times over, each on a copy of its own."""
    took, statements, path = [], 0, original.with_name(f"{journal}.db")
    for _ in range(rounds):
        shutil.copyfile(original, path)
        with opened(path, journal) as database:
            _warm(database)
            seen = _counted(database)
            begun = perf_counter()
            with database.writing() as unit:
                closed = billing.close_day(unit.session, DAY, today=DAY)
            took.append(perf_counter() - begun)
            statements = len(seen)
        if closed != 8:
            raise ValueError(f"{closed} horses were closed, not 8")
    new = _new_rows(original, path)
    by_hand = [_insert(original, new, journal) for _ in range(rounds)]
    return Closing(
        milliseconds=median(took) * 1_000,
        statements=statements,
        rows=sum(len(rows) for rows in new.values()),
        by_hand=median(by_hand) * 1_000,
    )


def _counted(database: Database) -> list[str]:
    """Collect the statements sent to a database from now on."""
    seen: list[str] = []
    sa.event.listen(database.writer, "before_cursor_execute", lambda *told: seen.append(told[2]))
    return seen


def _warm(database: Database) -> None:
    """Let the connection be made and the file be read before the clock runs."""
    with database.writing() as unit:
        queries.day_page(unit.session, DAY)


def _rows(path: Path) -> dict[tuple[str, str], dict[str, Any]]:
    connection = sqlite3.connect(path)
    connection.row_factory = sqlite3.Row
    found = {}
    for table in schema.METADATA.sorted_tables:
        keys = [column.name for column in table.primary_key]
        for row in connection.execute(f"SELECT * FROM {table.name}"):
            found[table.name, json.dumps([row[key] for key in keys])] = dict(row)
    connection.close()
    return found


def _new_rows(before: Path, after: Path) -> Rows:
    """Give the rows that closing added, by table, in an order in which they can be inserted."""
    there, rows = set(_rows(before)), Rows()
    for (table, key), row in _rows(after).items():
        if (table, key) not in there:
            rows.setdefault(table, []).append(row)
    return rows


def _insert(original: Path, new: Rows, journal: Journal) -> float:
    """Insert the same rows by hand, one statement a table, and give the seconds it took."""
    path = original.with_name(f"{journal}-by-hand.db")
    shutil.copyfile(original, path)
    connection = sqlite3.connect(path, isolation_level=None)
    connection.execute(f"PRAGMA journal_mode={journal}").fetchall()
    connection.execute(f"PRAGMA synchronous={'FULL' if journal == 'wal' else 'EXTRA'}")
    connection.execute("PRAGMA foreign_keys=ON")
    connection.execute("SELECT count(*) FROM fact").fetchall()
    begun = perf_counter()
    connection.execute("BEGIN IMMEDIATE")
    for table, rows in new.items():
        columns = ", ".join(rows[0])
        marks = ", ".join(f":{name}" for name in rows[0])
        connection.executemany(f"INSERT INTO {table} ({columns}) VALUES ({marks})", rows)
    connection.execute("COMMIT")
    took = perf_counter() - begun
    connection.close()
    return took


def printing(original: Path) -> tuple[float, float]:
    """Print every bill once; give the milliseconds of the first and the median of the others."""
    with opened(original, "delete") as database, database.reading() as session:
        cards = [bills.bill_card(session, line.id) for line in bills.bill_list(session)]
    took = []
    for card in cards:
        if card is not None:
            begun = perf_counter()
            pdf(card.printed, "us-letter")
            took.append((perf_counter() - begun) * 1_000)
    return took[0], median(took[1:])
