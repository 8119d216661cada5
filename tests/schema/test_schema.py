"""The tables: their kinds, their guards on both engines, and how they grow."""

import json
from datetime import UTC, datetime
from pathlib import Path

import pytest
import sqlalchemy as sa
from alembic.autogenerate import compare_metadata
from alembic.runtime.migration import MigrationContext

from backoffice import schema
from backoffice.db import Database
from backoffice.errors import Refused

LEDGERS = [t.name for t in schema.TABLES.values() if schema.kind_of(t) == "ledger"]
EMPTIABLE = [t.name for t in schema.TABLES.values() if schema.kind_of(t) == "emptiable"]
NOW = datetime(2026, 3, 17, 19, tzinfo=UTC)


def fill(connection: sa.Connection, table: sa.Table) -> None:
    """Put one row into a table, and nothing where it refers to."""
    values = {}
    for column in table.columns:
        kind = type(column.type).__name__
        words = getattr(column.type, "words", ("x",))
        plain = {"Whole": 1, "Text": "x", "Day": NOW.date(), "Instant": NOW, "YesNo": True}
        values[column.name] = words[0] if kind == "Choice" else plain[kind]
    values |= EXCEPTIONS.get(table.name, {})
    connection.execute(table.insert().values(**values))


EXCEPTIONS: dict[str, dict[str, object]] = {
    "document": {"net": 1, "tax": 0, "gross": 1},
    "allocation": {"credit_id": None},
    "supplier_bill_line": {"lot_id": 1},
    "period_lock": {"upto": None},
}


@pytest.fixture
def unguarded_references(both: Database) -> Database:
    """A database in which a row may refer to nothing, so that each table is tried alone."""
    if both.is_postgres:
        with both.writer.begin() as connection:
            found = connection.execute(
                sa.text(
                    "SELECT conrelid::regclass::text, conname FROM pg_constraint "
                    "WHERE contype = 'f' AND connamespace = current_schema()::regnamespace"
                )
            ).all()
            for table, name in found:
                connection.exec_driver_sql(f"ALTER TABLE {table} DROP CONSTRAINT {name}")
    return both


def loose(database: Database) -> sa.Connection:
    connection = database.writer.connect()
    if not database.is_postgres:
        connection.connection.execute("PRAGMA foreign_keys=OFF")
    return connection


def test_every_table_that_only_grows_refuses_changes_from_any_shell(
    unguarded_references: Database,
) -> None:
    tried = 0
    for name in LEDGERS + EMPTIABLE:
        table = schema.TABLES[name]
        verbs = [f"DELETE FROM {name}", f"UPDATE {name} SET {next(iter(table.columns)).name} = 9"]
        if unguarded_references.is_postgres:
            verbs.append(f"TRUNCATE {name} CASCADE")
        else:
            columns = ", ".join(column.name for column in table.columns)
            verbs.append(f"INSERT OR REPLACE INTO {name} ({columns}) SELECT {columns} FROM {name}")
        with loose(unguarded_references) as connection, connection.begin():
            fill(connection, table)
        for verb in verbs:
            with (
                loose(unguarded_references) as connection,
                pytest.raises(sa.exc.DBAPIError, match="only grows"),
                connection.begin(),
            ):
                connection.exec_driver_sql(verb)
            tried += 1
    assert tried == 3 * len(LEDGERS + EMPTIABLE)
    assert tried > 60


def test_an_emptiable_row_is_emptied_once_and_never_refilled(
    unguarded_references: Database,
) -> None:
    for name in EMPTIABLE:
        table = schema.TABLES[name]
        emptied = schema.emptied_columns(table)
        with loose(unguarded_references) as connection, connection.begin():
            fill(connection, table)
        with loose(unguarded_references) as connection, connection.begin():
            connection.execute(table.update().values(dict.fromkeys(emptied)))
        with (
            loose(unguarded_references) as connection,
            pytest.raises(sa.exc.DBAPIError, match="only grows"),
            connection.begin(),
        ):
            connection.execute(table.update().values({emptied[0]: "x"}))


def test_half_emptying_is_refused(unguarded_references: Database) -> None:
    table = schema.TABLES["change"]
    with loose(unguarded_references) as connection, connection.begin():
        fill(connection, table)
    with (
        loose(unguarded_references) as connection,
        pytest.raises(sa.exc.DBAPIError, match="only grows"),
        connection.begin(),
    ):
        connection.execute(table.update().values(before=None))


def test_the_guards_in_the_database_are_those_the_kinds_ask_for(both: Database) -> None:
    with both.writer.connect() as connection:
        found = schema.found_triggers(connection)

    assert set(found) == set(schema.triggers(postgres=both.is_postgres))


