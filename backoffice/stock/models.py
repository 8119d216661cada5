"""Rows of stock: items, arrivals, uses, and the caches recomputed from them."""

from datetime import date

from sqlalchemy import CheckConstraint, Index, UniqueConstraint, text
from sqlalchemy.orm import Mapped, mapped_column

from backoffice.db import Base, Choice, Numbered, Versioned, refers

ITEM_KINDS = ("shoe", "nail", "pad", "packing", "rasp", "other")
MOVES = ("arrive", "draw", "true_up", "transfer", "count", "undo")


class Item(Versioned, Base):
    """Something kept in stock, counted in singles. The size is text and sorts by its key."""

    __tablename__ = "item"
    kind = "record"
    rules = (CheckConstraint("pack > 0", name="pack_positive"),)
    sort: Mapped[str] = mapped_column(Choice(*ITEM_KINDS))
    name: Mapped[str]
    size_text: Mapped[str]
    size_key: Mapped[str]
    pattern: Mapped[str] = mapped_column(Choice("either", "front", "hind"))
    pack: Mapped[int]
    care: Mapped[str]
    supplier_id: Mapped[int | None] = refers("supplier.id")
    hidden: Mapped[bool]


class Shelf(Numbered, Base):
    """An item's shelf at a place; without a first count its stock is not known."""

    __tablename__ = "shelf"
    kind = "record"
    rules = (UniqueConstraint("item_id", "place_id"),)
    item_id: Mapped[int] = refers("item.id")
    place_id: Mapped[int] = refers("place.id")
    counted_since: Mapped[date | None]
    counted_entry_id: Mapped[int | None] = refers("entry.id")


class Lot(Numbered, Base):
    """Singles of an item that arrived together, and what all of them cost."""

    __tablename__ = "lot"
    kind = "ledger"
    rules = (
        CheckConstraint("qty > 0", name="qty_positive"),
        CheckConstraint("cost >= 0", name="cost_not_negative"),
    )
    entry_id: Mapped[int] = refers("entry.id")
    item_id: Mapped[int] = refers("item.id", index=True)
    supplier_id: Mapped[int | None] = refers("supplier.id")
    qty: Mapped[int]
    cost: Mapped[int]
    expires: Mapped[date | None]


class StockUse(Numbered, Base):
    """Singles taken from a place; undone at most once, by a row that names it."""

    __tablename__ = "stock_use"
    kind = "ledger"
    rules = (CheckConstraint("qty > 0", name="qty_positive"),)
    entry_id: Mapped[int] = refers("entry.id")
    item_id: Mapped[int] = refers("item.id", index=True)
    place_id: Mapped[int] = refers("place.id")
    qty: Mapped[int]
    why: Mapped[str] = mapped_column(Choice("work", "waste", "loss"))
    undoes_id: Mapped[int | None] = refers("stock_use.id", unique=True)


class StockMove(Numbered, Base):
    """One change of quantity and cost at a place; without a lot it was drawn beyond stock."""

    __tablename__ = "stock_move"
    kind = "ledger"
    rules = (
        Index("ix_stock_move_true_up", "use_id", sqlite_where=text("sort = 'true_up'"),
              postgresql_where=text("sort = 'true_up'")),
    )  # fmt: skip
    entry_id: Mapped[int] = refers("entry.id", index=True)
    item_id: Mapped[int] = refers("item.id", index=True)
    place_id: Mapped[int] = refers("place.id")
    lot_id: Mapped[int | None] = refers("lot.id", index=True)
    use_id: Mapped[int | None] = refers("stock_use.id", index=True)
    sort: Mapped[str] = mapped_column(Choice(*MOVES))
    qty: Mapped[int]
    cost: Mapped[int]


class LotLeft(Base):
    """What is left of a lot at a place."""

    __tablename__ = "lot_left"
    kind = "cache"
    rules = (
        CheckConstraint("qty >= 0 AND cost >= 0 AND (qty > 0 OR cost = 0)", name="not_negative"),
        Index("ix_lot_left_open", "item_id", "place_id", "lot_id",
              sqlite_where=text("qty > 0"), postgresql_where=text("qty > 0")),
    )  # fmt: skip
    lot_id: Mapped[int] = refers("lot.id", primary_key=True)
    place_id: Mapped[int] = refers("place.id", primary_key=True)
    item_id: Mapped[int] = refers("item.id")
    qty: Mapped[int]
    cost: Mapped[int]


class OnHand(Base):
    """What the books say is at a place; below nothing when work ran ahead of deliveries."""

    __tablename__ = "on_hand"
    kind = "cache"
    item_id: Mapped[int] = refers("item.id", primary_key=True)
    place_id: Mapped[int] = refers("place.id", primary_key=True)
    qty: Mapped[int]
    last_qty: Mapped[int | None]
    last_cost: Mapped[int | None]
    used: Mapped[int]
    wasted: Mapped[int]


class ShortUse(Base):
    """The part of a use still drawn beyond stock, at the cost assumed."""

    __tablename__ = "short_use"
    kind = "cache"
    rules = (CheckConstraint("qty > 0", name="qty_positive"),)
    use_id: Mapped[int] = refers("stock_use.id", primary_key=True)
    item_id: Mapped[int] = refers("item.id")
    place_id: Mapped[int] = refers("place.id")
    qty: Mapped[int]
    cost: Mapped[int]
