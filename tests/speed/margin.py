"""What is left over twenty years of results, against the same sums asked for by hand."""

import random
import shutil
import sqlite3
from collections.abc import Callable, Iterator
from datetime import date, timedelta
from pathlib import Path
from statistics import median
from time import perf_counter

from backoffice.reports import queries
from backoffice.reports.queries import By
from backoffice.reports.rules import Period
from tests.speed.practice import opened

RESULTS, CLIENTS, KINDS = 60_000, 600, 7
TWENTY_YEARS = Period(first=date(2006, 3, 18), last=date(2026, 3, 17))
BY_HAND = """
    SELECT {group}, sum(net), sum(material), sum(drive), sum(tool), sum(minutes),
           sum(minutes_est), sum(drive_est), sum(material_est)
    FROM result WHERE day BETWEEN ? AND ? GROUP BY {group}"""


def compare(original: Path, rounds: int) -> Iterator[tuple[str, float, float]]:
    """Give the milliseconds of each grouping, ours and by hand, on a copy with many results."""
    path = original.with_name("margin.db")
    shutil.copyfile(original, path)
    hand = sqlite3.connect(path)
    _fill(hand)
    days = (TWENTY_YEARS.first.isoformat(), TWENTY_YEARS.last.isoformat())
    with opened(path, "delete") as database, database.reading() as session:
        for by, group in ((By.CLIENTS, "client_id"), (By.KINDS, "type_id")):
            statement = BY_HAND.format(group=group)
            ours, theirs = _in_turn(
                lambda by=by: queries.margin(session, TWENTY_YEARS, by),  # type: ignore[misc]
                lambda said=statement: hand.execute(said, days).fetchall(),  # type: ignore[misc]
                rounds,
            )
            yield by, ours, theirs
    hand.close()


def _fill(hand: sqlite3.Connection) -> None:
    """Write results as twenty years leave them; what they refer to is not looked at here."""
    dice = random.Random(17)
    first = TWENTY_YEARS.first
    length = (TWENTY_YEARS.last - first).days
    hand.executemany(
        "INSERT INTO result VALUES (?,?,?,?,1,1,?,?,1,?,?,?,?,?,?,?,?)",
        (
            (
                1_000_000 + number,
                1_000_000 + number,
                1 + dice.randrange(CLIENTS),
                (first + timedelta(days=number * length // RESULTS)).isoformat(),
                1 + dice.randrange(KINDS),
                1 + dice.randrange(2_500),
                *(dice.randrange(20_000) for _ in range(8)),
            )
            for number in range(RESULTS)
        ),
    )
    hand.commit()


def _in_turn(ours: Callable[[], object], theirs: Callable[[], object], rounds: int) -> list[float]:
    """Time two ways of asking the same, one after the other, a few times over."""
    took: list[list[float]] = [[], []]
    for ask in (ours, theirs):
        ask()
    for _ in range(rounds):
        for kept, ask in zip(took, (ours, theirs), strict=True):
            begun = perf_counter()
            ask()
            kept.append((perf_counter() - begun) * 1_000)
    return [median(kept) for kept in took]
