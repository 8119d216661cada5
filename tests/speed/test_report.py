"""The report of speed runs, and starting the program imports nothing heavy."""

from pathlib import Path

import pytest

from backoffice import demo
from tests.speed.__main__ import report
from tests.speed.visitor import look_around


def test_looking_at_pages_imports_no_workbook_library(tmp_path: Path) -> None:
    demo.build(tmp_path / "practice.db")

    assert not look_around("delete", tmp_path).pandas


@pytest.mark.speed
def test_the_report_runs(tmp_path: Path) -> None:
    figures = list(report(tmp_path, rounds=1))

    assert len(figures) == 20
    assert all(figure for _, _, figure in figures)
