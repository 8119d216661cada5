"""Saving who we buy from."""

from sqlalchemy.orm import Session

from backoffice.practice import rules
from backoffice.practice.service import save_record
from backoffice.suppliers.models import Supplier
from backoffice.suppliers.queries import SupplierDetails


def save_supplier(session: Session, details: SupplierDetails, id: int | None = None) -> int:
    """Save someone we buy from."""
    name = rules.needed(details.name, "name")
    contact = rules.note(details.contact, "contact") or ""
    return save_record(
        session, Supplier, id, details.version, name=name, contact=contact, hidden=details.hidden
    )
