"""Transactions on both engines: all or nothing, once per form, and nothing lost between threads."""

import sqlite3
from datetime import UTC, datetime
from pathlib import Path
from threading import Thread

import pytest
import sqlalchemy as sa

from backoffice import schema
from backoffice.daybook.models import Entry
from backoffice.db import Database, FormKey, OtherBody, OutcomeUnknown, Replay, _wal_is_safe
from backoffice.practice.models import Place, Setting
from tests.factories import small_practice

NOW = datetime(2026, 3, 17, 19, tzinfo=UTC)


def truck(name: str = "Truck A") -> Place:
    return Place(name=name, sort="truck", hidden=False)


def names(database: Database) -> list[str]:
    with database.reading() as session:
        return list(session.scalars(sa.select(Place.name).order_by(Place.id)))


def test_who_only_reads_cannot_write(both: Database) -> None:
    with both.reading() as session:
        session.add(truck())
        with pytest.raises(sa.exc.DBAPIError):
            session.flush()
    with both.writing() as unit:
        unit.session.add(truck("Truck B"))

    assert names(both) == ["Truck B"]


def test_a_reader_sees_one_moment_while_others_write(both: Database) -> None:
    if not both.is_postgres:
        both.close()
        both = Database(str(both.url), journal="wal")
    with both.writing() as unit:
        unit.session.add(truck())
    with both.reading() as session:
        before = session.scalars(sa.select(Place.name)).all()
        with both.writing() as unit:
            unit.session.add(truck("Truck B"))
        assert session.scalars(sa.select(Place.name)).all() == before == ["Truck A"]
    assert names(both) == ["Truck A", "Truck B"]
    both.close()


def test_an_error_takes_back_all_that_was_written_before_it(both: Database) -> None:
    def goes_wrong() -> None:
        with both.writing("key", "body") as unit:
            unit.session.add(truck())
            unit.session.flush()
            raise RuntimeError("half way")

    with pytest.raises(RuntimeError, match="half way"):
        goes_wrong()

    assert names(both) == []
    with both.writing("key", "body") as unit:
        unit.session.add(truck())
    assert names(both) == ["Truck A"]


def test_a_form_sent_twice_is_saved_once_and_leads_to_the_same_place(both: Database) -> None:
    with both.writing("key", "body", by=7) as unit:
        unit.session.add(truck())
        unit.see_other("/places/1")
    with pytest.raises(Replay) as again, both.writing("key", "body", by=7):
        pytest.fail("the work was begun a second time")

    assert again.value.location == "/places/1"
    assert names(both) == ["Truck A"]


def test_a_changed_form_with_the_same_key_is_told_where_the_first_went(both: Database) -> None:
    with both.writing("key", "body", by=7) as unit:
        unit.see_other("/places/1")
    with pytest.raises(OtherBody) as other, both.writing("key", "changed", by=7):
        pytest.fail("the changed form was begun")

    assert other.value.location == "/places/1"


@pytest.mark.parametrize("body", ["body", "changed"])
def test_somebody_else_with_the_same_key_learns_nothing(both: Database, body: str) -> None:
    with both.writing("key", "body", by=7) as unit:
        unit.see_other("/places/1")
    with pytest.raises(OtherBody) as other, both.writing("key", body, by=8):
        pytest.fail("the other's form was begun")

    assert other.value.location == ""


def test_of_a_saved_form_only_its_key_and_where_it_led_are_kept(both: Database) -> None:
    with both.writing("key", "body", by=7, at=NOW) as unit:
        unit.see_other("/places/1")
    with both.reading() as session:
        row = session.get_one(FormKey, "key")
        kept = (row.fingerprint, row.location, row.user_id, row.at)

    assert kept == ("body", "/places/1", 7, NOW)


def test_a_form_sent_by_many_at_once_is_saved_once(both: Database) -> None:
    answers: list[str] = []

    def send() -> None:
        try:
            with both.writing("key", "body") as unit:
                unit.session.add(truck())
                unit.see_other("/places/1")
            answers.append("saved")
        except Replay as replay:
            answers.append(replay.location)

    together(send, 6)

    assert sorted(answers) == ["/places/1"] * 5 + ["saved"]
    assert names(both) == ["Truck A"]


def test_a_commit_that_fails_may_have_saved_and_is_told_apart(
    database: Database, monkeypatch: pytest.MonkeyPatch
) -> None:
    def fails(self: sa.orm.Session) -> None:
        raise OSError(5, "Input/output error")

    with monkeypatch.context() as patch:
        patch.setattr(sa.orm.Session, "commit", fails)
        with pytest.raises(OutcomeUnknown), database.writing("key", "body") as unit:
            unit.session.add(truck())
    with database.writing("key", "body") as unit:
        unit.session.add(truck())

    assert names(database) == ["Truck A"]


