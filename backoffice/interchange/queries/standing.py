"""What is here already of what a workbook may bring?"""

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

from sqlalchemy import select
from sqlalchemy.orm import Session

from backoffice.books.models import SupplierBill, SupplierBillLine
from backoffice.clients import queries as clients
from backoffice.clients.models import Client, Horse, HorseType, Yard
from backoffice.clients.rules import ClientDetails, HorseDetails, YardDetails, search_key
from backoffice.practice.rules import details_of
from backoffice.pricing.models import Price
from backoffice.stock.models import Item, Shelf
from backoffice.suppliers.models import Supplier
from backoffice.tools.models import Tool
from backoffice.visits.models import Visit, Work


@dataclass(frozen=True, slots=True, kw_only=True)
class HorseThere:
    """A horse that is here: its details, its owner and all who pay for it."""

    id: int
    details: HorseDetails
    clients: frozenset[int]


@dataclass(frozen=True, slots=True, kw_only=True)
class ItemThere:
    """An item that is here."""

    id: int
    sort: str
    name: str
    size: str
    pattern: str


def clients_there(session: Session) -> dict[str, tuple[int, ClientDetails]]:
    """Give the clients by their names as a search compares them; of two alike the first."""
    found: dict[str, tuple[int, ClientDetails]] = {}
    for row in session.scalars(select(Client).where(Client.name.is_not(None)).order_by(Client.id)):
        found.setdefault(search_key(row.name), (row.id, details_of(ClientDetails, row)))
    return found


def yards_there(session: Session) -> dict[str, tuple[int, YardDetails]]:
    """Give the yards by their names as a search compares them."""
    found: dict[str, tuple[int, YardDetails]] = {}
    for row in session.scalars(select(Yard).where(Yard.name.is_not(None)).order_by(Yard.id)):
        found.setdefault(search_key(row.name), (row.id, details_of(YardDetails, row)))
    return found


def kinds_there(session: Session) -> dict[str, int]:
    """Give the kinds of horse by their names as a search compares them."""
    rows = session.execute(select(HorseType.name, HorseType.id).order_by(HorseType.id.desc()))
    return {search_key(name): type_id for name, type_id in rows}


def horses_there(session: Session, today: date) -> dict[str, list[HorseThere]]:
    """Give the horses by their names as a search compares them."""
    rows = session.scalars(select(Horse).where(Horse.name.is_not(None)).order_by(Horse.id)).all()
    paying = clients.payers_on(session, [row.id for row in rows], today)
    found: dict[str, list[HorseThere]] = {}
    for row in rows:
        payers = {client for client, _ in paying.get(row.id, ()) if client is not None}
        owner = {row.owner_id} if row.owner_id is not None else set()
        there = HorseThere(
            id=row.id, details=details_of(HorseDetails, row), clients=frozenset(payers | owner)
        )
        found.setdefault(search_key(row.name), []).append(there)
    return found


def prices_there(session: Session) -> dict[tuple[int, int | None, date], int]:
    """Give every listed price by service, kind of horse and first day."""
    rows = session.execute(select(Price.service_id, Price.type_id, Price.from_day, Price.amount))
    return {(service, kind, day): amount for service, kind, day, amount in rows}


def items_there(session: Session) -> list[ItemThere]:
    """Give every item of stock, the oldest first."""
    rows = session.execute(
        select(Item.id, Item.sort, Item.name, Item.size_text, Item.pattern).order_by(Item.id)
    )
    return [
        ItemThere(id=item_id, sort=sort, name=name, size=size, pattern=pattern)
        for item_id, sort, name, size, pattern in rows
    ]


def shelves_counted(session: Session) -> set[tuple[int, int]]:
    """Give the shelves, item and place, that were counted."""
    rows = session.execute(
        select(Shelf.item_id, Shelf.place_id).where(Shelf.counted_since.is_not(None))
    )
    return {(item_id, place_id) for item_id, place_id in rows}


def suppliers_there(session: Session) -> dict[str, int]:
    """Give the suppliers by their names as a search compares them."""
    rows = session.execute(select(Supplier.name, Supplier.id).order_by(Supplier.id.desc()))
    return {search_key(name): supplier_id for name, supplier_id in rows}


def tools_there(session: Session) -> Counter[tuple[str, str]]:
    """Count the tools by sort and name."""
    rows = session.execute(select(Tool.sort, Tool.name))
    return Counter((sort, search_key(name)) for sort, name in rows)


Spent = tuple[date, int, int | None, str]


def spending_there(session: Session) -> Counter[Spent]:
    """Count the bills of suppliers by day, total, supplier and the words of their expenses."""
    rows = session.execute(
        select(
            SupplierBill.id,
            SupplierBill.day,
            SupplierBill.total,
            SupplierBill.supplier_id,
            SupplierBillLine.what,
        )
        .outerjoin(SupplierBillLine, SupplierBillLine.bill_id == SupplierBill.id)
        .order_by(SupplierBill.id, SupplierBillLine.id)
    )
    bills: dict[int, tuple[date, int, int | None, list[str]]] = {}
    for bill_id, day, total, supplier_id, what in rows:
        words = bills.setdefault(bill_id, (day, total, supplier_id, []))[3]
        if what:
            words.append(search_key(what))
    return Counter((day, total, who, " ".join(words)) for day, total, who, words in bills.values())


def done_days(session: Session, horses: Sequence[int]) -> set[tuple[int, date]]:
    """Give the days on which horses were done, before this program was used or since."""
    rows = session.execute(
        select(Work.horse_id, Visit.day)
        .join(Visit, Visit.id == Work.visit_id)
        .where(Work.horse_id.in_(horses), Work.outcome.in_(("done", "part")))
    )
    return {(horse or 0, day) for horse, day in rows}
