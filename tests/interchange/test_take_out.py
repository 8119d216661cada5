"""Everything taken out as plain files."""

import csv
from pathlib import Path

import pytest

from backoffice import schema
from backoffice.access import service as access
from backoffice.clients import service as clients
from backoffice.clients.rules import ClientDetails
from backoffice.db import Database
from backoffice.errors import Refused
from backoffice.interchange import service
from backoffice.interchange.tables import cell
from tests.factories import small_practice


def read(path: Path) -> list[dict[str, str]]:
    with path.open(newline="", encoding="utf-8") as file:
        return list(csv.DictReader(file))


def test_every_table_comes_out_with_its_rows(both: Database, tmp_path: Path) -> None:
    with both.writing() as unit:
        small_practice(unit.session)
        owner = access.first_owner(unit.session, "Idris")
        access.set_password(unit.session, owner, "a long enough secret")
    folder = tmp_path / "out"
    with both.reading() as session:
        service.take_out(session, folder)

    names = {path.stem for path in folder.iterdir()}
    plumbing = {t.name for t in schema.TABLES.values() if schema.kind_of(t) == "plumbing"}
    assert names == ({*schema.TABLES} - plumbing) | {"schema"}
    assert [row["name"] for row in read(folder / "yard.csv")] == ["Larkmoss"]
    assert read(folder / "lot.csv")[0]["cost"] == "11000"
    assert "password_hash" not in read(folder / "app_user.csv")[0]
    assert {row["kind"] for row in read(folder / "schema.csv")} == {
        "ledger",
        "record",
        "cache",
        "emptiable",
    }


def test_text_that_begins_like_a_formula_stays_text(database: Database, tmp_path: Path) -> None:
    hostile = ["=1+1", "+1", "-1", "@SUM(A1)", "＝1+1"]  # noqa: RUF001 (full-width forms)
    with database.writing() as unit:
        for name in hostile:
            clients.save_client(unit.session, ClientDetails(name=name))
    with database.reading() as session:
        service.take_out(session, tmp_path / "out")

    names = [row["name"] for row in read(tmp_path / "out" / "client.csv")]
    assert names == [f"'{name}" for name in hostile]
    assert cell(-5) == "-5"


def test_a_folder_with_something_in_it_is_left_alone(database: Database, tmp_path: Path) -> None:
    (tmp_path / "mine.txt").write_text("keep me", encoding="utf-8")

    with pytest.raises(Refused), database.reading() as session:
        service.take_out(session, tmp_path)

    assert [path.name for path in tmp_path.iterdir() if path.suffix != ".db"] == ["mine.txt"]
