"""The demo practice: whole, plausible, the same each time, and never half built."""

import csv
from collections.abc import Iterator
from datetime import date
from pathlib import Path

import pytest
import sqlalchemy as sa

from backoffice import demo, schema
from backoffice.billing import queries as bills
from backoffice.clients import queries as clients
from backoffice.db import Database
from backoffice.interchange import service as interchange
from backoffice.practice import queries as practice
from backoffice.stock.models import OnHand, ShortUse
from backoffice.tools import queries as tools
from backoffice.visits import queries as visits
from backoffice.visits.models import Result

SECRETS = {"salt", "digest", "prev", "hash", "last_hash"}


@pytest.fixture(scope="module")
def built(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The demo practice, and in ``days`` beside it what was said while it was built."""
    path = tmp_path_factory.mktemp("demo") / "practice.db"
    days: list[str] = []
    demo.build(path, days.append)
    (path.parent / "days").write_text("\n".join(days), encoding="utf-8")
    return path


@pytest.fixture
def practice_of_demo(built: Path) -> Iterator[Database]:
    """The demo practice, opened."""
    database = Database(f"sqlite:///{built}", journal="delete")
    yield database
    database.close()


def test_the_books_of_the_demo_hold(practice_of_demo: Database) -> None:
    assert schema.revision_of(practice_of_demo) == schema.newest()
    assert schema.check(practice_of_demo) == []


def test_only_the_practice_itself_is_left_in_the_folder(built: Path) -> None:
    assert {path.name for path in built.parent.iterdir()} == {"practice.db", "days"}


def test_it_is_told_day_by_day_in_order(built: Path) -> None:
    days = (built.parent / "days").read_text(encoding="utf-8").splitlines()

    assert days == sorted(set(days))
    assert days[-1] == "2026-03-16"


def test_the_bills_run_from_1001_and_some_are_paid(practice_of_demo: Database) -> None:
    with practice_of_demo.reading() as session:
        issued = bills.bill_list(session)
        assert sorted(bill.number for bill in issued) == [str(no) for no in range(1001, 1013)]
        assert bills.next_number(session, "bills") == 1013
        assert 0 < len(bills.open_bills(session)) < len(issued)


def test_a_bill_is_ready_for_the_sanctuary_alone(practice_of_demo: Database) -> None:
    with practice_of_demo.reading() as session:
        (ready,) = bills.ready_bills(session, includes_tax=False)
        assert ready.client == "Dunmarrow Sanctuary"
        # A donkey and a light horse trimmed, and nothing for the trip.
        assert ready.totals.payable == 4_800 + 5_800


@pytest.mark.parametrize(("day", "horses"), [("2026-03-13", 8), ("2026-03-17", 11)])
def test_last_friday_and_today_are_planned_at_three_yards_each(
    practice_of_demo: Database, day: str, horses: int
) -> None:
    with practice_of_demo.reading() as session:
        stops = visits.day_page(session, date.fromisoformat(day)).stops
    assert len({stop.yard_id for stop in stops}) == len(stops) == 3
    planned = [work for stop in stops for work in stop.works]
    assert len(planned) == horses
    for work in planned:
        assert work.outcome == "planned"
        assert work.service_id is not None
        assert work.price is not None
        assert 3_000 < work.price < 40_000


def test_last_friday_waits_to_be_written_up_and_today_comes_after_it(
    practice_of_demo: Database,
) -> None:
    with practice_of_demo.reading() as session:
        today = practice.practice(session).demo_today
        assert today == date(2026, 3, 17)
        assert [one.day for one in visits.open_days(session, today)] == [date(2026, 3, 13)]


def test_every_figure_is_one_a_farrier_would_believe(practice_of_demo: Database) -> None:
    with practice_of_demo.reading() as session:
        assert session.scalars(sa.select(ShortUse)).all() == []
        assert all(qty >= 0 for qty in session.scalars(sa.select(OnHand.qty)))
        results = session.scalars(sa.select(Result)).all()
        assert len(results) > 8
        for result in results:
            costs = result.material + result.drive + result.tool
            assert 0 < costs < result.net
            assert 5 <= result.minutes <= 200
        horses = clients.horse_list(session, date(2026, 3, 17)).rows
        assert len(horses) == 21
        assert len(tools.tool_list(session, date(2026, 3, 17))) == 8


def taken_out(database: Database, folder: Path) -> dict[str, list[dict[str, str]]]:
    """Take a practice out as plain rows, without what is drawn by lot."""
    with database.reading() as session:
        interchange.take_out(session, folder)
    found = {}
    for path in sorted(folder.glob("*.csv")):
        with path.open(newline="", encoding="utf-8") as file:
            found[path.stem] = [
                {name: value for name, value in row.items() if name not in SECRETS}
                for row in csv.DictReader(file)
            ]
    return found


def test_built_twice_it_is_the_same_practice(practice_of_demo: Database, tmp_path: Path) -> None:
    demo.build(tmp_path / "practice.db")
    again = Database(f"sqlite:///{tmp_path / 'practice.db'}", journal="delete")

    first, second = taken_out(practice_of_demo, tmp_path / "1"), taken_out(again, tmp_path / "2")

    again.close()
    assert {name: rows for name, rows in first.items() if rows != second[name]} == {}
    assert sum(len(rows) for rows in first.values()) > 500


def test_a_build_that_was_interrupted_leaves_no_practice_and_the_next_one_comes_through(
    tmp_path: Path,
) -> None:
    def interrupt(day: str) -> None:
        if day > "2026-02-03":
            raise KeyboardInterrupt

    path = tmp_path / "practice.db"
    with pytest.raises(KeyboardInterrupt):
        demo.build(path, interrupt)
    assert not path.exists()
    demo.build(path)

    assert [found.name for found in tmp_path.iterdir()] == ["practice.db"]
    database = Database(f"sqlite:///{path}", journal="delete")
    assert schema.check(database) == []
    database.close()
