"""What are all the tables, which triggers guard them, and do the books hold?"""

from collections.abc import Callable, Iterable, Iterator, Mapping
from pathlib import Path
from typing import cast

import sqlalchemy as sa
from alembic import command
from alembic.config import Config
from alembic.runtime.migration import MigrationContext
from alembic.script import ScriptDirectory
from sqlalchemy.orm import Session

from backoffice.access import models as access
from backoffice.billing import checks as billing_checks
from backoffice.billing import models as billing
from backoffice.books import checks as books_checks
from backoffice.books import models as books
from backoffice.clients import checks as clients_checks
from backoffice.clients import models as clients
from backoffice.daybook import checks as daybook_checks
from backoffice.daybook import models as daybook
from backoffice.daybook import service as daybook_service
from backoffice.db import Base, Choice, Database, Kind, YesNo
from backoffice.errors import Broken, Refused
from backoffice.files import models as files
from backoffice.practice import models as practice
from backoffice.pricing import models as pricing
from backoffice.stock import checks as stock_checks
from backoffice.stock import models as stock
from backoffice.suppliers import models as suppliers
from backoffice.tools import checks as tools_checks
from backoffice.tools import models as tools
from backoffice.visits import checks as visits_checks
from backoffice.visits import models as visits

MODELS = (
    practice, access, files, daybook, suppliers, clients, stock, tools, pricing, visits, billing,
    books,
)  # fmt: skip
METADATA = Base.metadata
note_changes = daybook_service.note_changes  # once imported, it writes down what edits change
TABLES = METADATA.tables
CHECKS: Mapping[str, Callable[[Session], Iterator[Broken]]] = {
    "daybook": daybook_checks.check,
    "clients": clients_checks.check,
    "stock": stock_checks.check,
    "tools": tools_checks.check,
    "visits": visits_checks.check,
    "billing": billing_checks.check,
    "books": books_checks.check,
}


def _complete() -> None:
    for table in TABLES.values():
        for column in table.columns:
            if isinstance(column.type, Choice):
                words = ", ".join(f"'{word}'" for word in column.type.words)
                rule = f"{column.name} IN ({words})"
            elif isinstance(column.type, YesNo):
                rule = f"{column.name} IN (0, 1)"
            else:
                continue
            table.append_constraint(sa.CheckConstraint(rule, name=f"{column.name}_word"))


_complete()


def kind_of(table: sa.Table) -> Kind:
    """Give the kind a table was declared as."""
    return cast(Kind, table.info["kind"])


def emptied_columns(table: sa.Table) -> list[str]:
    """Give the columns of an emptiable table that may be emptied, all together and once."""
    return [
        column.name
        for column in table.columns
        if column.info.get("personal") or column.info.get("emptied")
    ]


def _sqlite_triggers(table: sa.Table) -> Iterable[str]:
    name = table.name
    key = next(iter(table.primary_key.columns)).name

    def trigger(verb: str, condition: str = "") -> str:
        return (
            f"CREATE TRIGGER keep_{name}_{verb} BEFORE {verb} ON {name} {condition} "
            f"BEGIN SELECT RAISE(ABORT, '{name} only grows'); END"
        )

    yield trigger("DELETE")
    there = f"SELECT 1 FROM {name} WHERE {key} = NEW.{key}"  # noqa: S608 (our own names)
    yield trigger("INSERT", f"WHEN EXISTS ({there})")
    yield trigger(
        "UPDATE", _unless_emptied(table, "IS NOT") if kind_of(table) == "emptiable" else ""
    )


def _unless_emptied(table: sa.Table, differs: str) -> str:
    emptied = emptied_columns(table)
    kept = [f"NEW.{c.name} {differs} OLD.{c.name}" for c in table.columns if c.name not in emptied]
    filled = [f"NEW.{name} IS NOT NULL" for name in emptied]
    return f"WHEN ({' OR '.join(kept + filled)})"


def _postgres_triggers(table: sa.Table) -> Iterable[str]:
    name = table.name
    does = "FOR EACH ROW {} EXECUTE FUNCTION keep_only_grows()"
    emptiable = kind_of(table) == "emptiable"
    guard = _unless_emptied(table, "IS DISTINCT FROM") if emptiable else ""
    yield f"CREATE TRIGGER keep_{name}_DELETE BEFORE DELETE ON {name} {does.format('')}"
    yield f"CREATE TRIGGER keep_{name}_UPDATE BEFORE UPDATE ON {name} {does.format(guard)}"
    yield (
        f"CREATE TRIGGER keep_{name}_TRUNCATE BEFORE TRUNCATE ON {name} "
        "FOR EACH STATEMENT EXECUTE FUNCTION keep_only_grows()"
    )


