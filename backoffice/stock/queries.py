"""What is on which shelf, what is it worth, and how did it get there?"""

from collections import defaultdict
from collections.abc import Collection, Sequence
from dataclasses import dataclass
from datetime import date
from typing import Any

from sqlalchemy import and_, func, select
from sqlalchemy.orm import Session

from backoffice.daybook.models import Entry
from backoffice.errors import Refused
from backoffice.practice.models import Place
from backoffice.practice.rules import details_of
from backoffice.stock.models import (
    ITEM_KINDS,
    Item,
    Lot,
    LotLeft,
    OnHand,
    Shelf,
    StockMove,
    StockUse,
)
from backoffice.stock.rules import ItemDetails

LAST_MOVES = 50


@dataclass(frozen=True, slots=True, kw_only=True)
class ItemRow:
    """An item as others name it."""

    id: int
    sort: str
    name: str
    size_text: str
    size_key: str
    pattern: str
    pack: int
    supplier_id: int | None
    hidden: bool

    @property
    def label(self) -> str:
        """The name with its size."""
        return f"{self.name} {self.size_text}".strip()


@dataclass(frozen=True, slots=True, kw_only=True)
class OnShelf:
    """How many singles of an item the books hold at a place, and what those left cost."""

    place_id: int
    qty: int
    value: int
    counted_since: date | None

    @property
    def counted(self) -> bool:
        """Whether the shelf was ever counted; until then its stock is not known."""
        return self.counted_since is not None


@dataclass(frozen=True, slots=True, kw_only=True)
class ItemOnShelf:
    """An item and its shelves, in all places that have one."""

    item: ItemRow
    places: tuple[OnShelf, ...]

    @property
    def qty(self) -> int:
        """How many there are in all places."""
        return sum(place.qty for place in self.places)

    @property
    def value(self) -> int:
        """What is left of deliveries in all places cost."""
        return sum(place.value for place in self.places)


@dataclass(frozen=True, slots=True, kw_only=True)
class DeliveryLeft:
    """What is left of one delivery at one place."""

    lot_id: int
    day: date
    place_id: int
    place_name: str
    supplier_id: int | None
    expires: date | None
    qty: int
    cost: int


@dataclass(frozen=True, slots=True, kw_only=True)
class MoveLine:
    """Something that came or went: ``what`` is a word of the catalogue (``stock.move.…``)."""

    id: int
    day: date
    entry_id: int
    place_name: str
    what: str
    lot_id: int | None
    use_id: int | None
    qty: int
    cost: int


@dataclass(frozen=True, slots=True, kw_only=True)
class ItemCard:
    """An item, where it is, what is left of its deliveries, and what happened last."""

    id: int
    details: ItemDetails
    places: tuple[OnShelf, ...]
    left: tuple[DeliveryLeft, ...]
    moves: tuple[MoveLine, ...]


_COLUMNS = (
    Item.id,
    Item.sort,
    Item.name,
    Item.size_text,
    Item.size_key,
    Item.pattern,
    Item.pack,
    Item.supplier_id,
    Item.hidden,
)


def _in_order(rows: Any) -> list[ItemRow]:
    """Read items, shoes before nails, 000 before 00; text sorts differently on each database."""
    items = [ItemRow(**row) for row in rows.mappings()]
    return sorted(
        items, key=lambda item: (ITEM_KINDS.index(item.sort), item.size_key, item.name, item.id)
    )


def items_by_ids(session: Session, ids: Collection[int]) -> dict[int, ItemRow]:
    """Give items by their numbers."""
    rows = _in_order(session.execute(select(*_COLUMNS).where(Item.id.in_(ids))))
    return {item.id: item for item in rows}


def choices(session: Session, sort: str) -> tuple[tuple[int, str], ...]:
    """Give the items of a sort that may be chosen, the size first where a narrow box cuts off."""
    chosen = select(*_COLUMNS).where(Item.sort == sort, Item.hidden.in_((False,)))
    return tuple(
        (item.id, f"{item.size_text} · {item.name}" if item.size_text else item.name)
        for item in _in_order(session.execute(chosen))
    )


