"""How are rows kept, on SQLite and PostgreSQL? Only here do transactions begin and end."""

import sqlite3
from collections.abc import Iterator, Mapping, Sequence
from contextlib import contextmanager
from datetime import UTC, date, datetime
from enum import StrEnum
from pathlib import Path
from typing import Any, ClassVar, Literal, TypeVar

import sqlalchemy as sa
from sqlalchemy import event, orm
from sqlalchemy.dialects import postgresql, sqlite
from sqlalchemy.orm import DeclarativeBase, Mapped, declared_attr, mapped_column

Kind = Literal["ledger", "record", "cache", "emptiable", "plumbing"]


class Whole(sa.types.TypeDecorator[int]):
    """A whole number: INTEGER, on PostgreSQL BIGINT; sums come back as int on both."""

    impl = sa.Integer
    cache_ok = True

    def load_dialect_impl(self, dialect: sa.Dialect) -> sa.types.TypeEngine[Any]:
        """Use 64 bits everywhere."""
        wide = sa.BigInteger() if dialect.name == "postgresql" else sa.Integer()
        return dialect.type_descriptor(wide)

    def process_bind_param(self, value: int | None, dialect: sa.Dialect) -> int | None:
        """Refuse what is not whole before the driver rounds it."""
        if value is not None and not isinstance(value, int):
            raise TypeError(f"a whole number is needed, not {value!r}")
        return value

    def process_result_value(self, value: Any, dialect: sa.Dialect) -> int | None:
        """Give an int where the driver gives a Decimal."""
        return None if value is None else int(value)


class Text(sa.types.TypeDecorator[str]):
    """Text without the one character PostgreSQL cannot keep."""

    impl = sa.Text
    cache_ok = True

    def process_bind_param(self, value: str | None, dialect: sa.Dialect) -> str | None:
        """Refuse NUL on both engines alike."""
        if value is not None and "\0" in value:
            raise ValueError("text holds a NUL character")
        return value


class Day(sa.types.TypeDecorator[date]):
    """A calendar date: ISO text on SQLite, DATE on PostgreSQL."""

    impl = sa.Text
    cache_ok = True

    def load_dialect_impl(self, dialect: sa.Dialect) -> sa.types.TypeEngine[Any]:
        """Use the native type where there is one."""
        native = sa.Date() if dialect.name == "postgresql" else sa.Text()
        return dialect.type_descriptor(native)

    def process_bind_param(self, value: date | None, dialect: sa.Dialect) -> Any:
        """Write ISO text on SQLite."""
        if value is None or dialect.name == "postgresql":
            return value
        return value.isoformat()

    def process_result_value(self, value: Any, dialect: sa.Dialect) -> date | None:
        """Read either form."""
        return date.fromisoformat(value) if isinstance(value, str) else value


class Instant(sa.types.TypeDecorator[datetime]):
    """A moment in UTC; a time without its zone is refused."""

    impl = sa.Text
    cache_ok = True

    def load_dialect_impl(self, dialect: sa.Dialect) -> sa.types.TypeEngine[Any]:
        """Use the native type where there is one."""
        native = sa.DateTime(timezone=True) if dialect.name == "postgresql" else sa.Text()
        return dialect.type_descriptor(native)

    def process_bind_param(self, value: datetime | None, dialect: sa.Dialect) -> Any:
        """Write UTC."""
        if value is None:
            return None
        if value.tzinfo is None:
            raise ValueError("a moment needs its time zone")
        moment = value.astimezone(UTC)
        return moment if dialect.name == "postgresql" else moment.isoformat(timespec="microseconds")

    def process_result_value(self, value: Any, dialect: sa.Dialect) -> datetime | None:
        """Read UTC."""
        if value is None:
            return None
        moment = datetime.fromisoformat(value) if isinstance(value, str) else value
        return moment.astimezone(UTC)


class YesNo(sa.types.TypeDecorator[bool]):
    """0 or 1 on both engines."""

    impl = sa.Integer
    cache_ok = True

    def process_bind_param(self, value: bool | None, dialect: sa.Dialect) -> int | None:
        """Write 0 or 1."""
        return None if value is None else int(value)

    def process_result_value(self, value: Any, dialect: sa.Dialect) -> bool | None:
        """Read 0 or 1."""
        return None if value is None else bool(value)


class Choice(sa.types.TypeDecorator[str]):
    """One of a few words, kept as text with a named CHECK."""

    impl = sa.Text
    cache_ok = True

    def __init__(self, *words: str) -> None:
        self.words = words
        super().__init__()

    @classmethod
    def of(cls, kind: type[StrEnum]) -> "Choice":
        """Allow the words of an enumeration."""
        return cls(*(member.value for member in kind))

    def process_bind_param(self, value: str | None, dialect: sa.Dialect) -> str | None:
        """Write the plain word."""
        return None if value is None else str(value)


