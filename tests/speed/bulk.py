"""Rows written straight into a migrated file, a million of them in a minute."""

import sqlite3
from collections import Counter, defaultdict
from datetime import UTC, date, datetime, time
from pathlib import Path
from typing import Any

from backoffice import schema


def _plain(value: object) -> object:
    if isinstance(value, bool):
        return int(value)
    if isinstance(value, datetime):
        return value.astimezone(UTC).isoformat(timespec="microseconds")
    return value.isoformat() if isinstance(value, date) else value


def evening(day: date) -> datetime:
    """The moment at which what happened on a day was written down."""
    return datetime.combine(day, time(19), UTC)


class Bulk:
    """Rows waiting to be inserted, each with the number it will have."""

    def __init__(self, path: Path) -> None:
        self._file = sqlite3.connect(path, isolation_level=None)
        for said in ("journal_mode=OFF", "synchronous=OFF", "foreign_keys=OFF"):
            self._file.execute(f"PRAGMA {said}").fetchall()
        self._rows: dict[str, list[dict[str, object]]] = defaultdict(list)
        self._columns = {
            name: [column.name for column in table.columns] for name, table in schema.TABLES.items()
        }
        self._keys = {
            name: next(iter(table.primary_key.columns)).name
            for name, table in schema.TABLES.items()
        }
        self._last = Counter[str]()
        self.written = 0
        for name, key in self._keys.items():
            numbered = {"id", "seq"} & {key}
            if numbered:
                (last,) = self._file.execute(f"SELECT max({key}) FROM {name}").fetchone()
                self._last[name] = last or 0

    def add(self, table: str, **values: object) -> int:
        """Add a row; what is not named stays empty. Give its number, or 0 where it has none."""
        row = dict.fromkeys(self._columns[table]) | {k: _plain(v) for k, v in values.items()}
        number, key = 0, self._keys[table]
        if table in self._last and key not in values:
            self._last[table] += 1
            row[key] = number = self._last[table]
        self._rows[table].append(row)
        return number

    def last(self, table: str) -> int:
        """The number of the last row of a table."""
        return self._last[table]

    def entry(self, day: date, sort: str) -> int:
        """Add an entry of the book of first entry."""
        return self.add("entry", day=day, sort=sort, recorded_at=evening(day))

    def flush(self) -> None:
        """Insert what waits."""
        self._file.execute("BEGIN")
        for table, rows in self._rows.items():
            columns = self._columns[table]
            marks = ", ".join(f":{name}" for name in columns)
            into = f"INSERT INTO {table} ({', '.join(columns)}) VALUES ({marks})"
            self._file.executemany(into, rows)
            self.written += len(rows)
        self._file.execute("COMMIT")
        self._rows.clear()

    def ask(self, question: str, *values: object) -> list[Any]:
        """Ask the file itself."""
        return self._file.execute(question, values).fetchall()

    def close(self) -> None:
        """Insert what waits and let go."""
        self.flush()
        self._file.close()
