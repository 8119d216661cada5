"""Which bills from before this program was used are written down already?"""

from collections.abc import Collection
from dataclasses import dataclass

from sqlalchemy import select
from sqlalchemy.orm import Session

from backoffice.billing import rules
from backoffice.billing.models import Document, Particulars

OLD_SERIES = "old"


@dataclass(frozen=True, slots=True, kw_only=True)
class OldLine:
    """The one line of an old bill; whatever tax was in it was that bill's."""

    share_id: int | None
    net: int
    quoted: int
    category: str = rules.TaxCategory.OUTSIDE.value
    rate_ppm: int = 0


def old_references(session: Session, clients: Collection[int]) -> set[tuple[int, str]]:
    """Give the old references of clients that are written down, in small letters."""
    rows = session.execute(
        select(Document.client_id, Particulars.text)
        .join(Particulars, Particulars.document_id == Document.id)
        .where(Document.series == "opening", Document.client_id.in_(clients))
    )
    return {
        (client_id, rules.read_particulars(text).note.casefold())
        for client_id, text in rows
        if text is not None
    }
