"""The day sheet written from the command line."""

from collections.abc import Callable
from datetime import date
from pathlib import Path

import pytest
from click.testing import CliRunner, Result

from backoffice.cli import main
from backoffice.db import Database
from tests.factories import plan, small_practice

DAY = date(2026, 3, 17)
Run = Callable[..., Result]


@pytest.fixture
def run(tmp_path: Path, database: Database, monkeypatch: pytest.MonkeyPatch) -> Run:
    """Run a command beside a practice with one horse on its day."""
    with database.writing() as unit:
        small = small_practice(unit.session)
        plan(unit.session, small, DAY, small.bay, service=small.trim)
    monkeypatch.delenv("BACKOFFICE_DATABASE_URL", raising=False)
    monkeypatch.setenv("BACKOFFICE_DATA", str(tmp_path))
    monkeypatch.chdir(tmp_path)
    return lambda *words: CliRunner().invoke(main, ["day-sheet", *words])


def test_the_sheet_is_written_where_it_is_wanted(run: Run, tmp_path: Path) -> None:
    done = run("2026-03-17", "--to", "tuesday.pdf", "--farrier", "idris thorn")

    assert (done.exit_code, done.output) == (0, "The day sheet is in tuesday.pdf.\n")
    assert (tmp_path / "tuesday.pdf").read_bytes().startswith(b"%PDF-")


def test_without_a_name_it_is_called_by_its_day(run: Run, tmp_path: Path) -> None:
    assert run("2026-03-17").exit_code == 0
    assert (tmp_path / "day-sheet-2026-03-17.pdf").exists()


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (["2026-03-18"], "Nothing is planned on Wed, Mar 18, 2026."),
        (["2026-03-17", "--farrier", "Nobody"], "There is no farrier called “Nobody”."),
        (["2026-03-17", "--to", "no/such/folder.pdf"], "no/such/folder.pdf"),
        (["2026-03-17", "--to", "."], "cannot be written"),
        (["tuesday"], "tuesday"),
    ],
)
def test_what_cannot_be_written_is_said_in_one_sentence(
    run: Run, words: list[str], said: str, tmp_path: Path
) -> None:
    done = run(*words)

    assert done.exit_code == 2
    assert isinstance(done.exception, SystemExit)
    assert len(done.stderr.strip().splitlines()) == 1
    assert said in done.stderr
    assert list(tmp_path.glob("*.pdf")) == []
