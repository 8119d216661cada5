"""Taking every record out: as plain files, exactly, and as a workbook to read."""

import shutil
from collections.abc import Callable
from pathlib import Path

from sqlalchemy import select
from sqlalchemy.orm import Session

from backoffice.errors import Refused
from backoffice.interchange import queries
from backoffice.interchange.document import schema_page, sheets, tables
from backoffice.practice import queries as practice

WORKBOOK = "practice.xlsx"
KEPT = "files"
ENDINGS = {
    "image/jpeg": ".jpg", "image/png": ".png", "image/webp": ".webp", "application/pdf": ".pdf",
}  # fmt: skip
Progress = Callable[[str, int], None]


def take_out(
    session: Session,
    folder: Path,
    progress: Progress = lambda _what, _rows: None,
    *,
    data_folder: Path | None = None,
) -> tuple[str, ...]:
    """Write every table as CSV and as JSON lines into a new folder, and the practice as a workbook.

    ``schema.html`` and ``schema.csv`` say what each column is. Receipts and photos are copied from
    the data folder, if it is named; those that are gone from there are given back by their names.
    Sign-ins, keys and passwords stay behind. The same practice makes the same bytes. ``progress``
    hears which table or sheet is being written, and how many rows of it are.
    Raises: Refused if the folder holds anything already.
    """
    if folder.exists() and (not folder.is_dir() or any(folder.iterdir())):
        raise Refused("interchange.folder_not_empty", folder=str(folder))
    folder.mkdir(mode=0o700, parents=True, exist_ok=True)
    currency = practice.practice(session).currency
    written = _tables(session, folder, progress)
    _schema(folder, written, currency)
    found, at = queries.sheets(session), queries.last_written(session)
    sheets.write(folder / WORKBOOK, found, currency, at, progress)
    return _kept(session, data_folder, folder / KEPT, progress) if data_folder else ()


def _kept(session: Session, data_folder: Path, to: Path, progress: Progress) -> tuple[str, ...]:
    """Copy kept files, each named by the number of its row; give those that are not there."""
    gone = []
    for count, (file, name) in enumerate(queries.kept_files(session, data_folder)):
        progress(KEPT, count)
        to.mkdir(mode=0o700, exist_ok=True)
        numbered = f"{file.id}{ENDINGS[file.media_type]}"
        try:
            shutil.copyfile(file.path, to / numbered)
        except FileNotFoundError:
            gone.append(name or numbered)
    return tuple(gone)


def _tables(session: Session, folder: Path, progress: Progress) -> dict[str, int]:
    """Write every table twice, and tell how many rows each has."""
    written = {}
    for table in schema_page.taken_tables():
        progress(table.name, 0)
        columns = schema_page.taken(table)
        rows = session.execute(
            select(*columns).order_by(*table.primary_key.columns).execution_options(yield_per=1_000)
        )
        count = 0
        with tables.Both(folder, table.name, [column.name for column in columns]) as both:
            for count, row in enumerate(rows, 1):
                both.add(row)
                if count % 1_000 == 0:
                    progress(table.name, count)
        written[table.name] = count
    return written


def _schema(folder: Path, written: dict[str, int], currency: str) -> None:
    """Write what each column of each table is, as a page and as a table."""
    header = ("table", "column", "kind", "type", "unit", "may_be_unknown", "refers_to")
    described = [
        (
            table.name,
            column.name,
            table.info["kind"],
            column.type,
            column.unit,
            column.empty,
            column.refers_to,
        )
        for table in schema_page.taken_tables()
        for column in schema_page.describe(table, currency)
    ]
    tables.write(folder / "schema.csv", header, described)
    with (folder / "schema.html").open("w", encoding="utf-8", newline="\n") as file:
        file.writelines(schema_page.page(written, currency))
