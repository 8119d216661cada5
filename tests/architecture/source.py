"""What no module of the program may do, each rule with a fault that it must see."""

import ast
import re
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path

ROOT = Path(__file__).parents[2]
PACKAGE = ROOT / "backoffice"
COUNTED = {
    "billing", "books", "clients", "planning", "practice", "pricing", "purchasing", "reports",
    "stock", "tax", "tools", "visits",
}  # fmt: skip
STATISTICS = {
    "tools/rules/life.py",
    "tools/rules/rasps.py",
    "tools/rules/compare.py",
    "purchasing/rules/demand.py",
    "purchasing/rules/reorder.py",
}
LONGEST_MODULE = 450

Finder = Callable[[ast.AST, str], bool]


@dataclass(frozen=True, kw_only=True)
class Rule:
    """One thing that is never done, where it is looked for, and planted faults to prove it."""

    says: str
    breaks: Finder
    looked_for_in: Callable[[str], bool] = lambda path: True
    faults: tuple[str, ...]
    fault_path: str = "stock/service.py"


def modules() -> Iterator[tuple[str, str]]:
    """Give each module's path inside the package and its text."""
    for file in sorted(PACKAGE.rglob("*.py")):
        yield file.relative_to(PACKAGE).as_posix(), file.read_text(encoding="utf-8")


def faults(rule: Rule, path: str, text: str) -> list[str]:
    """List where a module breaks a rule, as path:line."""
    if not rule.looked_for_in(path):
        return []
    return [
        f"{path}:{getattr(node, 'lineno', 1)}"
        for node in ast.walk(ast.parse(text))
        if rule.breaks(node, path)
    ]


def _parts(path: str) -> list[str]:
    return path.removesuffix(".py").split("/")


def _outside(*names: str) -> Callable[[str], bool]:
    """Look everywhere but in these modules or packages."""
    return lambda path: not path.startswith(tuple(f"{name}{end}" for name in names for end in "./"))


def _called(node: ast.AST) -> str:
    """Give the last name of what is called, or nothing."""
    return _last_name(node.func) if isinstance(node, ast.Call) else ""


def _last_name(node: ast.AST) -> str:
    if isinstance(node, ast.Attribute):
        return node.attr
    return node.id if isinstance(node, ast.Name) else ""


def _imported(node: ast.AST) -> list[str]:
    """Give the dotted names an import brings in."""
    if isinstance(node, ast.Import):
        return [name.name for name in node.names]
    if isinstance(node, ast.ImportFrom):
        return [f"{node.module or ''}.{name.name}" for name in node.names]
    return []


def _ends_transaction(node: ast.AST, path: str) -> bool:
    return _called(node) in {"commit", "rollback"}


def _counts_whole(path: str) -> bool:
    parts = _parts(path)
    kernel = path in {"money.py", "units.py", "days.py"}
    counted = parts[0] in COUNTED and {*parts[1:2]} <= {"rules", "service", "queries", "models"}
    return (kernel or counted) and path not in STATISTICS


def _is_float(node: ast.AST, path: str) -> bool:
    return (
        (isinstance(node, ast.Constant) and isinstance(node.value, float))
        or _called(node) == "float"
        or (isinstance(node, ast.BinOp | ast.AugAssign) and isinstance(node.op, ast.Div))
    )


def _takes_foreign_rows(node: ast.AST, path: str) -> bool:
    own = _parts(path)[0]
    for name in _imported(node):
        parts = name.split(".")
        if parts[0] == "backoffice" and parts[2:3] == ["models"] and parts[1] != own:
            return True
    return False


def _is_service(path: str) -> bool:
    return _parts(path)[1:2] == ["service"]


_CLOCKS = {
    "date": {"today"},
    "datetime": {"now", "today", "utcnow"},
    "time": {"time", "time_ns", "localtime", "gmtime"},
    "func": {"now", "current_date", "current_time", "current_timestamp"},
}


def _reads_clock(node: ast.AST, path: str) -> bool:
    if isinstance(node, ast.ImportFrom) and node.module == "time":
        return any(name.name in _CLOCKS["time"] for name in node.names)
    return isinstance(node, ast.Attribute) and node.attr in _CLOCKS.get(
        _last_name(node.value), set()
    )


