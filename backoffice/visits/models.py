"""Rows of visits: the facts recorded, the work made of them, its prices and its result."""

from datetime import date, datetime

from sqlalchemy import CheckConstraint, Index, UniqueConstraint, text
from sqlalchemy.orm import Mapped, mapped_column

from backoffice.db import Base, Choice, Numbered, Versioned, personal, refers
from backoffice.units import Foot, FootWork

OUTCOMES = ("planned", "done", "part", "absent")
LINE_KINDS = ("service", "addon", "travel", "minimum", "discount", "told")


class Visit(Versioned, Base):
    """One farrier at one yard on one day. ``key`` can be made without a connection.

    Up to fact ``closed_seq`` what was said of the visit as a whole has been taken in.
    """

    __tablename__ = "visit"
    kind = "record"
    key: Mapped[str] = mapped_column(unique=True)
    day: Mapped[date] = mapped_column(index=True)
    farrier_id: Mapped[int] = refers("farrier.id")
    place_id: Mapped[int] = refers("place.id")
    yard_id: Mapped[int | None] = refers("yard.id", index=True)
    sort: Mapped[str] = mapped_column(Choice("stop", "counter", "history"))
    ground: Mapped[str] = mapped_column(Choice("ordinary", "mud", "dry", "sand"))
    place_no: Mapped[int]
    drive: Mapped[int]
    drive_told: Mapped[bool]
    helper_id: Mapped[int | None] = refers("farrier.id")
    closed_seq: Mapped[int | None]


class Fact(Base):
    """Something that was said about a visit; only ever added. ``data`` is JSON."""

    __tablename__ = "fact"
    kind = "emptiable"
    rules = (
        Index("ix_fact_paid", "visit_id", sqlite_where=text("sort = 'paid'"),
              postgresql_where=text("sort = 'paid'")),
    )  # fmt: skip
    seq: Mapped[int] = mapped_column(primary_key=True)
    id: Mapped[str] = mapped_column(unique=True)
    visit_id: Mapped[int] = refers("visit.id", index=True)
    subject: Mapped[str]
    sort: Mapped[str]
    v: Mapped[int]
    device: Mapped[str]
    counter: Mapped[int]
    recorded_at: Mapped[datetime]
    user_id: Mapped[int | None] = refers("app_user.id")
    corrects: Mapped[str | None]
    data: Mapped[str | None] = personal()


class Work(Numbered, Base):
    """One horse at a visit: made from its facts until it is closed, then fixed."""

    __tablename__ = "work"
    kind = "cache"
    rules = (
        UniqueConstraint("visit_id", "subject"),
        Index("ix_work_finishes", "finishes_id", sqlite_where=text("finishes_id IS NOT NULL"),
              postgresql_where=text("finishes_id IS NOT NULL")),
        Index("ix_work_part", "horse_id", sqlite_where=text("outcome = 'part'"),
              postgresql_where=text("outcome = 'part'")),
        Index("ix_work_open", "visit_id", sqlite_where=text("closing_entry_id IS NULL"),
              postgresql_where=text("closing_entry_id IS NULL")),
    )  # fmt: skip
    visit_id: Mapped[int] = refers("visit.id", index=True)
    subject: Mapped[str]
    place_no: Mapped[int]
    horse_id: Mapped[int | None] = refers("horse.id", index=True)
    words: Mapped[str | None] = personal()
    note: Mapped[str | None] = personal()
    type_id: Mapped[int | None] = refers("horse_type.id")
    service_id: Mapped[int | None] = refers("service.id")
    outcome: Mapped[str] = mapped_column(Choice(*OUTCOMES))
    finishes_id: Mapped[int | None] = refers("work.id")
    booked: Mapped[int | None]
    told: Mapped[int | None]
    travel: Mapped[int]
    travel_told: Mapped[int | None]
    minutes: Mapped[int]
    minutes_told: Mapped[bool]
    closing_entry_id: Mapped[int | None] = refers("entry.id")
    closed_seq: Mapped[int | None]
    pricing_no: Mapped[int | None]


class WorkFoot(Numbered, Base):
    """What was planned for a foot and what was done; ``lost``, the shoe had come off before."""

    __tablename__ = "foot"
    kind = "cache"
    rules = (
        Index(
            "ix_foot_lost",
            "work_id",
            sqlite_where=text("lost IS NOT NULL"),
            postgresql_where=text("lost IS NOT NULL"),
        ),
        UniqueConstraint("work_id", "foot"),
        CheckConstraint(
            "done IN ('new', 'reset') OR (shoe_item_id IS NULL AND nails IS NULL)",
            name="only_shod_has_shoe",
        ),
        CheckConstraint("nails BETWEEN 1 AND 16", name="nails_in_a_shoe"),
    )
    work_id: Mapped[int] = refers("work.id")
    foot: Mapped[str] = mapped_column(Choice.of(Foot))
    planned: Mapped[str] = mapped_column(Choice.of(FootWork))
    done: Mapped[str] = mapped_column(Choice.of(FootWork))
    shoe_item_id: Mapped[int | None] = refers("item.id")
    nail_item_id: Mapped[int | None] = refers("item.id")
    pad_item_id: Mapped[int | None] = refers("item.id")
    nails: Mapped[int | None]
    lost: Mapped[str | None] = mapped_column(Choice("found", "gone"))


class WorkPayer(Numbered, Base):
    """Who pays for a work this once, in the order that takes odd cents; no row, as always."""

    __tablename__ = "work_payer"
    kind = "cache"
    rules = (
        UniqueConstraint("work_id", "place_no"),
        CheckConstraint("parts > 0", name="parts_positive"),
    )
    work_id: Mapped[int] = refers("work.id")
    place_no: Mapped[int]
    client_id: Mapped[int] = refers("client.id")
    parts: Mapped[int]


