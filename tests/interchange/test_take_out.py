"""Everything taken out as plain files: every row, exactly, and nothing that could run."""

import csv
import json
import re
from collections.abc import Iterator
from datetime import date, datetime
from html.parser import HTMLParser
from pathlib import Path
from typing import Any

import pytest
import sqlalchemy as sa

from backoffice import schema
from backoffice.access import service as access
from backoffice.clients import service as clients
from backoffice.clients.rules import ClientDetails
from backoffice.db import Database, Day, Instant, Whole, YesNo
from backoffice.errors import Refused
from backoffice.files import service as files
from backoffice.files.photo import Upload
from backoffice.interchange import service
from backoffice.interchange.document import schema_page
from backoffice.interchange.document.tables import RISKY, cell
from tests.factories import small_practice
from tests.interchange.practices import make_hostile, worked

FIELD = re.compile(r'(?P<bare>)(?=[,\r])|"(?P<text>(?:[^"]|"")*)"')


def read(path: Path) -> list[dict[str, str]]:
    with path.open(newline="", encoding="utf-8") as file:
        return list(csv.DictReader(file))


def fields(path: Path) -> Iterator[list[str | None]]:
    """Read CSV as docs/taking-out.md says: nothing is not known, an apostrophe is taken away."""
    text, at, row = path.read_bytes().decode(), 0, list[str | None]()
    while at < len(text):
        found = FIELD.match(text, at)
        assert found is not None
        said = found["text"]
        if said is not None:
            said = said.replace('""', '"')
            if said.startswith("'") and said.lstrip("'").startswith(RISKY):
                said = said[1:]
        row.append(said)
        at = found.end()
        if text.startswith("\r\n", at):
            yield row
            at, row = at + 2, []
        else:
            at += 1


def typed(column: sa.Column[Any], said: str | None) -> object:
    if said is None:
        return None
    match column.type:
        case Whole():
            return int(said)
        case YesNo():
            return bool(int(said))
        case Day():
            return date.fromisoformat(said)
        case Instant():
            return datetime.fromisoformat(said)
        case _:
            return said


def as_json(value: object) -> object:
    return value.isoformat() if isinstance(value, date | datetime) else value


def same_in_all_three(database: Database, folder: Path) -> int:
    """Compare every row of the database with those of both kinds of file; give how many."""
    compared = 0
    with database.reading() as session:
        for table in schema_page.taken_tables():
            columns = schema_page.taken(table)
            rows = [
                tuple(row)
                for row in session.execute(sa.select(*columns).order_by(*table.primary_key.columns))
            ]
            head, *found = fields(folder / f"{table.name}.csv")
            assert head == [column.name for column in columns]
            in_csv = [tuple(map(typed, columns, row)) for row in found]
            assert in_csv == rows, table.name
            lines = (folder / f"{table.name}.jsonl").read_bytes().decode().split("\n")[:-1]
            in_json = [json.loads(line) for line in lines]
            assert in_json == [dict(zip(head, map(as_json, row), strict=True)) for row in rows], (
                table.name
            )
            compared += len(rows)
    return compared


def test_every_table_comes_out_with_its_rows(both: Database, tmp_path: Path) -> None:
    with both.writing() as unit:
        small_practice(unit.session)
        owner = access.first_owner(unit.session, "Idris")
        access.set_password(unit.session, owner, "a long enough secret")
    folder = tmp_path / "out"
    with both.reading() as session:
        service.take_out(session, folder)

    names = {path.name for path in folder.iterdir()}
    taken = {t.name for t in schema.TABLES.values() if schema.kind_of(t) != "plumbing"}
    assert names == {
        *(f"{name}.csv" for name in taken),
        *(f"{name}.jsonl" for name in taken),
        "schema.csv",
        "schema.html",
        "practice.xlsx",
    }
    assert [row["name"] for row in read(folder / "yard.csv")] == ["Larkmoss"]
    assert read(folder / "lot.csv")[0]["cost"] == "11000"
    assert "password_hash" not in read(folder / "app_user.csv")[0]
    assert "a long enough secret" not in (folder / "app_user.jsonl").read_text(encoding="utf-8")
    assert {row["kind"] for row in read(folder / "schema.csv")} == {
        "ledger",
        "record",
        "cache",
        "emptiable",
    }


def test_both_kinds_of_file_hold_what_the_books_hold(both: Database, tmp_path: Path) -> None:
    worked(both)
    with both.reading() as session:
        service.take_out(session, tmp_path / "out")

    assert same_in_all_three(both, tmp_path / "out") > 100


def test_no_text_ever_becomes_a_formula_and_each_comes_back_as_it_was(
    database: Database, tmp_path: Path
) -> None:
    worked(database)
    assert make_hostile(database) > 100
    with database.reading() as session:
        service.take_out(session, tmp_path / "out")

    same_in_all_three(database, tmp_path / "out")
    quoted = 0
    for path in (tmp_path / "out").glob("*.csv"):
        with path.open(newline="", encoding="utf-8") as file:
            texts = [text for row in csv.reader(file) for text in row]
        for text in texts:
            quoted += text.startswith("'")
            assert not text.startswith(RISKY) or re.fullmatch(r"-\d+", text), (path.name, text)
    assert quoted > 50


