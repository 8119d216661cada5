"""What taking everything out says in the terminal."""

from importlib import import_module
from pathlib import Path

import pytest
from click.testing import CliRunner

from backoffice import cli
from backoffice.clients import service as clients
from backoffice.clients.rules import ClientDetails
from backoffice.db import Database
from backoffice.files import service as files
from backoffice.files.photo import Upload


def run(folder: Path, *words: str) -> list[str]:
    result = CliRunner().invoke(cli.main, [*words, "--data", str(folder)])
    assert result.exit_code == 0
    return result.output.splitlines()


@pytest.fixture(autouse=True)
def elsewhere(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.delenv("BACKOFFICE_DATABASE_URL", raising=False)


def test_what_takes_long_says_each_second_where_it_is(
    database: Database, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    with database.writing() as unit:
        for number in range(1_000):
            clients.save_client(unit.session, ClientDetails(name=f"Client {number}"))
    seconds = iter(range(1_000))
    monkeypatch.setattr(import_module("backoffice.cli.opened"), "monotonic", lambda: next(seconds))

    said = run(tmp_path, "take-out", str(tmp_path / "out"))

    assert "  client …" in said
    assert "  client, 1,000 …" in said
    assert "  practice.xlsx …" in said


def test_what_is_quick_says_only_where_it_is_now(
    database: Database, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(import_module("backoffice.cli.opened"), "monotonic", lambda: 0)

    assert run(tmp_path, "take-out", str(tmp_path / "out")) == [
        f"Everything is in {tmp_path / 'out'}."
    ]


def test_a_receipt_that_is_gone_is_named(database: Database, tmp_path: Path) -> None:
    with database.writing() as unit:
        upload = Upload(content=b"%PDF-1.4", media_type="application/pdf")
        files.keep(unit.session, tmp_path / "other", upload, "rasps.pdf")

    said = run(tmp_path, "take-out", str(tmp_path / "out"))

    assert "rasps.pdf is no longer in the data folder. Look for it in your backup." in said
