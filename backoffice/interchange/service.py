"""Taking every record out as plain files."""

from collections.abc import Callable
from pathlib import Path

from sqlalchemy import select
from sqlalchemy.orm import Session

from backoffice.db import Base
from backoffice.errors import Refused
from backoffice.interchange import tables


def take_out(
    session: Session, folder: Path, progress: Callable[[str], None] = lambda _: None
) -> None:
    """Write every table as CSV into a new folder, with one file that says what each column is.

    Sign-ins, keys and passwords stay behind.
    Raises: Refused if the folder holds anything already.
    """
    if folder.exists() and (not folder.is_dir() or any(folder.iterdir())):
        raise Refused("interchange.folder_not_empty", folder=str(folder))
    folder.mkdir(mode=0o700, parents=True, exist_ok=True)
    described: list[tuple[object, ...]] = []
    for table in Base.metadata.sorted_tables:
        if table.info["kind"] == "plumbing":
            continue
        progress(table.name)
        columns = [column for column in table.columns if not column.info.get("secret")]
        rows = session.execute(
            select(*columns).order_by(*table.primary_key.columns).execution_options(yield_per=1_000)
        )
        tables.write(folder / f"{table.name}.csv", [c.name for c in columns], rows)
        described += [
            (
                table.name,
                column.name,
                table.info["kind"],
                type(column.type).__name__,
                ", ".join(key.target_fullname for key in column.foreign_keys),
            )
            for column in columns
        ]
    header = ("table", "column", "kind", "type", "refers_to")
    tables.write(folder / "schema.csv", header, described)
