"""Do the commands in the documents exist, and are they the ones that a change is tried with?"""

import re
import shlex
import shutil
import subprocess
import sys
import tomllib
from collections.abc import Iterator
from pathlib import Path

import click
import pytest

from backoffice.cli import main
from tests.docs.markdown import DOCS, ROOT, blocks, documents, headings, read, section

README = read(ROOT / "README.md")
DEVELOPERS = read(ROOT / "DEVELOPERS.md")
CLI = read(DOCS / "cli.md")


def unnamed(text: str) -> list[str]:
    """Give the commands and options that the page of the command line does not name."""
    lacking = []
    for name, command in main.commands.items():
        under = section(text, name) or ""
        options = [option for parameter in command.params for option in parameter.opts]
        lacking += [
            f"{name} {option}"
            for option in options
            if option.startswith("--") and option not in under
        ]
        example = (command.help or "").rpartition("Example: ")[2].strip()
        if not example or example not in under:
            lacking.append(f"{name}: its example")
    return lacking


def test_every_command_and_option_is_on_the_page_of_the_command_line() -> None:
    assert sorted(headings(CLI, 2)) == sorted(main.commands)
    assert unnamed(CLI) == []


def test_a_command_or_option_left_out_is_seen() -> None:
    assert unnamed(CLI.replace("## check", "## prove")) == ["check --data", "check: its example"]
    assert unnamed(CLI.replace("--anew", "--again")) == ["demo --anew"]


def commands(text: str) -> Iterator[list[str]]:
    """Give each backoffice command of a text's shell blocks, and each in its prose, as words."""
    shown = [line for block in blocks(text, "sh") for line in block.splitlines()]
    shown += re.findall(r"`(\.venv/bin/backoffice [^`\[]+|backoffice [^`\[]+)`", text)
    for line in shown:
        for part in line.split("&&"):
            words = shlex.split(part, comments=True)
            if words and words[0] in ("backoffice", ".venv/bin/backoffice"):
                yield words[1:]


def wrong(text: str) -> list[str]:
    """Give the commands of a text that the program would not take."""
    refused = []
    for name, *given in commands(text):
        try:
            main.commands[name].make_context(name, given)
        except (KeyError, click.UsageError):
            refused.append(name)
    return refused


@pytest.mark.parametrize("path", documents(), ids=lambda path: path.name)
def test_the_program_takes_every_command_shown(path: Path) -> None:
    text = read(path).replace("`backoffice COMMAND --help`", "")

    assert wrong(text) == []


def test_a_command_it_does_not_take_is_seen() -> None:
    text = "```sh\nbackoffice demo --prot 1\n```\n`backoffice prove` and `backoffice check`"

    assert wrong(text) == ["demo", "prove"]
    assert len(list(commands(README))) > 2


def test_the_readme_shows_the_one_test_command_that_a_change_is_tried_with() -> None:
    (pattern,) = re.findall(r"grep -xE '([^']+)' README\.md", read(ROOT / ".ci" / "run"))
    found = [line for line in README.splitlines() if re.fullmatch(pattern, line)]

    assert len(found) == 1
    assert f"{found[0]}\n" in blocks(README, "sh")


def on_windows(line: str) -> str:
    """Write a line for a POSIX shell as PowerShell takes it."""
    line = line.replace("python3 ", "py ").replace(" && ", "; ")
    return re.sub(r"\.venv/bin/", r".venv\\Scripts\\", line)


def test_each_command_of_the_readme_has_its_windows_form() -> None:
    posix = [on_windows(block) for block in blocks(README, "sh")]

    assert [b.replace(" ;", ";") for b in blocks(README, "powershell")] == posix
    assert len(posix) == 2


def test_the_options_the_readme_gives_the_demo_are_its_own() -> None:
    (shown,) = re.findall(r"`demo` takes `([^`]+)`", README)
    own = {option for parameter in main.commands["demo"].params for option in parameter.opts}

    assert set(re.findall(r"--[\w-]+", shown)) <= own


@pytest.mark.skipif(shutil.which("bash") is None, reason="no bash here")
@pytest.mark.parametrize("path", documents(), ids=lambda path: path.name)
def test_every_shell_block_parses(path: Path) -> None:
    for block in blocks(read(path), "sh"):
        run = subprocess.run(
            ["bash", "-n"], input=block, capture_output=True, text=True, check=False
        )

        assert run.returncode == 0, run.stderr


def test_the_recipe_for_a_migration_writes_one(tmp_path: Path) -> None:
    (recipe,) = re.findall(
        r"^\.venv/bin/python - (.+) <<'EOF'\n(.*?)^EOF$", DEVELOPERS, re.MULTILINE | re.DOTALL
    )
    number, words = shlex.split(recipe[0])
    shutil.copytree(ROOT / "backoffice", tmp_path / "backoffice")
    with (tmp_path / "backoffice/suppliers/models.py").open("a", encoding="utf-8") as model:
        model.write("    account_there: Mapped[str | None]\n")
    newest = len(list((tmp_path / "backoffice/migrations/versions").glob("0*.py")))
    run = subprocess.run(
        [sys.executable, "-W", "ignore", "-", f"{newest + 1:04d}", words],
        input=recipe[1],
        cwd=tmp_path,
        capture_output=True,
        text=True,
        encoding="utf-8",
        check=False,
    )

    assert run.returncode == 0, run.stderr
    (written,) = (tmp_path / "backoffice/migrations/versions").glob(f"{newest + 1:04d}_*.py")
    assert "op.add_column('supplier', sa.Column('account_there'" in read(written)
    assert number.isdigit()


def test_every_dependency_is_named_with_its_reason() -> None:
    project = tomllib.loads(read(ROOT / "pyproject.toml"))["project"]
    needed = project["dependencies"] + project["optional-dependencies"]["postgres"]
    names = {re.split(r"[^\w-]", line)[0] for line in needed}
    table = section(DEVELOPERS, "dependencies") or ""
    rows = dict(re.findall(r"^\| ([\w-]+) \| (.+) \|$", table, re.MULTILINE))

    assert set(rows) - {"package", "---"} == names
    for line in project["optional-dependencies"]["test"]:
        name = re.split(r"[^\w-]", line)[0]
        assert name in table or "stub" in name or name.startswith("types-"), name
