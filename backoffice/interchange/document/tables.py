"""Writing rows as CSV that a spreadsheet opens without running any of it, and as JSON, exactly."""

import json
from collections.abc import Iterable, Sequence
from datetime import date, datetime
from pathlib import Path
from types import TracebackType
from typing import Self

# What a spreadsheet takes for the beginning of a formula, full-width forms included.
RISKY = ("=", "+", "-", "@", "\t", "\r", "\n", "＝", "＋", "－", "＠")  # noqa: RUF001


def cell(value: object) -> str:
    """Write one value: ISO dates, whole numbers, text that can never become a formula.

    Text a spreadsheet would run gets an apostrophe before it; so does text that begins so after
    apostrophes of its own, so that taking one away gives every text back as it was.
    """
    if value is None:
        return ""
    if isinstance(value, bool):
        return str(int(value))
    if isinstance(value, date | datetime):
        return value.isoformat()
    if isinstance(value, str):
        return f"'{value}" if value.lstrip("'").startswith(RISKY) else value
    return str(value)


def _field(value: object) -> str:
    """Quote a value; what is not known is left without quotes, an empty text has them."""
    return "" if value is None else '"' + cell(value).replace('"', '""') + '"'


def _in_json(value: object) -> object:
    return value.isoformat() if isinstance(value, date | datetime) else value


class Both:
    """A table written twice, row by row: ``NAME.csv`` and ``NAME.jsonl``."""

    def __init__(self, folder: Path, name: str, columns: Sequence[str]) -> None:
        self._columns = columns
        self._csv = (folder / f"{name}.csv").open("w", newline="", encoding="utf-8")
        self._json = (folder / f"{name}.jsonl").open("w", newline="\n", encoding="utf-8")
        self._csv.write(",".join(map(_field, columns)) + "\r\n")

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self,
        _kind: type[BaseException] | None,
        _one: BaseException | None,
        _at: TracebackType | None,
    ) -> None:
        self._csv.close()
        self._json.close()

    def add(self, row: Sequence[object]) -> None:
        """Write one row to both."""
        self._csv.write(",".join(map(_field, row)) + "\r\n")
        named = {name: _in_json(value) for name, value in zip(self._columns, row, strict=True)}
        self._json.write(json.dumps(named, ensure_ascii=False) + "\n")


def write(path: Path, header: Sequence[str], rows: Iterable[Sequence[object]]) -> None:
    """Write a table as CSV alone."""
    with path.open("w", newline="", encoding="utf-8") as file:
        for row in (header, *rows):
            file.write(",".join(map(_field, row)) + "\r\n")
