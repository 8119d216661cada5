"""Keep the demo practice as it is written today, for upgrades to prove themselves on.

Run once for each released shape of the tables: ``python -m tests.schema.make_golden``.
"""

import json
import sqlite3
import sys
from pathlib import Path
from tempfile import TemporaryDirectory

from backoffice import demo, schema

LEFT_OUT = {"sign_in", "sign_in_tries", "start_link", "form_key"}
GOLDEN = Path(__file__).parent / "golden"


def lines_of(path: Path) -> list[str]:
    """Give every row of a practice, in an order in which it can be inserted again."""
    connection = sqlite3.connect(path)
    connection.row_factory = sqlite3.Row
    lines = []
    for table in schema.METADATA.sorted_tables:
        if table.name in LEFT_OUT:
            continue
        keys = ", ".join(column.name for column in table.primary_key)
        for row in connection.execute(f"SELECT * FROM {table.name} ORDER BY {keys}"):
            said = {"table": table.name, "values": dict(row)}
            lines.append(json.dumps(said, ensure_ascii=False, separators=(",", ":")))
    connection.close()
    return lines


def main() -> None:
    """Build the demo practice and write it down row by row."""
    with TemporaryDirectory() as folder:
        path = Path(folder) / "practice.db"
        demo.build(path)
        text = "\n".join(lines_of(path)) + "\n"
    GOLDEN.mkdir(exist_ok=True)
    kept = GOLDEN / f"{schema.newest()}-demo.jsonl"
    kept.write_text(text, encoding="utf-8")
    sys.stdout.write(f"{kept.name}: {len(text.encode()):,} bytes\n")


if __name__ == "__main__":
    main()