class Base(DeclarativeBase):
    """Every table: STRICT on SQLite, and of one declared kind."""

    metadata = sa.MetaData(
        naming_convention={
            "ix": "ix_%(column_0_N_label)s",
            "uq": "uq_%(table_name)s_%(column_0_N_name)s",
            "ck": "ck_%(table_name)s_%(constraint_name)s",
            "fk": "fk_%(table_name)s_%(column_0_N_name)s",
            "pk": "pk_%(table_name)s",
        }
    )
    type_annotation_map: ClassVar[dict[Any, Any]] = {
        int: Whole,
        str: Text,
        date: Day,
        datetime: Instant,
        bool: YesNo,
    }
    kind: ClassVar[Kind]
    rules: ClassVar[tuple[sa.schema.SchemaItem, ...]] = ()

    @declared_attr.directive
    def __table_args__(cls) -> tuple[Any, ...]:
        """Carry the kind and the constraints of the class into the table."""
        return (*cls.rules, {"sqlite_strict": True, "info": {"kind": cls.kind}})


class Numbered:
    """A row with a number of its own."""

    id: Mapped[int] = mapped_column(Whole, primary_key=True, sort_order=-1)


NumberedRow = TypeVar("NumberedRow", bound=Numbered)


class Versioned(Numbered):
    """A row that two people may edit; the second to save is told."""

    version: Mapped[int] = mapped_column(Whole, sort_order=90)

    @declared_attr.directive
    def __mapper_args__(cls) -> dict[str, Any]:
        """Count the version up at each save."""
        return {"version_id_col": cls.version}


def personal(**more: Any) -> Any:
    """Declare a column that holds something about a person and is emptied on request."""
    return mapped_column(Text, info={"personal": True}, **more)


def refers(target: str, **more: Any) -> Any:
    """Declare a foreign key; nothing is ever deleted underneath it."""
    return mapped_column(Whole, sa.ForeignKey(target, ondelete="RESTRICT"), **more)


class FormKey(Base):
    """A form already saved, so that sent twice it is saved once; holds only where it led."""

    __tablename__ = "form_key"
    kind = "plumbing"
    key: Mapped[str] = mapped_column(Text, primary_key=True)
    fingerprint: Mapped[str]
    location: Mapped[str] = mapped_column(Text, default="")
    user_id: Mapped[int | None]
    at: Mapped[datetime]


class Replay(Exception):
    """This form was saved before; its answer is at ``location``."""

    def __init__(self, location: str) -> None:
        super().__init__(location)
        self.location = location


class OtherBody(Exception):
    """A form with this key was saved before, but it said something else."""

    def __init__(self, location: str) -> None:
        super().__init__(location)
        self.location = location


class OutcomeUnknown(Exception):
    """The commit failed in a way that may have saved: send the same form and key again."""


class Session(orm.Session):
    """One transaction. ``info`` carries who acts (``by``) and when (``at``)."""


class Unit:
    """One unit of work: its session, and where the browser goes once it is saved."""

    def __init__(self, session: Session) -> None:
        self.session = session
        self.location = ""

    def see_other(self, url: str) -> None:
        """Say where the saved record is shown."""
        self.location = url


def insert_or_nothing(session: orm.Session, model: type[Base], **values: object) -> bool:
    """Insert a row unless its unique key is there already; tell whether it was inserted."""
    postgres = session.get_bind().dialect.name == "postgresql"
    insert = postgresql.insert(model) if postgres else sqlite.insert(model)
    key = next(iter(sa.inspect(model).primary_key))
    statement = insert.values(**values).on_conflict_do_nothing().returning(key)
    session.flush()
    return session.connection().execute(statement).first() is not None


def insert_numbered(
    session: orm.Session, model: type[NumberedRow], rows: Sequence[Mapping[str, object]]
) -> list[int]:
    """Insert rows in one statement and give their numbers in the same order.

    SQLite has no way to say which number went to which row of a statement, but there nobody else
    writes meanwhile and nothing is ever deleted from a ledger: the next numbers are known.
    """
    if not rows:
        return []
    if session.get_bind().dialect.name == "postgresql":
        new = sa.insert(model).returning(model.id, sort_by_parameter_order=True)
        return list(session.connection().execute(new, list(rows)).scalars())
    first = (session.scalar(sa.select(sa.func.max(model.id))) or 0) + 1
    numbers = list(range(first, first + len(rows)))
    session.connection().execute(
        sa.insert(model),
        [{"id": number, **row} for number, row in zip(numbers, rows, strict=True)],
    )
    return numbers


def month_of(day: Any) -> Any:
    """Give the month of a day column as text, ``2026-03``, on both engines."""
    return sa.func.substr(sa.cast(day, sa.Text), 1, 7)


def _wal_is_safe(version: tuple[int, int, int]) -> bool:
    """Whether this SQLite no longer has the WAL-reset bug (SQLite 3.51.3 release notes)."""
    if version[:2] == (3, 50):
        return version >= (3, 50, 7)
    if version[:2] == (3, 44):
        return version >= (3, 44, 6)
    return version >= (3, 51, 3) and version != (3, 52, 0)


