"""Rows of tools and their wear, in thousandths of an ordinary horse."""

from datetime import date

from sqlalchemy import CheckConstraint
from sqlalchemy.orm import Mapped, mapped_column

from backoffice.db import Base, Choice, Numbered, Versioned, personal, refers

TOOL_KINDS = ("knife", "rasp", "nippers", "clinchers", "hammer", "stand", "forge", "gas", "other")
STAGES = ("new", "finishing", "hot")
EVENTS = (
    "bought", "sharpened", "reground", "went_dull", "staged", "looked_at", "leaned", "slipped",
    "fell", "repaired", "put_away",
)  # fmt: skip


class Tool(Versioned, Base):
    """A tool in a kit. ``share`` is its part of that kind's work, of a thousand."""

    __tablename__ = "tool"
    kind = "record"
    rules = (
        CheckConstraint("share >= 0 AND share <= 1000", name="share_of_thousand"),
        CheckConstraint("life > 0", name="life_positive"),
        CheckConstraint("edge > 0", name="edge_positive"),
    )
    sort: Mapped[str] = mapped_column(Choice(*TOOL_KINDS))
    name: Mapped[str]
    place_id: Mapped[int] = refers("place.id", index=True)
    share: Mapped[int]
    price: Mapped[int | None]
    scrap: Mapped[int]
    life: Mapped[int | None]
    edge: Mapped[int | None]
    edge_cost: Mapped[int]
    stage: Mapped[str | None] = mapped_column(Choice(*STAGES))
    look_days: Mapped[int | None]
    bought: Mapped[date | None]
    hidden: Mapped[bool]


class ToolEvent(Numbered, Base):
    """Something that happened to a tool: sharpened, looked at, fallen on."""

    __tablename__ = "tool_event"
    kind = "ledger"
    entry_id: Mapped[int] = refers("entry.id")
    tool_id: Mapped[int] = refers("tool.id", index=True)
    sort: Mapped[str] = mapped_column(Choice(*EVENTS))
    units: Mapped[int]
    cost: Mapped[int]


class ToolNote(Numbered, Base):
    """What was said about a tool's event."""

    __tablename__ = "tool_note"
    kind = "emptiable"
    event_id: Mapped[int] = refers("tool_event.id", unique=True)
    note: Mapped[str | None] = personal()


class Wear(Numbered, Base):
    """Work one tool did, and its share of the tool's cost; taken back by a row that names it."""

    __tablename__ = "wear"
    kind = "ledger"
    entry_id: Mapped[int] = refers("entry.id")
    tool_id: Mapped[int] = refers("tool.id", index=True)
    units: Mapped[int]
    cost: Mapped[int]
    undoes_id: Mapped[int | None] = refers("wear.id", unique=True)


class ToolState(Base):
    """Work done since the last sharpening and in all, and when it was last looked at."""

    __tablename__ = "tool_state"
    kind = "cache"
    tool_id: Mapped[int] = refers("tool.id", primary_key=True)
    since: Mapped[int]
    total: Mapped[int]
    service_day: Mapped[date | None]
    look_day: Mapped[date | None]
    trouble: Mapped[str | None] = mapped_column(Choice("look_first", "do_not_use"))