def test_a_missing_guard_is_found_by_the_check(both: Database) -> None:
    on = " ON entry" if both.is_postgres else ""
    with both.writer.begin() as connection:
        connection.exec_driver_sql(f"DROP TRIGGER keep_entry_delete{on}")

    assert [found.code for found in schema.check(both)] == ["check.trigger"]


@pytest.mark.filterwarnings("ignore:Skipped unsupported reflection", "ignore:autogenerate skip")
def test_an_upgraded_empty_database_is_what_the_models_say(both: Database) -> None:
    with both.writer.connect() as connection:
        context = MigrationContext.configure(connection)

        assert compare_metadata(context, schema.METADATA) == []
        assert schema.revision_of(both) == schema.newest()


def test_sqlite_itself_refuses_text_and_fractions_where_whole_numbers_belong(
    database: Database,
) -> None:
    for wrong in ("'twelve'", "12.34"):
        with (
            database.writer.connect() as connection,
            pytest.raises(sa.exc.DBAPIError),
            connection.begin(),
        ):
            connection.exec_driver_sql(f"INSERT INTO setting VALUES (1, 'x', {wrong})")


def test_books_of_a_newer_program_are_refused(database: Database) -> None:
    with database.writer.begin() as connection:
        connection.exec_driver_sql("UPDATE alembic_version SET version_num = '9999'")

    with pytest.raises(Refused) as refused:
        schema.require_newest(database)

    assert refused.value.code == "schema.newer"


def test_nothing_is_deleted_underneath_a_reference() -> None:
    for table in schema.TABLES.values():
        for key in table.foreign_keys:
            assert key.ondelete == "RESTRICT", f"{table.name}.{key.column}"


GOLDEN = Path(__file__).parent / "golden"


@pytest.fixture
def empty(both: Database) -> Database:
    """A database with no table at all, on each engine."""
    with loose(both) as connection, connection.begin():
        if both.is_postgres:
            connection.exec_driver_sql("DROP SCHEMA public CASCADE")
            connection.exec_driver_sql("CREATE SCHEMA public")
        else:
            for name in [*schema.TABLES, "alembic_version"]:
                connection.exec_driver_sql(f"DROP TABLE {name}")
    return both


@pytest.mark.parametrize("kept", sorted(GOLDEN.glob("*.jsonl")), ids=lambda path: path.stem)
def test_books_of_every_released_shape_come_through_the_upgrade(
    kept: Path, empty: Database
) -> None:
    """The golden practice: written at its own revision, upgraded, and every figure as before."""
    rows = [json.loads(line) for line in kept.read_text(encoding="utf-8").splitlines()]
    schema.upgrade(empty, kept.stem.split("-")[0])
    with loose(empty) as connection, connection.begin():
        for row in rows:
            names = ", ".join(row["values"])
            marks = ", ".join(f":{name}" for name in row["values"])
            insert = f"INSERT INTO {row['table']} ({names}) VALUES ({marks})"
            connection.execute(sa.text(insert), row["values"])
    schema.upgrade(empty)

    assert schema.check(empty) == []
    with empty.reading() as session:
        kept_rows = sum(
            session.execute(sa.select(sa.func.count()).select_from(table)).scalar_one()
            for table in schema.TABLES.values()
        )
        billed = session.execute(
            sa.text("SELECT sum(gross) FROM document WHERE sort = 'invoice'")
        ).scalar_one()
    assert kept_rows == len(rows)
    assert billed == sum(
        row["values"]["gross"]
        for row in rows
        if row["table"] == "document" and row["values"]["sort"] == "invoice"
    )


def test_bills_fixed_before_they_could_be_taken_back_for_good_stay_fixed(empty: Database) -> None:
    """The first version knew one way to take a bill back, and wrote it down as a credit."""
    schema.upgrade(empty, "0001")
    with loose(empty) as connection, connection.begin():
        connection.exec_driver_sql(
            "INSERT INTO entry (id, day, sort, recorded_at) "
            "VALUES (1, '2026-03-17', 'credit', '2026-03-17T19:00:00.000000Z')"
        )
    schema.upgrade(empty)

    with loose(empty) as connection, connection.begin():
        assert connection.execute(sa.text("SELECT sort FROM entry")).scalar_one() == "fix"
        for number, sort in enumerate(("credit", "fix", "pay"), 2):
            connection.execute(
                sa.text(
                    "INSERT INTO entry (id, day, sort, recorded_at) VALUES "
                    "(:id, '2026-03-17', :sort, '2026-03-17T19:00:00.000000Z')"
                ),
                {"id": number, "sort": sort},
            )
