"""Who do we buy from?"""

from dataclasses import dataclass

from sqlalchemy import func, select
from sqlalchemy.orm import Session

from backoffice.errors import Refused
from backoffice.practice.rules import PAGE, Listed, details_of
from backoffice.suppliers.models import Supplier


@dataclass(frozen=True, slots=True, kw_only=True)
class SupplierDetails:
    """A supplier as the edit form shows it."""

    name: str
    contact: str = ""
    hidden: bool = False
    version: int | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class SupplierCard:
    """A supplier, in a list or alone."""

    id: int
    details: SupplierDetails


def _card(row: Supplier) -> SupplierCard:
    return SupplierCard(id=row.id, details=details_of(SupplierDetails, row))


def supplier_list(session: Session, page: int = 1, *, hidden: bool = False) -> Listed[SupplierCard]:
    """List who we buy from, by name."""
    rows = select(Supplier).order_by(func.lower(Supplier.name), Supplier.id)
    if not hidden:
        rows = rows.where(Supplier.hidden == 0)
    found = session.scalars(rows.offset((max(page, 1) - 1) * PAGE).limit(PAGE + 1)).all()
    cards = tuple(_card(row) for row in found[:PAGE])
    return Listed(rows=cards, page=max(page, 1), more=len(found) > PAGE)


def supplier_card(session: Session, supplier_id: int) -> SupplierCard:
    """Give one supplier."""
    row = session.get(Supplier, supplier_id)
    if row is None:
        raise Refused("record.missing")
    return _card(row)


def supplier_choices(session: Session) -> tuple[tuple[int, str], ...]:
    """Give the suppliers a form may offer."""
    return tuple((card.id, card.details.name) for card in supplier_list(session).rows)