def shelf_list(session: Session) -> tuple[ItemOnShelf, ...]:
    """List what is kept in stock, by sort and size, with what is where."""
    shelves = _shelves(session)
    items = _in_order(session.execute(select(*_COLUMNS).where(Item.hidden.in_((False,)))))
    return tuple(ItemOnShelf(item=item, places=tuple(shelves[item.id])) for item in items)


def _shelves(session: Session, *only: Any) -> defaultdict[int, list[OnShelf]]:
    value = (
        select(LotLeft.item_id, LotLeft.place_id, func.sum(LotLeft.cost).label("value"))
        .where(LotLeft.qty > 0)
        .group_by(LotLeft.item_id, LotLeft.place_id)
        .subquery()
    )
    rows = session.execute(
        select(
            OnHand.item_id,
            OnHand.place_id,
            OnHand.qty,
            func.coalesce(value.c.value, 0).label("value"),
            Shelf.counted_since,
        )
        .join(Shelf, and_(Shelf.item_id == OnHand.item_id, Shelf.place_id == OnHand.place_id))
        .outerjoin(
            value, and_(value.c.item_id == OnHand.item_id, value.c.place_id == OnHand.place_id)
        )
        .where(*only)
        .order_by(OnHand.item_id, OnHand.place_id)
    )
    shelves = defaultdict[int, list[OnShelf]](list)
    for row in rows:
        shelves[row.item_id].append(
            OnShelf(
                place_id=row.place_id,
                qty=row.qty,
                value=int(row.value),
                counted_since=row.counted_since,
            )
        )
    return shelves


def item_card(session: Session, item_id: int) -> ItemCard:
    """Show an item: its details, what is left of each delivery, and the last that came and went.

    Raises: Refused if it is not there.
    """
    item = session.get(Item, item_id)
    if item is None:
        raise Refused("record.missing")
    return ItemCard(
        id=item_id,
        details=details_of(ItemDetails, item),
        places=tuple(_shelves(session, OnHand.item_id == item_id)[item_id]),
        left=_left(session, item_id),
        moves=_moves(session, item_id),
    )


def _left(session: Session, item_id: int) -> tuple[DeliveryLeft, ...]:
    rows = session.execute(
        select(
            LotLeft.lot_id,
            Entry.day,
            LotLeft.place_id,
            Place.name.label("place_name"),
            Lot.supplier_id,
            Lot.expires,
            LotLeft.qty,
            LotLeft.cost,
        )
        .join(Lot, Lot.id == LotLeft.lot_id)
        .join(Entry, Entry.id == Lot.entry_id)
        .join(Place, Place.id == LotLeft.place_id)
        .where(LotLeft.item_id == item_id, LotLeft.qty > 0)
        .order_by(LotLeft.place_id, LotLeft.lot_id)
    )
    return tuple(DeliveryLeft(**row) for row in rows.mappings())


def _moves(session: Session, item_id: int) -> tuple[MoveLine, ...]:
    rows: Sequence[Any] = session.execute(
        select(
            StockMove.id,
            Entry.day,
            StockMove.entry_id,
            Place.name.label("place_name"),
            StockMove.sort,
            StockUse.why,
            StockMove.lot_id,
            StockMove.use_id,
            StockMove.qty,
            StockMove.cost,
        )
        .join(Entry, Entry.id == StockMove.entry_id)
        .join(Place, Place.id == StockMove.place_id)
        .outerjoin(StockUse, StockUse.id == StockMove.use_id)
        .where(StockMove.item_id == item_id)
        .order_by(StockMove.id.desc())
        .limit(LAST_MOVES)
    ).all()
    return tuple(
        MoveLine(
            id=row.id,
            day=row.day,
            entry_id=row.entry_id,
            place_name=row.place_name,
            what=row.why if row.why and row.sort in ("draw", "count") else row.sort,
            lot_id=row.lot_id,
            use_id=row.use_id,
            qty=row.qty,
            cost=row.cost,
        )
        for row in rows
    )