class Material(Numbered, Base):
    """What a work took from stock, foot by foot; no item means it is not known yet."""

    __tablename__ = "material"
    kind = "cache"
    rules = (
        Index("ix_material_unknown", "work_id",
              sqlite_where=text("item_id IS NULL OR qty = 0"),
              postgresql_where=text("item_id IS NULL OR qty = 0")),
    )  # fmt: skip
    work_id: Mapped[int] = refers("work.id", index=True)
    foot: Mapped[str | None] = mapped_column(Choice.of(Foot))
    item_id: Mapped[int | None] = refers("item.id")
    qty: Mapped[int]
    waste: Mapped[bool]
    use_id: Mapped[int | None] = refers("stock_use.id", unique=True)


class WorkTool(Numbered, Base):
    """Which wear a work put on a tool."""

    __tablename__ = "work_tool"
    kind = "cache"
    work_id: Mapped[int] = refers("work.id", index=True)
    wear_id: Mapped[int] = refers("wear.id", unique=True)


class Wears(Base):
    """What a horse wears on a foot: the last shoe nailed on there; a trim does not change it."""

    __tablename__ = "wears"
    kind = "cache"
    horse_id: Mapped[int] = refers("horse.id", primary_key=True)
    foot: Mapped[str] = mapped_column(Choice.of(Foot), primary_key=True)
    work_id: Mapped[int | None] = refers("work.id")
    shoe_item_id: Mapped[int | None] = refers("item.id")
    nail_item_id: Mapped[int | None] = refers("item.id")
    pad_item_id: Mapped[int | None] = refers("item.id")
    nails: Mapped[int | None]
    resets: Mapped[int]


class NextTime(Base):
    """What is planned for a horse next: proposed from its own pattern, or set by the farrier."""

    __tablename__ = "next_time"
    kind = "record"
    horse_id: Mapped[int] = refers("horse.id", primary_key=True)
    service_id: Mapped[int | None] = refers("service.id")
    day: Mapped[date | None]
    note: Mapped[str | None] = personal()
    proposed: Mapped[bool]


class HorseState(Base):
    """When a horse was last done and when it is due."""

    __tablename__ = "horse_state"
    kind = "cache"
    horse_id: Mapped[int] = refers("horse.id", primary_key=True)
    last_work_id: Mapped[int] = refers("work.id")
    last_day: Mapped[date]
    due_day: Mapped[date | None] = mapped_column(index=True)


class Pricing(Numbered, Base):
    """One version of the price of a work; the work names the number of the live one."""

    __tablename__ = "pricing"
    kind = "ledger"
    rules = (UniqueConstraint("work_id", "no"),)
    work_id: Mapped[int] = refers("work.id")
    entry_id: Mapped[int] = refers("entry.id")
    no: Mapped[int]


class PriceLine(Numbered, Base):
    """One line of a price, with its reason as a code and facts. ``waived`` was not charged."""

    __tablename__ = "price_line"
    kind = "ledger"
    pricing_id: Mapped[int] = refers("pricing.id", index=True)
    sort: Mapped[str] = mapped_column(Choice(*LINE_KINDS))
    service_id: Mapped[int | None] = refers("service.id")
    qty: Mapped[int]
    quoted: Mapped[int]
    net: Mapped[int]
    waived: Mapped[int]
    tax_kind: Mapped[str] = mapped_column(Choice("labour", "goods", "travel"))
    category: Mapped[str] = mapped_column(Choice("S", "Z", "E", "O"))
    rate_ppm: Mapped[int]
    reason: Mapped[str]
    facts: Mapped[str]


class PriceShare(Numbered, Base):
    """One payer's part of a line; no client means the payer is still to be found out."""

    __tablename__ = "price_share"
    kind = "ledger"
    rules = (
        Index("uq_price_share_line_client", "line_id", text("coalesce(client_id, 0)"), unique=True),
    )
    line_id: Mapped[int] = refers("price_line.id")
    client_id: Mapped[int | None] = refers("client.id")
    quoted: Mapped[int]
    net: Mapped[int]


class Unbilled(Base):
    """A share that is on no bill yet. Those with a client make his ready bill."""

    __tablename__ = "unbilled"
    kind = "cache"
    rules = (
        Index("ix_unbilled_to_find_out", "work_id", sqlite_where=text("client_id IS NULL"),
              postgresql_where=text("client_id IS NULL")),
    )  # fmt: skip
    share_id: Mapped[int] = refers("price_share.id", primary_key=True)
    client_id: Mapped[int | None] = refers("client.id", index=True)
    work_id: Mapped[int] = refers("work.id", index=True)
    net: Mapped[int]


class Result(Numbered, Base):
    """What a work earned and cost, for one payer, as it was at closing."""

    __tablename__ = "result"
    kind = "cache"
    rules = (
        Index("uq_result_work_client", "work_id", text("coalesce(client_id, 0)"), unique=True),
        Index("ix_result_client_day", "client_id", "day"),
    )
    work_id: Mapped[int] = refers("work.id")
    client_id: Mapped[int | None] = refers("client.id")
    day: Mapped[date] = mapped_column(index=True)
    farrier_id: Mapped[int] = refers("farrier.id")
    yard_id: Mapped[int | None] = refers("yard.id")
    type_id: Mapped[int | None] = refers("horse_type.id")
    horse_id: Mapped[int | None] = refers("horse.id")
    service_id: Mapped[int | None] = refers("service.id")
    net: Mapped[int]
    material: Mapped[int]
    drive: Mapped[int]
    tool: Mapped[int]
    minutes: Mapped[int]
    minutes_est: Mapped[int]
    drive_est: Mapped[int]
    material_est: Mapped[int]