_FILE_CALLS = {
    "open", "read_bytes", "read_text", "write_bytes", "write_text",
    "copy", "copy2", "copyfile", "copyfileobj", "copytree", "move",
}  # fmt: skip
_DATABASE = re.compile(r"database|sqlite|(?<![a-z])db(?![a-z])", re.IGNORECASE)


def _opens_database(node: ast.AST, path: str) -> bool:
    if _called(node) not in _FILE_CALLS:
        return False
    return path == "db.py" or bool(_DATABASE.search(ast.unparse(node).replace("demo_db", "")))


def _builds_sql(node: ast.AST, path: str) -> bool:
    if not isinstance(node, ast.Call) or _called(node) not in {"text", "literal_column"}:
        return False
    given = [*node.args, *(keyword.value for keyword in node.keywords)]
    return any(
        isinstance(part, ast.JoinedStr)
        or (isinstance(part, ast.BinOp) and isinstance(part.op, ast.Add | ast.Mod))
        or _called(part) in {"format", "join", "replace"}
        for part in given
    )


def _runs_text(node: ast.AST, path: str) -> bool:
    if isinstance(node, ast.Call) and isinstance(node.func, ast.Name):
        return node.func.id in {"eval", "exec", "__import__"}
    return any(
        name.split(".")[0] in {"pickle", "marshal", "shelve", "dill"} for name in _imported(node)
    )


def _trusts_html(node: ast.AST, path: str) -> bool:
    return _last_name(node) == "Markup" or any(n.endswith(".Markup") for n in _imported(node))


def _prints(node: ast.AST, path: str) -> bool:
    return (
        isinstance(node, ast.Call) and isinstance(node.func, ast.Name) and _called(node) == "print"
    )


def _imports_relatively(node: ast.AST, path: str) -> bool:
    return isinstance(node, ast.ImportFrom) and node.level > 0


RULES = (
    Rule(
        says="only db.py ends a transaction",
        breaks=_ends_transaction,
        looked_for_in=_outside("db"),
        faults=("session.commit()", "unit.session.rollback()"),
    ),
    Rule(
        says="money and stock are whole numbers, never floats and never divided with a slash",
        breaks=_is_float,
        looked_for_in=_counts_whole,
        faults=("rate = 0.06", "x = float(cents)", "half = cents / 2", "cents /= 2"),
    ),
    Rule(
        says="a service leaves the rows of other capabilities alone",
        breaks=_takes_foreign_rows,
        looked_for_in=_is_service,
        faults=(
            "from backoffice.visits.models import Visit",
            "from backoffice.visits import models",
            "import backoffice.visits.models",
        ),
    ),
    Rule(
        says="only the channels and db.py look at a clock; everybody else is handed today",
        breaks=_reads_clock,
        looked_for_in=_outside("cli", "web/clock", "demo", "jobs", "db"),
        faults=(
            "today = date.today()",
            "at = datetime.datetime.now(UTC)",
            "default = datetime.utcnow",
            "start = time.time()",
            "from time import time",
            "x = sa.func.now()",
        ),
    ),
    Rule(
        says="nothing opens or copies a database file by hand: that drops its locks",
        breaks=_opens_database,
        faults=(
            "open(database)",
            "Path(folder, 'practice.db').read_bytes()",
            "shutil.copy2(db_file, target)",
            "with database_path.open('rb') as f: pass",
        ),
    ),
    Rule(
        says="SQL text is never put together from parts",
        breaks=_builds_sql,
        faults=(
            "text(f'select {name}')",
            "sa.text('select ' + name)",
            "text('select %s' % name)",
            "sa.text('select {}'.format(name))",
        ),
    ),
    Rule(
        says="nothing stored or sent is ever run as code",
        breaks=_runs_text,
        faults=("import pickle", "from pickle import loads", "eval(text)", "exec(text)"),
    ),
    Rule(
        says="only the charts are trusted as HTML",
        breaks=_trusts_html,
        looked_for_in=_outside("web/svg"),
        faults=("page = Markup(name)", "from markupsafe import Markup", "flask.Markup(name)"),
        fault_path="web/horses.py",
    ),
    Rule(
        says="only the command line and the demo print",
        breaks=_prints,
        looked_for_in=_outside("cli", "demo"),
        faults=("print('done')",),
    ),
    Rule(
        says="imports are absolute",
        breaks=_imports_relatively,
        faults=("from . import rules", "from ..money import split"),
    ),
)
