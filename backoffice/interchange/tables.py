"""Writing rows as CSV that a spreadsheet opens without running any of it."""

import csv
from collections.abc import Iterable, Sequence
from datetime import date, datetime
from pathlib import Path

RISKY = ("=", "+", "-", "@", "\t", "\r", "＝", "＋", "－", "＠")  # noqa: RUF001 (full-width forms)


def cell(value: object) -> str:
    """Write one value: ISO dates, whole numbers, text that can never become a formula."""
    if value is None:
        return ""
    if isinstance(value, bool):
        return str(int(value))
    if isinstance(value, date | datetime):
        return value.isoformat()
    if isinstance(value, str):
        return f"'{value}" if value.startswith(RISKY) else value
    return str(value)


def write(path: Path, header: Sequence[str], rows: Iterable[Sequence[object]]) -> int:
    """Write a table and tell how many rows it has."""
    written = 0
    with path.open("w", newline="", encoding="utf-8") as file:
        writer = csv.writer(file, quoting=csv.QUOTE_ALL)
        writer.writerow(header)
        for row in rows:
            writer.writerow([cell(value) for value in row])
            written += 1
    return written
