"""Does the program keep its own rules? Read from the syntax trees, not from good intentions."""

import re

import pytest

from tests.architecture.source import (
    LONGEST_MODULE,
    ROOT,
    RULES,
    STATISTICS,
    Rule,
    faults,
    modules,
)

TOP_LEVEL = {
    "README.md", "DEVELOPERS.md", "pyproject.toml",
    "backoffice", "templates", "tests", "demo_db", "docs",
}  # fmt: skip
MADE_BY_TOOLS = {"__pycache__", "build", "dist"}
TRUSTED_HTML = re.compile(r"\|\s*safe\b|autoescape\s+false", re.IGNORECASE)


def too_long(text: str) -> bool:
    return len(text.splitlines()) > LONGEST_MODULE


def strays(names: set[str]) -> set[str]:
    return {name for name in names if not name.startswith(".")} - TOP_LEVEL - MADE_BY_TOOLS


@pytest.mark.parametrize("rule", RULES, ids=lambda rule: rule.says)
def test_every_module_keeps_the_rule(rule: Rule) -> None:
    found = [fault for path, text in modules() for fault in faults(rule, path, text)]

    assert found == [], rule.says


@pytest.mark.parametrize(
    ("rule", "fault"),
    [(rule, fault) for rule in RULES for fault in rule.faults],
    ids=lambda value: value.says if isinstance(value, Rule) else value,
)
def test_a_planted_fault_is_seen(rule: Rule, fault: str) -> None:
    assert faults(rule, rule.fault_path, f"x = 1\n{fault}\n") == [f"{rule.fault_path}:2"]


def test_the_rules_look_inside_a_module_that_grew_into_a_package() -> None:
    whole = next(rule for rule in RULES if "whole numbers" in rule.says)
    rows = next(rule for rule in RULES if "rows of other" in rule.says)

    assert faults(whole, "billing/service/issue.py", "x = 0.5")
    assert faults(rows, "billing/service/issue.py", "from backoffice.visits.models import Visit")


@pytest.mark.parametrize("path", sorted(STATISTICS))
def test_only_the_statistics_may_use_floats(path: str) -> None:
    whole = next(rule for rule in RULES if "whole numbers" in rule.says)

    assert faults(whole, path, "x = 0.5") == []
    assert faults(whole, path.replace(".py", "_more.py"), "x = 0.5")


def test_no_module_is_longer_than_a_reader_can_hold() -> None:
    long = [p for p, text in modules() if "/versions/" not in p and too_long(text)]

    assert long == []


def test_a_module_one_line_too_long_is_seen() -> None:
    assert too_long("x = 1\n" * (LONGEST_MODULE + 1))
    assert not too_long("x = 1\n" * LONGEST_MODULE)


def test_no_template_trusts_what_people_typed() -> None:
    trusting = [
        str(file.relative_to(ROOT))
        for file in sorted((ROOT / "templates").rglob("*"))
        if file.suffix in {".html", ".svg", ".xml"}
        and TRUSTED_HTML.search(file.read_text(encoding="utf-8"))
    ]

    assert trusting == []


@pytest.mark.parametrize("fault", ["{{ note|safe }}", "{{ a | safe }}", "{% autoescape false %}"])
def test_a_trusting_template_is_seen(fault: str) -> None:
    assert TRUSTED_HTML.search(fault)


def test_the_top_level_holds_only_what_belongs_there() -> None:
    assert strays({path.name for path in ROOT.iterdir()}) == set()


def test_a_stray_file_at_the_top_level_is_seen() -> None:
    assert strays({"README.md", ".ci", "notes.txt"}) == {"notes.txt"}
