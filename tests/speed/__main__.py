"""Report how fast the program is on this computer: ``python -m tests.speed``. It judges nothing."""

import sqlite3
import sys
from collections.abc import Iterator
from pathlib import Path
from shutil import copyfile
from tempfile import TemporaryDirectory
from typing import get_args

from tests.speed import margin, pages, practice, visitor

BARS = {
    "closing 8 horses, ms": "60",
    "printing a bill, median ms": "40",
    "20 years by clients, against by hand": "1.3 ×",
    "20 years by kinds, against by hand": "1.3 ×",
    "start to first page, s": "1.5",
    "resident after 20 pages, MB": "120",
}


def report(folder: Path, rounds: int = 9) -> Iterator[tuple[str, str, str]]:
    """Measure, and give each figure as it is known: what, with which journal, how much."""
    original = practice.told(folder)
    for journal in get_args(practice.Journal):
        closed = practice.closing(original, journal, rounds)
        yield "closing 8 horses, ms", journal, f"{closed.milliseconds:.1f}"
        yield "closing 8 horses, statements", journal, str(closed.statements)
        yield f"the same {closed.rows} rows by hand, ms", journal, f"{closed.by_hand:.1f}"
        yield "closing against by hand", journal, f"{closed.milliseconds / closed.by_hand:.1f} ×"
    first, later = practice.printing(original)
    yield "printing a bill, first ms", "", f"{first:.1f}"
    yield "printing a bill, median ms", "", f"{later:.1f}"
    for by, ours, by_hand in margin.compare(original, rounds):
        yield f"20 years by {by}, against by hand", "", f"{ours / by_hand:.2f} ×"
    for name, ours, by_hand, questions in pages.compare(original, rounds):
        yield f"{name}, ms", "", f"{ours:.1f}"
        yield f"{name}: its {questions} questions by hand", "", f"{by_hand:.1f}"
    for journal in get_args(practice.Journal):
        home = folder / journal
        home.mkdir()
        copyfile(original, home / "practice.db")
        seen = visitor.look_around(journal, home)
        yield "start to first page, s", journal, f"{seen.first_page:.2f}"
        yield f"resident after {seen.pages} pages, MB", journal, _megabytes(seen.resident)
        yield "resident after a bill besides, MB", journal, _megabytes(seen.with_a_bill)
        yield "pandas imported", journal, "yes" if seen.pandas else "no"


def _megabytes(held: int | None) -> str:
    return "not known here" if held is None else f"{held / 2**20:.0f}"


def main() -> None:
    """Print the figures as a table."""
    sys.stdout.write(f"Python {sys.version.split()[0]}, SQLite {sqlite3.sqlite_version}\n")
    sys.stdout.write(f"{'what':<36} {'journal':<8} {'measured':>14} {'wished':>8}\n")
    with TemporaryDirectory() as folder:
        for what, journal, figure in report(Path(folder)):
            sys.stdout.write(f"{what:<36} {journal:<8} {figure:>14} {BARS.get(what, ''):>8}\n")
            sys.stdout.flush()


if __name__ == "__main__":
    main()
