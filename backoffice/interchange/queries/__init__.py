"""What would a farrier keep in a workbook of his own, sheet by sheet?"""

from collections.abc import Iterator
from datetime import UTC, datetime
from pathlib import Path

from sqlalchemy import func, select
from sqlalchemy.orm import Session

from backoffice.daybook.models import Entry
from backoffice.files.models import File
from backoffice.files.queries import KeptFile, place_of
from backoffice.interchange.document.sheets import Sheet
from backoffice.interchange.queries.names import names
from backoffice.interchange.queries.people import clients, horses, prices, yards
from backoffice.interchange.queries.things import shelf, spending, tools
from backoffice.interchange.queries.work import bills, past_work, payments

__all__ = ["kept_files", "last_written", "sheets"]
NEVER = datetime(2000, 1, 1, tzinfo=UTC)
_SHEETS = (
    clients, yards, horses, prices, past_work, bills, payments, shelf, tools, spending,
)  # fmt: skip


def sheets(session: Session) -> Iterator[Sheet]:
    """Give the sheets in their order; the rows of each are read while it is written."""
    called = names(session)
    for sheet in _SHEETS:
        yield sheet(session, called)


def last_written(session: Session) -> datetime:
    """Say when something last went into the book of first entry."""
    return session.scalar(select(func.max(Entry.recorded_at))) or NEVER


def kept_files(session: Session, data_folder: Path) -> tuple[tuple[KeptFile, str | None], ...]:
    """Give every receipt and photo, where its bytes lie, and the name it was kept under."""
    columns = (File.id, File.sha256, File.media_type, File.name)
    return tuple(
        (KeptFile(id=id_, sha256=sha, media_type=media, path=place_of(data_folder, sha)), name)
        for id_, sha, media, name in session.execute(select(*columns).order_by(File.id))
    )
