"""Databases for tests: a private copy of one migrated empty file, and the same on PostgreSQL."""

import os
import shutil
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import date
from pathlib import Path

import pytest
import sqlalchemy as sa

from backoffice import schema
from backoffice.db import Database

POSTGRES = os.environ.get("BACKOFFICE_TEST_POSTGRES_URL", "")
MUST = os.environ.get("BACKOFFICE_REQUIRE_ALL") == "1"
TODAY = date(2026, 3, 17)


def skip(reason: str) -> None:
    """Skip a test for want of a component, unless this run must have it."""
    if MUST:
        pytest.fail(f"this run must not skip: {reason}")
    pytest.skip(reason)


@pytest.fixture
def today() -> date:
    """The day every example plays on: Tuesday 17 March 2026."""
    return TODAY


@pytest.fixture(scope="session")
def ready_file(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A migrated, empty SQLite file."""
    path = tmp_path_factory.mktemp("ready") / "practice.db"
    database = Database(f"sqlite:///{path}", journal="delete")
    schema.upgrade(database)
    database.close()
    return path


def _on_server(name: str) -> Database:
    url = sa.make_url(POSTGRES).set(database=name)
    return Database(url.render_as_string(hide_password=False))


@contextmanager
def _admin() -> Iterator[sa.Connection]:
    engine = sa.create_engine(POSTGRES, isolation_level="AUTOCOMMIT")
    with engine.connect() as connection:
        yield connection
    engine.dispose()


@pytest.fixture(scope="session")
def ready_postgres(worker_id: str) -> Iterator[str]:
    """The name of a migrated, empty PostgreSQL database to copy from."""
    if not POSTGRES:
        skip("BACKOFFICE_TEST_POSTGRES_URL is not set")
    name = f"ready_{worker_id}_{os.getpid()}"
    with _admin() as admin:
        admin.exec_driver_sql(f"CREATE DATABASE {name}")
    database = _on_server(name)
    schema.upgrade(database)
    database.close()
    yield name
    with _admin() as admin:
        admin.exec_driver_sql(f"DROP DATABASE {name} WITH (FORCE)")


@contextmanager
def empty_practice(engine: str, request: pytest.FixtureRequest, folder: Path) -> Iterator[Database]:
    """Give an empty practice on an engine, and leave nothing behind."""
    if engine == "sqlite":
        path = folder / "practice.db"
        shutil.copyfile(request.getfixturevalue("ready_file"), path)
        database = Database(f"sqlite:///{path}")
        yield database
        database.close()
        return
    ready = request.getfixturevalue("ready_postgres")
    name = f"{ready}_{folder.name}".lower()[:60]
    with _admin() as admin:
        admin.exec_driver_sql(f'CREATE DATABASE "{name}" TEMPLATE {ready}')
    database = _on_server(name)
    yield database
    database.close()
    with _admin() as admin:
        admin.exec_driver_sql(f'DROP DATABASE "{name}" WITH (FORCE)')


@pytest.fixture
def database(request: pytest.FixtureRequest, tmp_path: Path) -> Iterator[Database]:
    """An empty practice on SQLite."""
    with empty_practice("sqlite", request, tmp_path) as database:
        yield database


@pytest.fixture
def postgres(request: pytest.FixtureRequest, tmp_path: Path) -> Iterator[Database]:
    """An empty practice on PostgreSQL."""
    with empty_practice("postgres", request, tmp_path) as database:
        yield database


@pytest.fixture(params=["sqlite", "postgres"])
def both(request: pytest.FixtureRequest) -> Database:
    """An empty practice, once on each engine."""
    name = "database" if request.param == "sqlite" else "postgres"
    found: Database = request.getfixturevalue(name)
    return found
