"""A workbook brought in at the terminal: what it says, asks and refuses, and how it ends."""

import os
from collections.abc import Callable
from datetime import date
from pathlib import Path

import pytest
import sqlalchemy as sa
from click.testing import CliRunner, Result

from backoffice import schema
from backoffice.billing import queries as bills
from backoffice.cli import main
from backoffice.clients import queries as clients
from backoffice.db import Database
from backoffice.practice import service as practice
from backoffice.practice.rules import PracticeDetails
from backoffice.visits import queries as visits
from tests.conftest import skip
from tests.factories import small_practice

TODAY = date(2026, 11, 26)
SAMPLE = Path(__file__).parents[3] / "shared" / "samples" / "practice-one.xlsx"
CLIENTS = """Name,Phone,Barn
Orla Fenwright,555 0100,Kestrel Edge
"Umberfold, Rufus",555 0101,Kestrel Edge
"""
JOBS = """Date,Horse,Owner,Did,Charged,Paid
03/04/2026,Onyx,Orla Fenwright,trim,58,58
"""
Run = Callable[..., Result]


@pytest.fixture
def run(both: Database, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Run:
    """Run a command on a small practice whose today is fixed, on each engine."""
    with both.writing() as unit:
        small_practice(unit.session)
        details = PracticeDetails(name="Marlpit Forge", demo_today=TODAY, version=1)
        practice.save_practice(unit.session, details)
    url = both.url.render_as_string(hide_password=False) if both.is_postgres else ""
    monkeypatch.setenv("BACKOFFICE_DATABASE_URL", url)
    monkeypatch.setenv("BACKOFFICE_DATA", str(tmp_path))

    def on_this_practice(*words: str) -> Result:
        return CliRunner().invoke(main, ["bring-in", *map(str, words)])

    return on_this_practice


def rows(database: Database) -> dict[str, int]:
    with database.reading() as session:
        return {
            name: session.scalar(sa.select(sa.func.count()).select_from(table)) or 0
            for name, table in schema.TABLES.items()
        }


def written(folder: Path, name: str, text: str) -> str:
    (folder / name).write_text(text, encoding="utf-8")
    return str(folder / name)


def test_a_list_is_brought_in_once_and_a_dry_run_saves_nothing(
    run: Run, both: Database, tmp_path: Path
) -> None:
    file = written(tmp_path, "clients.csv", CLIENTS)
    before = rows(both)

    dry = run(file, "--dry-run")
    assert (dry.exit_code, rows(both)) == (0, before)
    assert "2 clients, 1 barn" in dry.output
    assert "“Umberfold, Rufus”" in dry.output
    assert "Nothing was saved" in dry.output

    saved = run(file)
    assert saved.exit_code == 0
    assert "2 clients, 1 barn" in saved.output
    after = rows(both)
    assert (after["client"] - before["client"], after["yard"] - before["yard"]) == (2, 1)

    again = run(file)
    assert (again.exit_code, rows(both)) == (0, after)
    assert "Nothing new" in again.output
    assert schema.check(both) == []


def test_what_only_the_farrier_knows_is_asked_first_and_names_its_option(
    run: Run, both: Database, tmp_path: Path
) -> None:
    file = written(tmp_path, "jobs.csv", JOBS)
    before = rows(both)

    asked = run(file)
    assert (asked.exit_code, asked.stdout, rows(both)) == (2, "", before)
    assert "--date-order mdy or --date-order dmy" in asked.stderr

    assert run(file, "--date-order", "dmy").exit_code == 0
    with both.reading() as session:
        (onyx,) = clients.horse_list(session, TODAY, search="onyx").rows
        assert visits.horse_past(session, onyx.id).last_day == date(2026, 4, 3)


def test_without_a_file_for_them_the_questions_say_how_to_get_one(run: Run, tmp_path: Path) -> None:
    asked = run(written(tmp_path, "jobs.csv", JOBS), "--dry-run")

    assert asked.exit_code == 2
    assert "questions are in" not in asked.output
    assert "--date-order" in asked.output


def test_the_questions_are_written_into_a_file_and_answered_there(
    run: Run, both: Database, tmp_path: Path
) -> None:
    file, answers = written(tmp_path, "jobs.csv", JOBS), tmp_path / "answers.toml"

    missing = run(file, "--answers", str(answers))
    assert missing.exit_code == 2
    assert len(missing.stderr.strip().splitlines()) == 1
    assert not answers.exists()

    asked = run(file, "--dry-run", "--answers", str(answers))
    assert asked.exit_code == 2
    assert str(answers) in "".join(asked.stderr.split("\n"))
    text = answers.read_text(encoding="utf-8")
    assert '"date-order" = ""' in text

    answers.write_text(text.replace('""', '"mdy"'), encoding="utf-8")
    assert run(file, "--answers", str(answers)).exit_code == 0
    with both.reading() as session:
        (onyx,) = clients.horse_list(session, TODAY, search="onyx").rows
        assert visits.horse_past(session, onyx.id).last_day == date(2026, 3, 4)


def test_what_is_no_workbook_and_no_file_of_answers_is_refused_in_a_sentence(
    run: Run, both: Database, tmp_path: Path
) -> None:
    before = rows(both)
    broken = written(tmp_path, "broken.xlsx", "PK\x03\x04 no zip at all")
    fine = written(tmp_path, "clients.csv", CLIENTS)
    bad = written(tmp_path, "bad.toml", '"shoes" = pairs')
    elsewhere = str(tmp_path / "not there" / "a.toml")
    for words in (
        (broken,),
        (str(tmp_path / "nothing.xlsx"),),
        (fine, "--answers", bad),
        (fine, "--answers", elsewhere),
        (written(tmp_path, "jobs.csv", JOBS), "--dry-run", "--answers", elsewhere),
    ):
        refused = run(*words)
        assert refused.exit_code == 2, words
        assert len(refused.stderr.strip().splitlines()) == 1, refused.stderr
        assert "Traceback" not in refused.output
    assert rows(both) == before


@pytest.mark.skipif(os.name != "posix", reason="colours are another matter there")
def test_the_sample_practice_is_brought_in_whole_and_twice_is_once(
    run: Run, both: Database, tmp_path: Path
) -> None:
    if not SAMPLE.exists():
        skip(f"the sample workbook is not there: {SAMPLE}")
    answers = written(tmp_path, "answers.toml", '"shoes" = "pairs"\n"unpaid" = "owed"\n')

    asked = run(str(SAMPLE))
    assert asked.exit_code == 2
    assert "--shoes pairs or --shoes singles" in " ".join(asked.stderr.split())

    taken = run(str(SAMPLE), "--answers", answers)
    assert taken.exit_code == 0, taken.output
    for words in ("38 clients", "86 horses", "258 past jobs", "60 lines of money out"):
        assert words in taken.output
    assert "“PETRA RUSHMERE”" in taken.output
    after = rows(both)
    with both.reading() as session:
        due = visits.due_list(session, date(2027, 3, 1))
        owed = bills.open_bills(session)
        assert len(due) >= 80
        # The jobs charged and not paid, added up in the sheet by hand.
        assert (len(owed), sum(bill.open for bill in owed)) == (39, 559_100)
    assert schema.check(both) == []

    again = run(str(SAMPLE), "--answers", answers)
    assert "Nothing new" in again.output
    assert rows(both) == after
