"""A practice that is written straight into a file holds like one that was lived."""

from pathlib import Path

import pytest
import sqlalchemy as sa

from backoffice import schema
from backoffice.db import Database
from backoffice.visits.models import Work
from tests.speed.growth import grow


@pytest.mark.speed
def test_the_books_of_a_grown_practice_hold_and_are_the_same_each_time(tmp_path: Path) -> None:
    rows = [grow(tmp_path / f"{name}.db", 1) for name in ("one", "two")]

    assert rows[0] == rows[1] > 100_000
    database = Database(f"sqlite:///{tmp_path / 'one.db'}", journal="delete")
    assert schema.check(database) == []
    with database.reading() as session:
        works = session.scalar(sa.select(sa.func.count(Work.id)))
        open_works = session.scalar(
            sa.select(sa.func.count(Work.id)).where(Work.closing_entry_id.is_(None))
        )
    database.close()
    assert (works, open_works) == (3_072, 72)
