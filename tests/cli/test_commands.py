"""Each command: what it says, what it refuses in one sentence, and how it ends."""

import os
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from datetime import date
from pathlib import Path
from threading import Barrier, Thread

import pytest
from click.testing import CliRunner, Result

from backoffice import __version__, cli, demo, schema
from backoffice.access import queries as access_queries
from backoffice.access import service as access
from backoffice.cli import main
from backoffice.db import Database
from backoffice.practice import queries as practice
from backoffice.visits import service as visits
from backoffice.visits.rules import FactSort
from tests.factories import plan, said, small_practice

DAY = date(2026, 3, 17)
Run = Callable[..., Result]


@pytest.fixture
def run(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Run:
    """Run a command on the practice of this test, as a person at a shell would."""
    monkeypatch.delenv("BACKOFFICE_DATABASE_URL", raising=False)
    monkeypatch.setenv("BACKOFFICE_DATA", str(tmp_path))

    def on_this_practice(*words: str, typed: str = "") -> Result:
        return CliRunner().invoke(main, words, input=typed)

    return on_this_practice


def ends_with_one_sentence(result: Result, *parts: str) -> None:
    assert result.exit_code == 2
    assert isinstance(result.exception, SystemExit)
    assert "Traceback" not in result.output
    assert len(result.stderr.strip().splitlines()) == 1
    for part in parts:
        assert part in result.stderr


@pytest.mark.parametrize("name", [None, *main.commands])
def test_each_command_shows_an_example_of_itself(run: Run, name: str | None) -> None:
    shown = run(name, "--help") if name else run("--help")

    assert shown.exit_code == 0
    assert f"Example: backoffice {name or ''}".strip() in shown.output


def test_the_version_is_said(run: Run) -> None:
    assert __version__ in run("--version").output


def test_good_books_hold_and_every_part_is_named_as_it_is_proved(
    run: Run, database: Database
) -> None:
    with database.writing() as unit:
        small_practice(unit.session)

    proved = run("check")

    assert proved.exit_code == 0
    assert proved.output.splitlines()[-1] == "Everything holds."
    assert [f"  {name} …" for name in schema.CHECKS] == proved.output.splitlines()[:-1]


def test_a_figure_changed_behind_our_back_is_named_and_the_status_says_so(
    run: Run, database: Database
) -> None:
    with database.writing() as unit:
        small = small_practice(unit.session)
    with database.writer.begin() as connection:
        connection.exec_driver_sql(f"UPDATE on_hand SET qty = 7 WHERE item_id = {small.shoe}")

    proved = run("check")

    assert proved.exit_code == 1
    assert "Everything holds." not in proved.output
    assert len(proved.output.splitlines()) > len(schema.CHECKS)
    assert "Traceback" not in proved.output


@pytest.mark.parametrize(
    "command",
    ["check", "close-day 2026-03-17", "take-out out", "upgrade", "password Idris",
     "day-sheet 2026-03-17"],
)  # fmt: skip
@pytest.mark.parametrize("there", [False, True], ids=["no folder", "a folder"])
def test_a_folder_without_a_practice_is_said_and_left_as_it_is(
    run: Run, tmp_path: Path, command: str, there: bool  # noqa: FBT001 (a parameter of the test)
) -> None:  # fmt: skip
    wrong = tmp_path / "wrong"
    if there:
        wrong.mkdir()

    ends_with_one_sentence(
        run(*command.split(), "--data", str(wrong)), f"There is no practice in {wrong}"
    )

    assert wrong.exists() is there
    assert not there or list(wrong.iterdir()) == []


def test_an_empty_file_holds_no_practice(run: Run, tmp_path: Path) -> None:
    (tmp_path / "practice.db").touch()

    ends_with_one_sentence(run("check"), "There is no practice in")


def test_books_at_the_newest_version_are_left_as_they_are(run: Run, database: Database) -> None:
    assert "newest version" in run("upgrade").output
    assert run("check").output.splitlines()[-1] == "Everything holds."


def test_a_practice_just_begun_has_what_every_practice_has(
    run: Run, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def taken(*app: object, **how: object) -> None:
        raise OSError(98, "Address already in use")

    monkeypatch.setattr("waitress.server.create_server", taken)
    for _ in range(2):
        run("serve", "--no-browser")

    books = Database(f"sqlite:///{tmp_path / 'practice.db'}")
    with books.reading() as session:
        assert len(practice.farrier_choices(session)) == 1
    books.close()
    assert run("check").output.splitlines()[-1] == "Everything holds."


def test_a_damaged_file_is_said_in_a_sentence(run: Run, tmp_path: Path) -> None:
    (tmp_path / "practice.db").write_bytes(b"not a database, not at all " * 500)

    for command in ("check", "upgrade", "serve --no-browser"):
        ends_with_one_sentence(run(*command.split()), "damaged", "last copy")


def test_a_folder_that_cannot_be_one_is_said_in_a_sentence(run: Run, tmp_path: Path) -> None:
    in_the_way = tmp_path / "in the way"
    in_the_way.touch()

    ends_with_one_sentence(run("check", "--data", str(in_the_way)), "in the way")
    ends_with_one_sentence(run("check", "--data", str(in_the_way / "x")), "in the way")


def test_books_of_a_newer_program_are_refused(run: Run, database: Database) -> None:
    with database.writer.begin() as connection:
        connection.exec_driver_sql("UPDATE alembic_version SET version_num = '9999'")

    ends_with_one_sentence(run("check"), "newer version")


def test_everything_is_taken_out_into_a_new_folder_and_never_over_another(
    run: Run, database: Database, tmp_path: Path
) -> None:
    with database.writing() as unit:
        small_practice(unit.session)
    out = tmp_path / "my books"

    taken = run("take-out", str(out))

    assert taken.exit_code == 0
    assert "Marlpit Forge" in (out / "practice.csv").read_text(encoding="utf-8")
    before = {path.name: path.read_bytes() for path in out.iterdir()}
    ends_with_one_sentence(run("take-out", str(out)), "is not empty")
    assert {path.name: path.read_bytes() for path in out.iterdir()} == before


def test_a_day_is_closed_once(run: Run, database: Database) -> None:
    with database.writing() as unit:
        small = small_practice(unit.session)
        visit = plan(unit.session, small, DAY, small.bay, small.shared, service=small.trim)
        facts = [said(horse, FactSort.AS_PLANNED) for horse in (small.bay, small.shared)]
        visits.say(unit.session, visit, facts)

    closed = run("close-day", DAY.isoformat())

    assert (closed.exit_code, closed.output) == (0, "2 horses written up.\n")
    ends_with_one_sentence(run("close-day", DAY.isoformat()))
    assert run("check").exit_code == 0


@pytest.mark.parametrize(
    ("day", "sentence"),
    [
        ("yesterday", "“yesterday” is not a date."),
        ("2026-02-30", "is not a date"),
        ("17/03/2026", "is not a date"),
        ("1026-03-17", "The year 1026 is far off."),
        ("2099-03-17", ""),
        ("", "is not a date"),
        ("=1+1", "“=1+1” is not a date."),
    ],
)
def test_a_day_that_cannot_be_closed_is_refused(
    run: Run, database: Database, day: str, sentence: str
) -> None:
    ends_with_one_sentence(run("close-day", "--", day), sentence)


def test_a_password_is_set_for_somebody_there(run: Run, database: Database) -> None:
    with database.writing() as unit:
        access.first_owner(unit.session, "Idris Thorn")
    secret = "gate moss anvil thirteen"

    done = run("password", "Idris Thorn", typed=f"{secret}\n{secret}\n")

    assert done.exit_code == 0
    assert secret not in done.output
    with database.reading() as session:
        assert [user.has_password for user in access_queries.users(session)] == [True]


def test_a_password_for_nobody_and_one_too_short_are_refused(run: Run, database: Database) -> None:
    with database.writing() as unit:
        access.first_owner(unit.session, "Idris Thorn")
    secret = "gate moss anvil thirteen"

    missing = run("password", "Nobody", typed=f"{secret}\n{secret}\n")
    short = run("password", "Idris Thorn", typed="abc\nabc\n")

    assert (missing.exit_code, short.exit_code) == (2, 2)
    assert "Nobody called Nobody may sign in." in missing.stderr
    assert "characters" in short.stderr
    assert "Traceback" not in missing.output + short.output


@pytest.fixture
def built(monkeypatch: pytest.MonkeyPatch) -> list[Path]:
    """Where a demo was built, each time it was; the file itself is empty."""
    made: list[Path] = []

    def build(path: Path, progress: Callable[[str], None], size: demo.Size) -> None:
        progress("2026-03-16")
        path.touch()
        made.append(path)

    monkeypatch.setattr(demo, "build", build)
    return made


def test_the_demo_is_built_once_unless_asked_for_anew(
    run: Run, built: list[Path], tmp_path: Path
) -> None:
    home = tmp_path / "play"
    first = run("demo", "--folder", str(home), "--build-only")
    again = run("demo", "--folder", str(home), "--build-only")

    assert (first.exit_code, again.exit_code) == (0, 0)
    assert "Building the demo practice" in first.output
    assert again.output == ""
    assert built == [home / "practice.db"]
    run("demo", "--folder", str(home), "--build-only", "--anew")
    assert len(built) == 2


def test_the_demo_is_as_large_as_asked_for(
    run: Run, monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    asked: list[demo.Size] = []
    monkeypatch.setattr(demo, "build", lambda path, progress, size: asked.append(size))
    home = ("demo", "--build-only", "--folder", str(tmp_path / "play"))
    run(*home)
    run(*home, "--years", "1", "--horses", "340", "--trucks", "3", "--seed", "7")

    assert asked[0] == demo.Size(years=3)
    assert asked[1] == demo.Size(years=1, horses=340, trucks=3, seed=7)


def test_the_demo_has_a_folder_of_its_own_beside_the_books(
    run: Run, built: list[Path], tmp_path: Path
) -> None:
    run("demo", "--build-only")

    assert built == [tmp_path / "demo" / "practice.db"]
    if os.name == "posix":
        assert (tmp_path / "demo").stat().st_mode & 0o777 == 0o700


@contextmanager
def serving(folder: Path, port: int) -> Iterator[None]:
    """Hold a folder as a server does, from another thread."""
    held, done = Barrier(2), Barrier(2)

    def hold() -> None:
        with cli._alone(folder, port):
            held.wait()
            done.wait()

    thread = Thread(target=hold)
    thread.start()
    held.wait()
    try:
        yield
    finally:
        done.wait()
        thread.join()


def test_a_second_server_on_the_same_books_is_told_where_the_first_one_is(
    run: Run, database: Database, tmp_path: Path
) -> None:
    with serving(tmp_path, 8391):
        ends_with_one_sentence(
            run("serve", "--port", "8392", "--no-browser"), "http://127.0.0.1:8391/"
        )


def test_books_may_be_opened_again_once_the_first_server_is_gone(tmp_path: Path) -> None:
    for port in (8391, 8392):
        with cli._alone(tmp_path, port):
            assert f":{port}/" in (tmp_path / "serving.lock").read_text(encoding="utf-8")


def test_a_port_taken_by_another_program_is_said(
    run: Run, database: Database, monkeypatch: pytest.MonkeyPatch
) -> None:
    def taken(*app: object, **how: object) -> None:
        raise OSError(98, "Address already in use")

    monkeypatch.setattr("waitress.server.create_server", taken)

    ends_with_one_sentence(run("serve", "--port", "8393", "--no-browser"), "Port 8393 is taken")