_LOCKED = "(SELECT upto FROM period_lock ORDER BY id DESC LIMIT 1)"
_SQLITE_LOCK = (
    f"CREATE TRIGGER keep_entry_lock BEFORE INSERT ON entry WHEN NEW.day <= {_LOCKED} "
    "BEGIN SELECT RAISE(ABORT, 'the day is locked'); END"
)
_POSTGRES_FUNCTIONS = (
    "CREATE OR REPLACE FUNCTION keep_only_grows() RETURNS trigger LANGUAGE plpgsql AS "
    "$$ BEGIN RAISE EXCEPTION '%% only grows', TG_TABLE_NAME USING ERRCODE = '23514'; END $$",
    "CREATE OR REPLACE FUNCTION keep_lock() RETURNS trigger LANGUAGE plpgsql AS "
    f"$$ BEGIN IF NEW.day <= {_LOCKED} THEN RAISE EXCEPTION 'the day is locked' "
    "USING ERRCODE = '23514'; END IF; RETURN NEW; END $$",
    "CREATE TRIGGER keep_entry_lock BEFORE INSERT ON entry "
    "FOR EACH ROW EXECUTE FUNCTION keep_lock()",
)


def triggers(*, postgres: bool) -> dict[str, str]:
    """Give every trigger the tables' kinds ask for, by name."""
    made = _postgres_triggers if postgres else _sqlite_triggers
    guarded = [t for t in TABLES.values() if kind_of(t) in ("ledger", "emptiable")]
    statements = [statement for table in guarded for statement in made(table)]
    statements.append(_POSTGRES_FUNCTIONS[2] if postgres else _SQLITE_LOCK)
    return {statement.split()[2].lower(): statement for statement in statements}


def found_triggers(connection: sa.Connection) -> dict[str, str]:
    """Give the names of the triggers the database has now, and the table of each."""
    if connection.dialect.name == "postgresql":
        found = (
            "SELECT t.tgname, c.relname FROM pg_trigger t JOIN pg_class c ON c.oid = t.tgrelid "
            "JOIN pg_namespace n ON n.oid = c.relnamespace "
            "WHERE NOT t.tgisinternal AND n.nspname = current_schema()"
        )
    else:
        found = "SELECT name, tbl_name FROM sqlite_master WHERE type = 'trigger'"
    return {name.lower(): table for name, table in connection.execute(sa.text(found))}


def install_triggers(connection: sa.Connection) -> None:
    """Drop every trigger of ours and make them anew from the tables' kinds."""
    postgres = connection.dialect.name == "postgresql"
    for name, table in found_triggers(connection).items():
        if name.startswith("keep_"):
            on = f" ON {table}" if postgres else ""
            connection.exec_driver_sql(f"DROP TRIGGER {name}{on}")
    for statement in _POSTGRES_FUNCTIONS[:2] if postgres else ():
        connection.exec_driver_sql(statement)
    for statement in triggers(postgres=postgres).values():
        connection.exec_driver_sql(statement)


def _config(connection: sa.Connection | None = None) -> Config:
    config = Config()
    config.set_main_option("script_location", str(Path(__file__).parent / "migrations"))
    config.attributes["connection"] = connection
    return config


def newest() -> str:
    """Give the revision this program writes."""
    return str(ScriptDirectory.from_config(_config()).get_current_head())


def revision_of(database: Database) -> str | None:
    """Give the revision a database is at; None for an empty one."""
    with database.reading() as session:
        return MigrationContext.configure(session.connection()).get_current_revision()


def upgrade(database: Database, to: str = "head") -> None:
    """Bring a database to a revision, in one transaction, and guard its tables anew."""
    engine = database.writer
    with engine.connect() as connection:
        if not database.is_postgres:
            # Outside a transaction: SQLite ignores this pragma inside one.
            connection.connection.execute("PRAGMA foreign_keys=OFF")
        try:
            with connection.begin():
                command.upgrade(_config(connection), to)
                if to == "head":
                    install_triggers(connection)
                if not database.is_postgres:
                    broken = connection.exec_driver_sql("PRAGMA foreign_key_check").fetchall()
                    if broken:
                        raise RuntimeError(f"the upgrade broke references: {broken[:3]}")
        finally:
            if not database.is_postgres:
                connection.connection.execute("PRAGMA foreign_keys=ON")


def require_newest(database: Database) -> None:
    """Refuse to work on a database that is older or newer than this program."""
    found = revision_of(database)
    if found != newest():
        known = {s.revision for s in ScriptDirectory.from_config(_config()).walk_revisions()}
        raise Refused("schema.old" if found is None or found in known else "schema.newer")


def check(database: Database, progress: Callable[[str], None] | None = None) -> list[Broken]:
    """Prove the books: every cache from its rows, every total, number and seal, and the file."""
    broken: list[Broken] = []
    with database.reading() as session:
        for name, find in CHECKS.items():
            if progress:
                progress(name)
            broken += find(session)
        broken += _integrity(session.connection(), postgres=database.is_postgres)
    return broken


def _integrity(connection: sa.Connection, *, postgres: bool) -> Iterable[Broken]:
    wanted, found = set(triggers(postgres=postgres)), set(found_triggers(connection))
    for name in sorted(wanted - found):
        yield Broken("check.trigger", {"name": name})
    if MigrationContext.configure(connection).get_current_revision() != newest():
        yield Broken("check.revision", {})
    if not postgres:
        for (said,) in connection.exec_driver_sql("PRAGMA integrity_check"):
            if said != "ok":
                yield Broken("check.file", {"said": said})
        for table, *_ in connection.exec_driver_sql("PRAGMA foreign_key_check"):
            yield Broken("check.reference", {"table": table})
