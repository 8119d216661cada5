"""Does each part of the program know only what it may know?"""

import re
import shutil
import subprocess
import sys
import tomllib
from pathlib import Path

import pytest

from tests.architecture.source import PACKAGE, ROOT

NOT_CAPABILITIES = {"cli", "demo", "jobs", "migrations", "web", "words"}
CONTRACTS = {
    contract["name"]: contract
    for contract in tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["tool"][
        "importlinter"
    ]["contracts"]
}


def lint(folder: Path) -> str:
    """Check the import contracts of a checkout and give the report."""
    command = "from importlinter.cli import lint_imports_command as lint; lint()"
    run = subprocess.run(
        [sys.executable, "-c", command, "--no-cache"],
        cwd=folder,
        capture_output=True,
        text=True,
        encoding="utf-8",
        check=False,
    )
    return run.stdout + run.stderr


def broken(report: str) -> set[str]:
    """Name the contracts a report calls broken; all must have been checked."""
    verdicts = dict(re.findall(r"^(.+) (KEPT|BROKEN)\b", report, re.MULTILINE))
    assert set(verdicts) == set(CONTRACTS), report
    return {name for name, verdict in verdicts.items() if verdict == "BROKEN"}


def test_every_import_contract_is_kept() -> None:
    report = lint(ROOT)

    assert broken(report) == set(), report


@pytest.mark.parametrize(
    ("file", "line", "contract"),
    [
        ("stock/__init__.py", "import backoffice.visits", "who may know whom"),
        ("tools/__init__.py", "import backoffice.pricing", "who may know whom"),
        ("common.py", "", "who may know whom"),
        ("stock/helpers.py", "", "inside a capability"),
        ("stock/rules.py", "import backoffice.stock.models", "inside a capability"),
        ("files/queries.py", "import backoffice.files.service", "inside a capability"),
        ("billing/document.py", "import backoffice.billing.models", "inside a capability"),
        ("money.py", "import os", "the core does no input or output"),
        ("stock/rules.py", "import sqlalchemy", "the core does no input or output"),
        ("jobs.py", "import flask", "only the web knows Flask"),
        ("stock/service.py", "import wtforms", "only the web knows Flask"),
        ("demo.py", "import backoffice.stock.models", "rows stay behind queries and services"),
    ],
)
def test_a_planted_import_breaks_its_contract(
    tmp_path: Path, file: str, line: str, contract: str
) -> None:
    shutil.copy(ROOT / "pyproject.toml", tmp_path)
    shutil.copytree(PACKAGE, tmp_path / "backoffice")
    with (tmp_path / "backoffice" / file).open("a", encoding="utf-8") as planted:
        planted.write(f"\n{line}\n")

    assert contract in broken(lint(tmp_path))


def test_every_capability_is_under_the_contract_that_governs_its_inside() -> None:
    capabilities = {
        f"backoffice.{folder.parent.name}"
        for folder in PACKAGE.glob("*/__init__.py")
        if folder.parent.name not in NOT_CAPABILITIES
    }

    assert capabilities == set(CONTRACTS["inside a capability"]["containers"])