_SAVED = {"wal": "FULL", "delete": "EXTRA", "memory": "OFF"}


class Database:
    """A practice's database, through one engine that reads and one that writes.

    The journal "memory" is for a file that is thrown away if its making is interrupted.
    """

    def __init__(
        self, url: str, *, journal: Literal["wal", "delete", "memory"] | None = None
    ) -> None:
        self.url = sa.make_url(url)
        self.is_postgres = self.url.get_backend_name() == "postgresql"
        if self.is_postgres:
            self.writer = sa.create_engine(self.url, pool_pre_ping=True, hide_parameters=True)
            self.reader: sa.Engine = self.writer.execution_options(
                isolation_level="REPEATABLE READ", postgresql_readonly=True
            )
            event.listen(self.writer, "connect", _prepare_postgres)
        else:
            safe = "wal" if _wal_is_safe(sqlite3.sqlite_version_info[:3]) else "delete"
            self.writer = self._sqlite("BEGIN IMMEDIATE", journal or safe, reads_only=False)
            self.reader = self._sqlite("BEGIN", journal or safe, reads_only=True)

    def _sqlite(self, begin: str, journal: str, *, reads_only: bool) -> sa.Engine:
        engine = sa.create_engine(self.url, connect_args={"timeout": 10}, hide_parameters=True)
        pragmas = [
            f"synchronous={_SAVED[journal]}",
            "foreign_keys=ON",
            "recursive_triggers=ON",
            "trusted_schema=OFF",
            "cell_size_check=ON",
            "secure_delete=ON",
            "fullfsync=ON",
            "checkpoint_fullfsync=ON",
        ]
        pragmas += ["query_only=ON"] if reads_only else [f"journal_mode={journal}"]

        def connect(connection: sqlite3.Connection, _record: object) -> None:
            connection.isolation_level = None
            for pragma in pragmas:
                connection.execute(f"PRAGMA {pragma}").fetchall()

        def start(connection: sa.Connection) -> None:
            connection.exec_driver_sql(begin)

        event.listen(engine, "connect", connect)
        event.listen(engine, "begin", start)
        return engine

    @contextmanager
    def reading(self) -> Iterator[Session]:
        """Look at one moment of the books; nothing can be written."""
        session = Session(self.reader, autoflush=False)
        try:
            yield session
        finally:
            session.rollback()
            session.close()

    @contextmanager
    def writing(
        self,
        key: str | None = None,
        fingerprint: str = "",
        *,
        by: int | None = None,
        at: datetime | None = None,
    ) -> Iterator[Unit]:
        """Save all of a unit of work or nothing of it.

        Raises: Replay or OtherBody if a form with this key was saved before, OutcomeUnknown if
        the commit itself failed.
        """
        # Rows of which some leave a column empty stay one statement.
        session = Session(self.writer, execution_options={"render_nulls": True})
        session.info.update(by=by, at=at or datetime.now(UTC))
        unit = Unit(session)
        try:
            if key:
                _claim(session, key, fingerprint)
            yield unit
            if key:
                saved = sa.update(FormKey).where(FormKey.key == key)
                session.execute(saved.values(location=unit.location))
            session.flush()
            try:
                session.commit()
            except sa.exc.IntegrityError:
                raise
            except (sa.exc.DBAPIError, OSError) as failure:
                raise OutcomeUnknown from failure
        except BaseException:
            session.rollback()
            raise
        finally:
            session.close()

    def keep_copy(self, path: Path) -> Path | None:
        """Copy a SQLite database whole, while it may be in use; None on PostgreSQL."""
        if self.is_postgres:
            return None
        source = self.reader.raw_connection()
        copy = sqlite3.connect(path)
        try:
            source.driver_connection.backup(copy)  # type: ignore[union-attr] # the driver's own
        finally:
            copy.close()
            source.close()
        return path

    def close(self) -> None:
        """Let go of every connection."""
        self.writer.dispose()
        self.reader.dispose()


def _prepare_postgres(connection: Any, _record: object) -> None:
    with connection.cursor() as cursor:
        cursor.execute("SET lock_timeout='5s'; SET statement_timeout='30s'")
        cursor.execute("SET idle_in_transaction_session_timeout='60s'")
    connection.commit()


def _claim(session: Session, key: str, fingerprint: str) -> None:
    by: int | None = session.info["by"]
    row: Mapping[str, object] = {"key": key, "fingerprint": fingerprint, "location": ""}
    if insert_or_nothing(session, FormKey, **row, user_id=by, at=session.info["at"]):
        return
    earlier = session.get_one(FormKey, key)
    if earlier.user_id != by:
        raise OtherBody("")
    if earlier.fingerprint != fingerprint:
        raise OtherBody(earlier.location)
    raise Replay(earlier.location)