def test_text_that_begins_like_a_formula_gets_an_apostrophe(
    database: Database, tmp_path: Path
) -> None:
    hostile = ["=1+1", "+1", "-1", "@SUM(A1)", "＝1+1"]  # noqa: RUF001 (full-width forms)
    with database.writing() as unit:
        for name in hostile:
            clients.save_client(unit.session, ClientDetails(name=name))
    with database.reading() as session:
        service.take_out(session, tmp_path / "out")

    names = [row["name"] for row in read(tmp_path / "out" / "client.csv")]
    assert names == [f"'{name}" for name in hostile]
    assert cell(-5) == "-5"


def test_the_same_practice_makes_the_same_bytes(both: Database, tmp_path: Path) -> None:
    worked(both)
    for name in ("one", "two"):
        with both.reading() as session:
            service.take_out(session, tmp_path / name)

    one, two = (
        {path.name: path.read_bytes() for path in (tmp_path / name).iterdir()}
        for name in ("one", "two")
    )
    assert [name for name in one if one[name] != two[name]] == []


class _Page(HTMLParser):
    def __init__(self) -> None:
        super().__init__()
        self.at: list[str] = []
        self.links: list[str] = []
        self.text = ""

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        for name, value in attrs:
            if name == "id":
                self.at.append(str(value))
            elif name == "href":
                self.links.append(str(value))

    def handle_data(self, data: str) -> None:
        self.text += data


def test_the_page_beside_the_files_tells_of_every_table_and_column(
    database: Database, tmp_path: Path
) -> None:
    worked(database, words="uk")
    with database.reading() as session:
        service.take_out(session, tmp_path / "out")
    page = _Page()
    page.feed((tmp_path / "out" / "schema.html").read_text(encoding="utf-8"))

    assert page.at == [table.name for table in schema_page.taken_tables()]
    assert {link.removeprefix("#") for link in page.links} == set(page.at)
    assert "GBP, of which 100 are 1.00" in page.text
    assert "1,250 is 12.50" in page.text
    assert "Singles of an item that arrived together, and what all of them cost." in page.text
    assert "horse 3 rows" in page.text
    assert "Referred to by " in page.text
    assert "``" not in page.text
    described = {
        (row["table"], row["column"]): row for row in read(tmp_path / "out" / "schema.csv")
    }
    assert described["payment", "tip"]["unit"] == "GBP, of which 100 are 1.00"
    assert described["horse", "yard_id"]["refers_to"] == "yard.id"
    for table in schema_page.taken_tables():
        for column in schema_page.taken(table):
            assert column.name in page.text
            assert (table.name, column.name) in described


def test_every_quantity_says_in_what_it_is_counted() -> None:
    for table in schema_page.taken_tables():
        for column in schema_page.describe(table, "USD"):
            quantity = column.type == "whole number"
            assert bool(column.unit) == quantity, f"{table.name}.{column.name}"


@pytest.mark.parametrize(
    ("currency", "unit"),
    [
        ("JPY", "JPY"),
        ("KWD", "KWD, of which 1,000 are 1.00"),
        ("USD", "USD, of which 100 are 1.00"),
    ],
)
def test_the_smallest_unit_is_that_of_the_currency(currency: str, unit: str) -> None:
    assert schema_page.unit_of(schema.TABLES["payment"].columns["amount"], currency) == unit


def test_receipts_and_photos_come_along_and_what_is_gone_is_named(
    database: Database, tmp_path: Path
) -> None:
    home = tmp_path / "home"
    with database.writing() as unit:
        for number, name in ((b"1", "rasps.pdf"), (b"2", "gone.pdf")):
            upload = Upload(content=b"%PDF-1.4 " + number, media_type="application/pdf")
            files.keep(unit.session, home, upload, name)
    with database.reading() as session:
        digests = session.execute(sa.text("SELECT sha256 FROM file ORDER BY id")).scalars().all()
        (home / "attachments" / digests[1][:2] / digests[1]).unlink()
        gone = service.take_out(session, tmp_path / "out", data_folder=home)

    assert gone == ("gone.pdf",)
    kept = {path.name: path.read_bytes() for path in (tmp_path / "out" / "files").iterdir()}
    assert kept == {"1.pdf": b"%PDF-1.4 1"}


def test_it_is_told_what_is_being_written(database: Database, tmp_path: Path) -> None:
    told: list[tuple[str, int]] = []
    with database.writing() as unit:
        for number in range(1_001):
            clients.save_client(unit.session, ClientDetails(name=f"Client {number}"))
    with database.reading() as session:
        service.take_out(session, tmp_path / "out", lambda what, rows: told.append((what, rows)))

    assert ("client", 1_000) in told
    assert ("Clients", 1_000) in told
    assert told[-1] == ("practice.xlsx", 0)


def test_a_folder_with_something_in_it_is_left_alone(database: Database, tmp_path: Path) -> None:
    (tmp_path / "mine.txt").write_text("keep me", encoding="utf-8")

    with pytest.raises(Refused), database.reading() as session:
        service.take_out(session, tmp_path)

    assert [path.name for path in tmp_path.iterdir() if path.suffix != ".db"] == ["mine.txt"]