def test_text_with_nul_is_refused_on_both_engines(both: Database) -> None:
    with pytest.raises(sa.exc.StatementError, match="NUL"), both.writing() as unit:
        unit.session.add(truck("Truck\0A"))

    assert names(both) == []


def test_a_moment_without_its_zone_is_refused(both: Database) -> None:
    naive = datetime(2026, 3, 17, 19)  # noqa: DTZ001 (what is refused)
    with pytest.raises(sa.exc.StatementError, match="time zone"), both.writing(at=naive) as unit:
        unit.session.add(Entry(day=NOW.date(), sort="count", recorded_at=naive, user_id=None))


@pytest.mark.parametrize("value", [1.5, "12"])
def test_what_is_not_whole_is_refused_before_an_engine_rounds_it(
    both: Database, value: object
) -> None:
    with pytest.raises(sa.exc.StatementError, match="whole"), both.writing() as unit:
        unit.session.execute(sa.insert(Setting).values(name="x", value=value))


def together(work: object, times: int) -> None:
    """Run the same work in several threads at once."""
    threads = [Thread(target=work) for _ in range(times)]  # type: ignore[arg-type]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()


def test_a_hundred_changes_from_four_threads_are_all_there(both: Database) -> None:
    with both.writing() as unit:
        unit.session.add(Setting(name="count", value=0))
    one_more = sa.update(Setting).where(Setting.name == "count").values(value=Setting.value + 1)

    def count() -> None:
        for _ in range(25):
            with both.writing() as unit:
                unit.session.execute(one_more)

    together(count, 4)

    with both.reading() as session:
        assert session.scalars(sa.select(Setting.value)).one() == 100


@pytest.mark.parametrize("journal", ["wal", "delete"])
def test_a_copy_taken_while_somebody_writes_is_whole_and_holds(
    ready_file: Path, tmp_path: Path, journal: str
) -> None:
    original = tmp_path / "practice.db"
    original.write_bytes(ready_file.read_bytes())
    database = Database(f"sqlite:///{original}", journal="wal" if journal == "wal" else "delete")
    with database.writing() as unit:
        small_practice(unit.session)
    with database.writing() as unit:
        unit.session.add(truck("not saved yet"))
        unit.session.flush()
        kept = database.keep_copy(tmp_path / "copy.db")
    database.close()

    assert kept == tmp_path / "copy.db"
    copy = Database(f"sqlite:///{kept}")
    assert names(copy) == ["Truck A", "Shop"]
    assert schema.check(copy) == []
    copy.close()


def test_a_server_is_copied_by_its_own_tools(postgres: Database, tmp_path: Path) -> None:
    assert postgres.keep_copy(tmp_path / "copy.db") is None
    assert not (tmp_path / "copy.db").exists()


@pytest.mark.parametrize(
    ("version", "safe"),
    [
        ((3, 37, 0), False), ((3, 40, 1), False), ((3, 44, 5), False), ((3, 44, 6), True),
        ((3, 45, 0), False), ((3, 50, 6), False), ((3, 50, 7), True), ((3, 51, 2), False),
        ((3, 51, 3), True), ((3, 52, 0), False), ((3, 52, 1), True),
    ],
)  # fmt: skip
def test_the_faster_journal_is_used_only_where_it_is_sound(
    version: tuple[int, int, int], *, safe: bool
) -> None:
    assert _wal_is_safe(version) is safe


@pytest.mark.parametrize(("journal", "synchronous"), [("wal", 2), ("delete", 3)])
def test_every_commit_reaches_the_disk_with_either_journal(
    tmp_path: Path, journal: str, synchronous: int
) -> None:
    database = Database(
        f"sqlite:///{tmp_path / 'x.db'}", journal="wal" if journal == "wal" else "delete"
    )
    for engine in (database.writer, database.reader):
        with engine.connect() as connection:
            pragma = {
                name: connection.exec_driver_sql(f"PRAGMA {name}").scalar_one()
                for name in ("journal_mode", "synchronous", "foreign_keys", "trusted_schema")
            }
        assert pragma == {
            "journal_mode": journal,
            "synchronous": synchronous,
            "foreign_keys": 1,
            "trusted_schema": 0,
        }
    database.close()
    assert sqlite3.sqlite_version_info >= (3, 37)
