"""the first tables."""

import sqlalchemy as sa
from alembic import op

from backoffice import db

revision = "0001"
down_revision = None


def upgrade() -> None:
    """Bring the schema forward."""
    op.create_table(
        "client",
        sa.Column("id", db.Whole(), nullable=False),
        sa.Column("name", db.Text(), nullable=True),
        sa.Column("address", db.Text(), nullable=True),
        sa.Column("phone", db.Text(), nullable=True),
        sa.Column("email", db.Text(), nullable=True),
        sa.Column("notes", db.Text(), nullable=True),
        sa.Column("search_key", db.Text(), nullable=True),
        sa.Column("sort", db.Choice(), nullable=False),
        sa.Column("bill_when", db.Choice(), nullable=False),
        sa.Column("bill_how", db.Choice(), nullable=False),
        sa.Column("terms_days", db.Whole(), nullable=True),
        sa.Column("hidden", db.YesNo(), nullable=False),
        sa.Column("erased_at", db.Instant(), nullable=True),
        sa.Column("version", db.Whole(), nullable=False),
        sa.CheckConstraint(
            "bill_how IN ('paper', 'text', 'email')", name=op.f("ck_client_bill_how_word")
        ),
        sa.CheckConstraint(
            "bill_when IN ('on_the_spot', 'tonight', 'weekly', 'monthly')",
            name=op.f("ck_client_bill_when_word"),
        ),
        sa.CheckConstraint("sort IN ('private', 'business')", name=op.f("ck_client_sort_word")),
        sa.CheckConstraint("hidden IN (0, 1)", name=op.f("ck_client_hidden_word")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_client")),
        info={"kind": "record"},
        sqlite_strict=True,
    )
    op.create_index(op.f("ix_client_search_key"), "client", ["search_key"], unique=False)
    op.create_table(
        "file",
        sa.Column("id", db.Whole(), nullable=False),
        sa.Column("sha256", db.Text(), nullable=False),
        sa.Column("size", db.Whole(), nullable=False),
        sa.Column("media_type", db.Choice(), nullable=False),
        sa.Column("name", db.Text(), nullable=True),
        sa.CheckConstraint(
            "media_type IN ('image/jpeg', 'image/png', 'image/webp', 'application/pdf')",
            name=op.f("ck_file_media_type_word"),
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_file")),
        sa.UniqueConstraint("sha256", name=op.f("uq_file_sha256")),
        info={"kind": "emptiable"},
        sqlite_strict=True,
    )
    op.create_table(
        "form_key",
        sa.Column("key", db.Text(), nullable=False),
        sa.Column("fingerprint", db.Text(), nullable=False),
        sa.Column("location", db.Text(), nullable=False),
        sa.Column("user_id", db.Whole(), nullable=True),
        sa.Column("at", db.Instant(), nullable=False),
        sa.PrimaryKeyConstraint("key", name=op.f("pk_form_key")),
        info={"kind": "plumbing"},
        sqlite_strict=True,
    )
    op.create_table(
        "horse_type",
        sa.Column("id", db.Whole(), nullable=False),
        sa.Column("name", db.Text(), nullable=False),
        sa.Column("wear_factor", db.Whole(), nullable=False),
        sa.Column("time_factor", db.Whole(), nullable=False),
        sa.Column("nails", db.Whole(), nullable=False),
        sa.Column("shod_days", db.Whole(), nullable=False),
        sa.Column("trim_days", db.Whole(), nullable=False),
        sa.Column("hidden", db.YesNo(), nullable=False),
        sa.Column("version", db.Whole(), nullable=False),
        sa.CheckConstraint("hidden IN (0, 1)", name=op.f("ck_horse_type_hidden_word")),
        sa.CheckConstraint("time_factor > 0", name=op.f("ck_horse_type_time_factor_positive")),
        sa.CheckConstraint("wear_factor > 0", name=op.f("ck_horse_type_wear_factor_positive")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_horse_type")),
        sa.UniqueConstraint("name", name=op.f("uq_horse_type_name")),
        info={"kind": "record"},
        sqlite_strict=True,
    )
    op.create_table(
        "period_lock",
        sa.Column("id", db.Whole(), nullable=False),
        sa.Column("upto", db.Day(), nullable=True),
        sa.Column("reason", db.Text(), nullable=False),
        sa.Column("recorded_at", db.Instant(), nullable=False),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_period_lock")),
        info={"kind": "ledger"},
        sqlite_strict=True,
    )
    op.create_table(
        "place",
        sa.Column("id", db.Whole(), nullable=False),
        sa.Column("name", db.Text(), nullable=False),
        sa.Column("sort", db.Choice(), nullable=False),
        sa.Column("hidden", db.YesNo(), nullable=False),
        sa.Column("version", db.Whole(), nullable=False),
        sa.CheckConstraint("sort IN ('truck', 'shop')", name=op.f("ck_place_sort_word")),
        sa.CheckConstraint("hidden IN (0, 1)", name=op.f("ck_place_hidden_word")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_place")),
        sa.UniqueConstraint("name", name=op.f("uq_place_name")),
        info={"kind": "record"},
        sqlite_strict=True,
    )
    op.create_table(
        "practice",
        sa.Column("id", db.Whole(), nullable=False),
        sa.Column("name", db.Text(), nullable=False),
        sa.Column("address", db.Text(), nullable=False),
        sa.Column("phone", db.Text(), nullable=False),
        sa.Column("email", db.Text(), nullable=False),
        sa.Column("how_to_pay", db.Text(), nullable=False),
        sa.Column("country", db.Text(), nullable=False),
        sa.Column("currency", db.Text(), nullable=False),
        sa.Column("zone", db.Text(), nullable=False),
        sa.Column("words", db.Choice(), nullable=False),
        sa.Column("paper", db.Choice(), nullable=False),
        sa.Column("prices_include_tax", db.YesNo(), nullable=False),
        sa.Column("tax_number", db.Text(), nullable=False),
        sa.Column("demo_today", db.Day(), nullable=True),
        sa.Column("version", db.Whole(), nullable=False),
        sa.CheckConstraint("paper IN ('us-letter', 'a4')", name=op.f("ck_practice_paper_word")),
        sa.CheckConstraint("words IN ('us', 'uk')", name=op.f("ck_practice_words_word")),
        sa.CheckConstraint("id = 1", name=op.f("ck_practice_only_one")),
        sa.CheckConstraint(
            "prices_include_tax IN (0, 1)", name=op.f("ck_practice_prices_include_tax_word")
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_practice")),
        info={"kind": "record"},
        sqlite_strict=True,
    )
    op.create_table(
        "series",
        sa.Column("name", db.Text(), nullable=False),
        sa.Column("first_no", db.Whole(), nullable=False),
        sa.Column("last_no", db.Whole(), nullable=False),
        sa.Column("last_hash", db.Text(), nullable=False),
        sa.PrimaryKeyConstraint("name", name=op.f("pk_series")),
        info={"kind": "plumbing"},
        sqlite_strict=True,
    )
    op.create_table(
        "service",
        sa.Column("id", db.Whole(), nullable=False),
        sa.Column("name", db.Text(), nullable=False),
        sa.Column("front", db.Choice(), nullable=False),
        sa.Column("hind", db.Choice(), nullable=False),
        sa.Column("minutes", db.Whole(), nullable=False),
        sa.Column("place_no", db.Whole(), nullable=False),
        sa.Column("hidden", db.YesNo(), nullable=False),
        sa.Column("version", db.Whole(), nullable=False),
        sa.CheckConstraint(
            "front IN ('new', 'reset', 'trim', 'pulled', 'none')",
            name=op.f("ck_service_front_word"),
        ),
        sa.CheckConstraint(
            "hind IN ('new', 'reset', 'trim', 'pulled', 'none')", name=op.f("ck_service_hind_word")
        ),
        sa.CheckConstraint("hidden IN (0, 1)", name=op.f("ck_service_hidden_word")),
        sa.CheckConstraint("minutes >= 0", name=op.f("ck_service_minutes_not_negative")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_service")),
        sa.UniqueConstraint("name", name=op.f("uq_service_name")),
        info={"kind": "record"},
        sqlite_strict=True,
    )
    op.create_table(
        "setting",
        sa.Column("id", db.Whole(), nullable=False),
        sa.Column("name", db.Text(), nullable=False),
        sa.Column("value", db.Whole(), nullable=False),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_setting")),
        sa.UniqueConstraint("name", name=op.f("uq_setting_name")),
        info={"kind": "record"},
        sqlite_strict=True,
    )
    op.create_table(
        "sign_in_tries",
        sa.Column("name", db.Text(), nullable=False),
        sa.Column("count", db.Whole(), nullable=False),
        sa.Column("last_at", db.Instant(), nullable=False),
        sa.PrimaryKeyConstraint("name", name=op.f("pk_sign_in_tries")),
        info={"kind": "plumbing"},
        sqlite_strict=True,
    )
    op.create_table(
        "supplier",
        sa.Column("id", db.Whole(), nullable=False),
        sa.Column("name", db.Text(), nullable=False),
        sa.Column("contact", db.Text(), nullable=False),
        sa.Column("hidden", db.YesNo(), nullable=False),
        sa.Column("version", db.Whole(), nullable=False),
        sa.CheckConstraint("hidden IN (0, 1)", name=op.f("ck_supplier_hidden_word")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_supplier")),
        info={"kind": "record"},
        sqlite_strict=True,
    )
    op.create_table(
        "tax_rate",
        sa.Column("id", db.Whole(), nullable=False),
        sa.Column("tax_kind", db.Choice(), nullable=False),
        sa.Column("from_day", db.Day(), nullable=False),
        sa.Column("category", db.Choice(), nullable=False),
        sa.Column("rate_ppm", db.Whole(), nullable=False),
        sa.CheckConstraint(
            "category = 'S' OR rate_ppm = 0", name=op.f("ck_tax_rate_only_standard_has_rate")
        ),
        sa.CheckConstraint(
            "category IN ('S', 'Z', 'E', 'O')", name=op.f("ck_tax_rate_category_word")
        ),
        sa.CheckConstraint(
            "tax_kind IN ('labour', 'goods', 'travel')", name=op.f("ck_tax_rate_tax_kind_word")
        ),
        sa.CheckConstraint(
            "rate_ppm >= 0 AND rate_ppm <= 1000000", name=op.f("ck_tax_rate_rate_of_whole")
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_tax_rate")),
        sa.UniqueConstraint("tax_kind", "from_day", name=op.f("uq_tax_rate_tax_kind_from_day")),
        info={"kind": "record"},
        sqlite_strict=True,
    )
    op.create_table(
        "yard",
        sa.Column("id", db.Whole(), nullable=False),
        sa.Column("name", db.Text(), nullable=True),
        sa.Column("address", db.Text(), nullable=True),
        sa.Column("gate_note", db.Text(), nullable=True),
        sa.Column("notes", db.Text(), nullable=True),
        sa.Column("ground", db.Choice(), nullable=True),
        sa.Column("miles", db.Whole(), nullable=True),
        sa.Column("call_out", db.Whole(), nullable=True),
        sa.Column("hidden", db.YesNo(), nullable=False),
        sa.Column("version", db.Whole(), nullable=False),
        sa.CheckConstraint(
            "ground IN ('ordinary', 'mud', 'dry', 'sand')", name=op.f("ck_yard_ground_word")
        ),
        sa.CheckConstraint("call_out >= 0", name=op.f("ck_yard_call_out_not_negative")),
        sa.CheckConstraint("hidden IN (0, 1)", name=op.f("ck_yard_hidden_word")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_yard")),
        info={"kind": "record"},
        sqlite_strict=True,
    )
    op.create_table(
        "agreed_price",
        sa.Column("id", db.Whole(), nullable=False),
        sa.Column("client_id", db.Whole(), nullable=False),
        sa.Column("service_id", db.Whole(), nullable=False),
        sa.Column("from_day", db.Day(), nullable=False),
        sa.Column("until_day", db.Day(), nullable=True),
        sa.Column("amount", db.Whole(), nullable=False),
        sa.CheckConstraint("amount >= 0", name=op.f("ck_agreed_price_amount_not_negative")),
        sa.ForeignKeyConstraint(
            ["client_id"],
            ["client.id"],
            name=op.f("fk_agreed_price_client_id"),
            ondelete="RESTRICT",
        ),
        sa.ForeignKeyConstraint(
            ["service_id"],
            ["service.id"],
            name=op.f("fk_agreed_price_service_id"),
            ondelete="RESTRICT",
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_agreed_price")),
        sa.UniqueConstraint(
            "client_id",
            "service_id",
            "from_day",
            name=op.f("uq_agreed_price_client_id_service_id_from_day"),
        ),
        info={"kind": "record"},
        sqlite_strict=True,
    )
    op.create_table(
        "balance",
        sa.Column("client_id", db.Whole(), nullable=False),
        sa.Column("owed", db.Whole(), nullable=False),
        sa.ForeignKeyConstraint(
            ["client_id"], ["client.id"], name=op.f("fk_balance_client_id"), ondelete="RESTRICT"
        ),
        sa.PrimaryKeyConstraint("client_id", name=op.f("pk_balance")),
        info={"kind": "cache"},
        sqlite_strict=True,
    )
    op.create_table(
        "farrier",
        sa.Column("id", db.Whole(), nullable=False),
        sa.Column("name", db.Text(), nullable=False),
        sa.Column("place_id", db.Whole(), nullable=False),
        sa.Column("hidden", db.YesNo(), nullable=False),
        sa.Column("version", db.Whole(), nullable=False),
        sa.CheckConstraint("hidden IN (0, 1)", name=op.f("ck_farrier_hidden_word")),
        sa.ForeignKeyConstraint(
            ["place_id"], ["place.id"], name=op.f("fk_farrier_place_id"), ondelete="RESTRICT"
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_farrier")),
        info={"kind": "record"},
        sqlite_strict=True,
    )
    op.create_table(
        "horse",
        sa.Column("id", db.Whole(), nullable=False),
        sa.Column("name", db.Text(), nullable=True),
        sa.Column("words", db.Text(), nullable=True),
        sa.Column("notes", db.Text(), nullable=True),
        sa.Column("search_key", db.Text(), nullable=True),
        sa.Column("type_id", db.Whole(), nullable=True),
        sa.Column("yard_id", db.Whole(), nullable=True),
        sa.Column("weight_lb", db.Whole(), nullable=True),
        sa.Column("cycle_days", db.Whole(), nullable=True),
        sa.Column("hidden", db.YesNo(), nullable=False),
        sa.Column("version", db.Whole(), nullable=False),
        sa.CheckConstraint("cycle_days > 0", name=op.f("ck_horse_cycle_positive")),
        sa.CheckConstraint("hidden IN (0, 1)", name=op.f("ck_horse_hidden_word")),
        sa.CheckConstraint("weight_lb > 0", name=op.f("ck_horse_weight_positive")),
        sa.ForeignKeyConstraint(
            ["type_id"], ["horse_type.id"], name=op.f("fk_horse_type_id"), ondelete="RESTRICT"
        ),
        sa.ForeignKeyConstraint(
            ["yard_id"], ["yard.id"], name=op.f("fk_horse_yard_id"), ondelete="RESTRICT"
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_horse")),
        info={"kind": "record"},
        sqlite_strict=True,
    )
    op.create_index(op.f("ix_horse_search_key"), "horse", ["search_key"], unique=False)
    op.create_index(op.f("ix_horse_yard_id"), "horse", ["yard_id"], unique=False)
    op.create_table(
        "item",
        sa.Column("id", db.Whole(), nullable=False),
        sa.Column("sort", db.Choice(), nullable=False),
        sa.Column("name", db.Text(), nullable=False),
        sa.Column("size_text", db.Text(), nullable=False),
        sa.Column("size_key", db.Text(), nullable=False),
        sa.Column("pattern", db.Choice(), nullable=False),
        sa.Column("pack", db.Whole(), nullable=False),
        sa.Column("care", db.Text(), nullable=False),
        sa.Column("supplier_id", db.Whole(), nullable=True),
        sa.Column("hidden", db.YesNo(), nullable=False),
        sa.Column("version", db.Whole(), nullable=False),
        sa.CheckConstraint(
            "pattern IN ('either', 'front', 'hind')", name=op.f("ck_item_pattern_word")
        ),
        sa.CheckConstraint(
            "sort IN ('shoe', 'nail', 'pad', 'packing', 'rasp', 'other')",
            name=op.f("ck_item_sort_word"),
        ),
        sa.CheckConstraint("hidden IN (0, 1)", name=op.f("ck_item_hidden_word")),
        sa.CheckConstraint("pack > 0", name=op.f("ck_item_pack_positive")),
        sa.ForeignKeyConstraint(
            ["supplier_id"], ["supplier.id"], name=op.f("fk_item_supplier_id"), ondelete="RESTRICT"
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_item")),
        info={"kind": "record"},
        sqlite_strict=True,
    )
    op.create_table(
        "price",
        sa.Column("id", db.Whole(), nullable=False),
        sa.Column("service_id", db.Whole(), nullable=False),
        sa.Column("type_id", db.Whole(), nullable=True),
        sa.Column("from_day", db.Day(), nullable=False),
        sa.Column("amount", db.Whole(), nullable=False),
        sa.CheckConstraint("amount >= 0", name=op.f("ck_price_amount_not_negative")),
        sa.ForeignKeyConstraint(
            ["service_id"], ["service.id"], name=op.f("fk_price_service_id"), ondelete="RESTRICT"
        ),
        sa.ForeignKeyConstraint(
            ["type_id"], ["horse_type.id"], name=op.f("fk_price_type_id"), ondelete="RESTRICT"
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_price")),
        info={"kind": "record"},
        sqlite_strict=True,
    )
    op.create_index(
        "uq_price_service_type_day",
        "price",
        ["service_id", sa.literal_column("coalesce(type_id, 0)"), "from_day"],
        unique=True,
    )
    op.create_table(
        "tool",
        sa.Column("id", db.Whole(), nullable=False),
        sa.Column("sort", db.Choice(), nullable=False),
        sa.Column("name", db.Text(), nullable=False),
        sa.Column("place_id", db.Whole(), nullable=False),
        sa.Column("share", db.Whole(), nullable=False),
        sa.Column("price", db.Whole(), nullable=True),
        sa.Column("scrap", db.Whole(), nullable=False),
        sa.Column("life", db.Whole(), nullable=True),
        sa.Column("edge", db.Whole(), nullable=True),
        sa.Column("edge_cost", db.Whole(), nullable=False),
        sa.Column("stage", db.Choice(), nullable=True),
        sa.Column("look_days", db.Whole(), nullable=True),
        sa.Column("bought", db.Day(), nullable=True),
        sa.Column("hidden", db.YesNo(), nullable=False),
        sa.Column("version", db.Whole(), nullable=False),
        sa.CheckConstraint(
            "sort IN ('knife', 'rasp', 'nippers', 'clinchers', 'hammer', 'stand', 'forge', 'gas', 'other')",
            name=op.f("ck_tool_sort_word"),
        ),
        sa.CheckConstraint("stage IN ('new', 'finishing', 'hot')", name=op.f("ck_tool_stage_word")),
        sa.CheckConstraint("edge > 0", name=op.f("ck_tool_edge_positive")),
        sa.CheckConstraint("hidden IN (0, 1)", name=op.f("ck_tool_hidden_word")),
        sa.CheckConstraint("life > 0", name=op.f("ck_tool_life_positive")),
        sa.CheckConstraint("share >= 0 AND share <= 1000", name=op.f("ck_tool_share_of_thousand")),
        sa.ForeignKeyConstraint(
            ["place_id"], ["place.id"], name=op.f("fk_tool_place_id"), ondelete="RESTRICT"
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_tool")),
        info={"kind": "record"},
        sqlite_strict=True,
    )
    op.create_index(op.f("ix_tool_place_id"), "tool", ["place_id"], unique=False)
    op.create_table(
        "app_user",
        sa.Column("id", db.Whole(), nullable=False),
        sa.Column("name", db.Text(), nullable=True),
        sa.Column("role", db.Choice(), nullable=False),
        sa.Column("password_hash", db.Text(), nullable=True),
        sa.Column("farrier_id", db.Whole(), nullable=True),
        sa.Column("hidden", db.YesNo(), nullable=False),
        sa.Column("version", db.Whole(), nullable=False),
        sa.CheckConstraint(
            "role IN ('owner', 'field', 'books')", name=op.f("ck_app_user_role_word")
        ),
        sa.CheckConstraint("hidden IN (0, 1)", name=op.f("ck_app_user_hidden_word")),
        sa.ForeignKeyConstraint(
            ["farrier_id"], ["farrier.id"], name=op.f("fk_app_user_farrier_id"), ondelete="RESTRICT"
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_app_user")),
        info={"kind": "record"},
        sqlite_strict=True,
    )
    op.create_table(
        "horse_flag",
        sa.Column("id", db.Whole(), nullable=False),
        sa.Column("horse_id", db.Whole(), nullable=False),
        sa.Column("flag", db.Choice(), nullable=False),
        sa.Column("note", db.Text(), nullable=True),
        sa.Column("from_day", db.Day(), nullable=False),
        sa.Column("until_day", db.Day(), nullable=True),
        sa.CheckConstraint(
            "flag IN ('kicks', 'leans', 'two_people', 'sedation', 'do_not_tie', 'head_shy', 'other')",
            name=op.f("ck_horse_flag_flag_word"),
        ),
        sa.ForeignKeyConstraint(
            ["horse_id"], ["horse.id"], name=op.f("fk_horse_flag_horse_id"), ondelete="RESTRICT"
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_horse_flag")),
        info={"kind": "record"},
        sqlite_strict=True,
    )
    op.create_index(op.f("ix_horse_flag_horse_id"), "horse_flag", ["horse_id"], unique=False)
    op.create_table(
        "horse_life",
        sa.Column("id", db.Whole(), nullable=False),
        sa.Column("horse_id", db.Whole(), nullable=False),
        sa.Column("from_day", db.Day(), nullable=False),
        sa.Column("state", db.Choice(), nullable=False),
        sa.CheckConstraint(
            "state IN ('active', 'sold', 'gone', 'dead')", name=op.f("ck_horse_life_state_word")
        ),
        sa.ForeignKeyConstraint(
            ["horse_id"], ["horse.id"], name=op.f("fk_horse_life_horse_id"), ondelete="RESTRICT"
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_horse_life")),
        sa.UniqueConstraint("horse_id", "from_day", name=op.f("uq_horse_life_horse_id_from_day")),
        info={"kind": "record"},
        sqlite_strict=True,
    )
    op.create_table(
        "next_time",
        sa.Column("horse_id", db.Whole(), nullable=False),
        sa.Column("service_id", db.Whole(), nullable=True),
        sa.Column("day", db.Day(), nullable=True),
        sa.Column("note", db.Text(), nullable=True),
        sa.Column("proposed", db.YesNo(), nullable=False),
        sa.CheckConstraint("proposed IN (0, 1)", name=op.f("ck_next_time_proposed_word")),
        sa.ForeignKeyConstraint(
            ["horse_id"], ["horse.id"], name=op.f("fk_next_time_horse_id"), ondelete="RESTRICT"
        ),
        sa.ForeignKeyConstraint(
            ["service_id"],
            ["service.id"],
            name=op.f("fk_next_time_service_id"),
            ondelete="RESTRICT",
        ),
        sa.PrimaryKeyConstraint("horse_id", name=op.f("pk_next_time")),
        info={"kind": "record"},
        sqlite_strict=True,
    )
    op.create_table(
        "on_hand",
        sa.Column("item_id", db.Whole(), nullable=False),
        sa.Column("place_id", db.Whole(), nullable=False),
        sa.Column("qty", db.Whole(), nullable=False),
        sa.Column("last_qty", db.Whole(), nullable=True),
        sa.Column("last_cost", db.Whole(), nullable=True),
        sa.Column("used", db.Whole(), nullable=False),
        sa.Column("wasted", db.Whole(), nullable=False),
        sa.ForeignKeyConstraint(
            ["item_id"], ["item.id"], name=op.f("fk_on_hand_item_id"), ondelete="RESTRICT"
        ),
        sa.ForeignKeyConstraint(
            ["place_id"], ["place.id"], name=op.f("fk_on_hand_place_id"), ondelete="RESTRICT"
        ),
        sa.PrimaryKeyConstraint("item_id", "place_id", name=op.f("pk_on_hand")),
        info={"kind": "cache"},
        sqlite_strict=True,
    )
    op.create_table(
        "payer_set",
        sa.Column("id", db.Whole(), nullable=False),
        sa.Column("horse_id", db.Whole(), nullable=False),
        sa.Column("from_day", db.Day(), nullable=False),
        sa.ForeignKeyConstraint(
            ["horse_id"], ["horse.id"], name=op.f("fk_payer_set_horse_id"), ondelete="RESTRICT"
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_payer_set")),
        sa.UniqueConstraint("horse_id", "from_day", name=op.f("uq_payer_set_horse_id_from_day")),
        info={"kind": "record"},
        sqlite_strict=True,
    )
    op.create_table(
        "recipe",
        sa.Column("id", db.Whole(), nullable=False),
        sa.Column("service_id", db.Whole(), nullable=False),
        sa.Column("item_id", db.Whole(), nullable=False),
        sa.Column("qty", db.Whole(), nullable=False),
        sa.Column("per", db.Choice(), nullable=False),
        sa.CheckConstraint("per IN ('horse', 'shod_foot')", name=op.f("ck_recipe_per_word")),
        sa.CheckConstraint("qty > 0", name=op.f("ck_recipe_qty_positive")),
        sa.ForeignKeyConstraint(
            ["item_id"], ["item.id"], name=op.f("fk_recipe_item_id"), ondelete="RESTRICT"
        ),
        sa.ForeignKeyConstraint(
            ["service_id"], ["service.id"], name=op.f("fk_recipe_service_id"), ondelete="RESTRICT"
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_recipe")),
        sa.UniqueConstraint("service_id", "item_id", name=op.f("uq_recipe_service_id_item_id")),
        info={"kind": "record"},
        sqlite_strict=True,
    )
    op.create_table(
        "tool_state",
        sa.Column("tool_id", db.Whole(), nullable=False),
        sa.Column("since", db.Whole(), nullable=False),
        sa.Column("total", db.Whole(), nullable=False),
        sa.Column("service_day", db.Day(), nullable=True),
        sa.Column("look_day", db.Day(), nullable=True),
        sa.Column("trouble", db.Choice(), nullable=True),
        sa.CheckConstraint(
            "trouble IN ('look_first', 'do_not_use')", name=op.f("ck_tool_state_trouble_word")
        ),
        sa.ForeignKeyConstraint(
            ["tool_id"], ["tool.id"], name=op.f("fk_tool_state_tool_id"), ondelete="RESTRICT"
        ),
        sa.PrimaryKeyConstraint("tool_id", name=op.f("pk_tool_state")),
        info={"kind": "cache"},
        sqlite_strict=True,
    )
    op.create_table(
        "visit",
        sa.Column("id", db.Whole(), nullable=False),
        sa.Column("key", db.Text(), nullable=False),
        sa.Column("day", db.Day(), nullable=False),
        sa.Column("farrier_id", db.Whole(), nullable=False),
        sa.Column("place_id", db.Whole(), nullable=False),
        sa.Column("yard_id", db.Whole(), nullable=True),
        sa.Column("sort", db.Choice(), nullable=False),
        sa.Column("ground", db.Choice(), nullable=False),
        sa.Column("place_no", db.Whole(), nullable=False),
        sa.Column("drive", db.Whole(), nullable=False),
        sa.Column("drive_told", db.YesNo(), nullable=False),
        sa.Column("version", db.Whole(), nullable=False),
        sa.CheckConstraint(
            "ground IN ('ordinary', 'mud', 'dry', 'sand')", name=op.f("ck_visit_ground_word")
        ),
        sa.CheckConstraint(
            "sort IN ('stop', 'counter', 'history')", name=op.f("ck_visit_sort_word")
        ),
        sa.CheckConstraint("drive_told IN (0, 1)", name=op.f("ck_visit_drive_told_word")),
        sa.ForeignKeyConstraint(
            ["farrier_id"], ["farrier.id"], name=op.f("fk_visit_farrier_id"), ondelete="RESTRICT"
        ),
        sa.ForeignKeyConstraint(
            ["place_id"], ["place.id"], name=op.f("fk_visit_place_id"), ondelete="RESTRICT"
        ),
        sa.ForeignKeyConstraint(
            ["yard_id"], ["yard.id"], name=op.f("fk_visit_yard_id"), ondelete="RESTRICT"
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_visit")),
        sa.UniqueConstraint("key", name=op.f("uq_visit_key")),
        info={"kind": "record"},
        sqlite_strict=True,
    )
    op.create_index(op.f("ix_visit_day"), "visit", ["day"], unique=False)
    op.create_index(op.f("ix_visit_yard_id"), "visit", ["yard_id"], unique=False)
    op.create_table(
        "change",
        sa.Column("id", db.Whole(), nullable=False),
        sa.Column("table_name", db.Text(), nullable=False),
        sa.Column("row_id", db.Whole(), nullable=False),
        sa.Column("field", db.Text(), nullable=False),
        sa.Column("before", db.Text(), nullable=True),
        sa.Column("after", db.Text(), nullable=True),
        sa.Column("at", db.Instant(), nullable=False),
        sa.Column("user_id", db.Whole(), nullable=True),
        sa.ForeignKeyConstraint(
            ["user_id"], ["app_user.id"], name=op.f("fk_change_user_id"), ondelete="RESTRICT"
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_change")),
        info={"kind": "emptiable"},
        sqlite_strict=True,
    )
    op.create_table(
        "entry",
        sa.Column("id", db.Whole(), nullable=False),
        sa.Column("day", db.Day(), nullable=False),
        sa.Column("sort", db.Choice(), nullable=False),
        sa.Column("recorded_at", db.Instant(), nullable=False),
        sa.Column("user_id", db.Whole(), nullable=True),
        sa.CheckConstraint(
            "sort IN ('closing', 'correction', 'repricing', 'delivery', 'count', 'transfer', 'tool', 'issue', 'handing_over', 'payment', 'credit')",
            name=op.f("ck_entry_sort_word"),
        ),
        sa.ForeignKeyConstraint(
            ["user_id"], ["app_user.id"], name=op.f("fk_entry_user_id"), ondelete="RESTRICT"
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_entry")),
        info={"kind": "ledger"},
        sqlite_strict=True,
    )
    op.create_index(op.f("ix_entry_day"), "entry", ["day"], unique=False)
    op.create_table(
        "fact",
        sa.Column("seq", db.Whole(), nullable=False),
        sa.Column("id", db.Text(), nullable=False),
        sa.Column("visit_id", db.Whole(), nullable=False),
        sa.Column("subject", db.Text(), nullable=False),
        sa.Column("sort", db.Text(), nullable=False),
        sa.Column("v", db.Whole(), nullable=False),
        sa.Column("device", db.Text(), nullable=False),
        sa.Column("counter", db.Whole(), nullable=False),
        sa.Column("recorded_at", db.Instant(), nullable=False),
        sa.Column("user_id", db.Whole(), nullable=True),
        sa.Column("corrects", db.Text(), nullable=True),
        sa.Column("data", db.Text(), nullable=True),
        sa.ForeignKeyConstraint(
            ["user_id"], ["app_user.id"], name=op.f("fk_fact_user_id"), ondelete="RESTRICT"
        ),
        sa.ForeignKeyConstraint(
            ["visit_id"], ["visit.id"], name=op.f("fk_fact_visit_id"), ondelete="RESTRICT"
        ),
        sa.PrimaryKeyConstraint("seq", name=op.f("pk_fact")),
        sa.UniqueConstraint("id", name=op.f("uq_fact_id")),
        info={"kind": "emptiable"},
        sqlite_strict=True,
    )
    op.create_index(op.f("ix_fact_visit_id"), "fact", ["visit_id"], unique=False)
    op.create_table(
        "payer_part",
        sa.Column("id", db.Whole(), nullable=False),
        sa.Column("set_id", db.Whole(), nullable=False),
        sa.Column("client_id", db.Whole(), nullable=False),
        sa.Column("place_no", db.Whole(), nullable=False),
        sa.Column("parts", db.Whole(), nullable=False),
        sa.CheckConstraint("parts > 0", name=op.f("ck_payer_part_parts_positive")),
        sa.ForeignKeyConstraint(
            ["client_id"], ["client.id"], name=op.f("fk_payer_part_client_id"), ondelete="RESTRICT"
        ),
        sa.ForeignKeyConstraint(
            ["set_id"], ["payer_set.id"], name=op.f("fk_payer_part_set_id"), ondelete="RESTRICT"
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_payer_part")),
        sa.UniqueConstraint("set_id", "place_no", name=op.f("uq_payer_part_set_id_place_no")),
        info={"kind": "record"},
        sqlite_strict=True,
    )
    op.create_index(op.f("ix_payer_part_client_id"), "payer_part", ["client_id"], unique=False)
    op.create_table(
        "sign_in",
        sa.Column("id", db.Whole(), nullable=False),
        sa.Column("token_digest", db.Text(), nullable=False),
        sa.Column("user_id", db.Whole(), nullable=False),
        sa.Column("began_at", db.Instant(), nullable=False),
        sa.Column("seen_at", db.Instant(), nullable=False),
        sa.ForeignKeyConstraint(
            ["user_id"], ["app_user.id"], name=op.f("fk_sign_in_user_id"), ondelete="RESTRICT"
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_sign_in")),
        sa.UniqueConstraint("token_digest", name=op.f("uq_sign_in_token_digest")),
        info={"kind": "plumbing"},
        sqlite_strict=True,
    )
    op.create_table(
        "start_link",
        sa.Column("id", db.Whole(), nullable=False),
        sa.Column("token_digest", db.Text(), nullable=False),
        sa.Column("user_id", db.Whole(), nullable=False),
        sa.Column("expires_at", db.Instant(), nullable=False),
        sa.ForeignKeyConstraint(
            ["user_id"], ["app_user.id"], name=op.f("fk_start_link_user_id"), ondelete="RESTRICT"
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_start_link")),
        sa.UniqueConstraint("token_digest", name=op.f("uq_start_link_token_digest")),
        info={"kind": "plumbing"},
        sqlite_strict=True,
    )
    op.create_table(
        "document",
        sa.Column("id", db.Whole(), nullable=False),
        sa.Column("entry_id", db.Whole(), nullable=False),
        sa.Column("series", db.Choice(), nullable=False),
        sa.Column("no", db.Whole(), nullable=False),
        sa.Column("sort", db.Choice(), nullable=False),
        sa.Column("client_id", db.Whole(), nullable=False),
        sa.Column("issued", db.Day(), nullable=False),
        sa.Column("due", db.Day(), nullable=False),
        sa.Column("net", db.Whole(), nullable=False),
        sa.Column("tax", db.Whole(), nullable=False),
        sa.Column("gross", db.Whole(), nullable=False),
        sa.Column("rounding", db.Whole(), nullable=False),
        sa.Column("credits_id", db.Whole(), nullable=True),
        sa.Column("body", db.Text(), nullable=False),
        sa.Column("digest", db.Text(), nullable=False),
        sa.Column("prev", db.Text(), nullable=False),
        sa.Column("hash", db.Text(), nullable=False),
        sa.CheckConstraint(
            "series IN ('bills', 'corrections', 'opening')", name=op.f("ck_document_series_word")
        ),
        sa.CheckConstraint(
            "sort IN ('invoice', 'credit', 'opening')", name=op.f("ck_document_sort_word")
        ),
        sa.CheckConstraint("gross = net + tax", name=op.f("ck_document_gross_is_net_and_tax")),
        sa.CheckConstraint("no > 0", name=op.f("ck_document_no_positive")),
        sa.ForeignKeyConstraint(
            ["client_id"], ["client.id"], name=op.f("fk_document_client_id"), ondelete="RESTRICT"
        ),
        sa.ForeignKeyConstraint(
            ["credits_id"],
            ["document.id"],
            name=op.f("fk_document_credits_id"),
            ondelete="RESTRICT",
        ),
        sa.ForeignKeyConstraint(
            ["entry_id"], ["entry.id"], name=op.f("fk_document_entry_id"), ondelete="RESTRICT"
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_document")),
        sa.UniqueConstraint("credits_id", name=op.f("uq_document_credits_id")),
        sa.UniqueConstraint("series", "no", name=op.f("uq_document_series_no")),
        info={"kind": "ledger"},
        sqlite_strict=True,
    )
    op.create_index(op.f("ix_document_client_id"), "document", ["client_id"], unique=False)
    op.create_index(op.f("ix_document_issued"), "document", ["issued"], unique=False)
    op.create_table(
        "lot",
        sa.Column("id", db.Whole(), nullable=False),
        sa.Column("entry_id", db.Whole(), nullable=False),
        sa.Column("item_id", db.Whole(), nullable=False),
        sa.Column("supplier_id", db.Whole(), nullable=True),
        sa.Column("qty", db.Whole(), nullable=False),
        sa.Column("cost", db.Whole(), nullable=False),
        sa.Column("expires", db.Day(), nullable=True),
        sa.CheckConstraint("cost >= 0", name=op.f("ck_lot_cost_not_negative")),
        sa.CheckConstraint("qty > 0", name=op.f("ck_lot_qty_positive")),
        sa.ForeignKeyConstraint(
            ["entry_id"], ["entry.id"], name=op.f("fk_lot_entry_id"), ondelete="RESTRICT"
        ),
        sa.ForeignKeyConstraint(
            ["item_id"], ["item.id"], name=op.f("fk_lot_item_id"), ondelete="RESTRICT"
        ),
        sa.ForeignKeyConstraint(
            ["supplier_id"], ["supplier.id"], name=op.f("fk_lot_supplier_id"), ondelete="RESTRICT"
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_lot")),
        info={"kind": "ledger"},
        sqlite_strict=True,
    )
    op.create_index(op.f("ix_lot_item_id"), "lot", ["item_id"], unique=False)
    op.create_table(
        "payment",
        sa.Column("id", db.Whole(), nullable=False),
        sa.Column("entry_id", db.Whole(), nullable=False),
        sa.Column("client_id", db.Whole(), nullable=False),
        sa.Column("visit_id", db.Whole(), nullable=True),
        sa.Column("amount", db.Whole(), nullable=False),
        sa.Column("tip", db.Whole(), nullable=False),
        sa.Column("fee", db.Whole(), nullable=False),
        sa.Column("method", db.Choice(), nullable=False),
        sa.Column("receipt", db.Text(), nullable=True),
        sa.CheckConstraint(
            "method IN ('cash', 'card', 'transfer', 'cheque', 'app', 'other')",
            name=op.f("ck_payment_method_word"),
        ),
        sa.CheckConstraint("amount > 0", name=op.f("ck_payment_amount_positive")),
        sa.CheckConstraint(
            "tip >= 0 AND fee >= 0", name=op.f("ck_payment_tip_and_fee_not_negative")
        ),
        sa.ForeignKeyConstraint(
            ["client_id"], ["client.id"], name=op.f("fk_payment_client_id"), ondelete="RESTRICT"
        ),
        sa.ForeignKeyConstraint(
            ["entry_id"], ["entry.id"], name=op.f("fk_payment_entry_id"), ondelete="RESTRICT"
        ),
        sa.ForeignKeyConstraint(
            ["visit_id"], ["visit.id"], name=op.f("fk_payment_visit_id"), ondelete="RESTRICT"
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_payment")),
        info={"kind": "ledger"},
        sqlite_strict=True,
    )
    op.create_index(op.f("ix_payment_client_id"), "payment", ["client_id"], unique=False)
    op.create_table(
        "shelf",
        sa.Column("id", db.Whole(), nullable=False),
        sa.Column("item_id", db.Whole(), nullable=False),
        sa.Column("place_id", db.Whole(), nullable=False),
        sa.Column("counted_since", db.Day(), nullable=True),
        sa.Column("counted_entry_id", db.Whole(), nullable=True),
        sa.ForeignKeyConstraint(
            ["counted_entry_id"],
            ["entry.id"],
            name=op.f("fk_shelf_counted_entry_id"),
            ondelete="RESTRICT",
        ),
        sa.ForeignKeyConstraint(
            ["item_id"], ["item.id"], name=op.f("fk_shelf_item_id"), ondelete="RESTRICT"
        ),
        sa.ForeignKeyConstraint(
            ["place_id"], ["place.id"], name=op.f("fk_shelf_place_id"), ondelete="RESTRICT"
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_shelf")),
        sa.UniqueConstraint("item_id", "place_id", name=op.f("uq_shelf_item_id_place_id")),
        info={"kind": "record"},
        sqlite_strict=True,
    )
    op.create_table(
        "stock_use",
        sa.Column("id", db.Whole(), nullable=False),
        sa.Column("entry_id", db.Whole(), nullable=False),
        sa.Column("item_id", db.Whole(), nullable=False),
        sa.Column("place_id", db.Whole(), nullable=False),
        sa.Column("qty", db.Whole(), nullable=False),
        sa.Column("why", db.Choice(), nullable=False),
        sa.Column("undoes_id", db.Whole(), nullable=True),
        sa.CheckConstraint("why IN ('work', 'waste', 'loss')", name=op.f("ck_stock_use_why_word")),
        sa.CheckConstraint("qty > 0", name=op.f("ck_stock_use_qty_positive")),
        sa.ForeignKeyConstraint(
            ["entry_id"], ["entry.id"], name=op.f("fk_stock_use_entry_id"), ondelete="RESTRICT"
        ),
        sa.ForeignKeyConstraint(
            ["item_id"], ["item.id"], name=op.f("fk_stock_use_item_id"), ondelete="RESTRICT"
        ),
        sa.ForeignKeyConstraint(
            ["place_id"], ["place.id"], name=op.f("fk_stock_use_place_id"), ondelete="RESTRICT"
        ),
        sa.ForeignKeyConstraint(
            ["undoes_id"],
            ["stock_use.id"],
            name=op.f("fk_stock_use_undoes_id"),
            ondelete="RESTRICT",
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_stock_use")),
        sa.UniqueConstraint("undoes_id", name=op.f("uq_stock_use_undoes_id")),
        info={"kind": "ledger"},
        sqlite_strict=True,
    )
    op.create_index(op.f("ix_stock_use_item_id"), "stock_use", ["item_id"], unique=False)
    op.create_table(
        "supplier_bill",
        sa.Column("id", db.Whole(), nullable=False),
        sa.Column("entry_id", db.Whole(), nullable=False),
        sa.Column("supplier_id", db.Whole(), nullable=True),
        sa.Column("file_id", db.Whole(), nullable=True),
        sa.Column("day", db.Day(), nullable=False),
        sa.Column("reference", db.Text(), nullable=False),
        sa.Column("total", db.Whole(), nullable=False),
        sa.Column("paid_by", db.Choice(), nullable=False),
        sa.CheckConstraint(
            "paid_by IN ('cash', 'card', 'transfer', 'cheque', 'unpaid')",
            name=op.f("ck_supplier_bill_paid_by_word"),
        ),
        sa.CheckConstraint("total >= 0", name=op.f("ck_supplier_bill_total_not_negative")),
        sa.ForeignKeyConstraint(
            ["entry_id"], ["entry.id"], name=op.f("fk_supplier_bill_entry_id"), ondelete="RESTRICT"
        ),
        sa.ForeignKeyConstraint(
            ["file_id"], ["file.id"], name=op.f("fk_supplier_bill_file_id"), ondelete="RESTRICT"
        ),
        sa.ForeignKeyConstraint(
            ["supplier_id"],
            ["supplier.id"],
            name=op.f("fk_supplier_bill_supplier_id"),
            ondelete="RESTRICT",
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_supplier_bill")),
        info={"kind": "ledger"},
        sqlite_strict=True,
    )
    op.create_table(
        "tool_event",
        sa.Column("id", db.Whole(), nullable=False),
        sa.Column("entry_id", db.Whole(), nullable=False),
        sa.Column("tool_id", db.Whole(), nullable=False),
        sa.Column("sort", db.Choice(), nullable=False),
        sa.Column("units", db.Whole(), nullable=False),
        sa.Column("cost", db.Whole(), nullable=False),
        sa.CheckConstraint(
            "sort IN ('bought', 'sharpened', 'reground', 'went_dull', 'staged', 'looked_at', 'leaned', 'slipped', 'fell', 'repaired', 'put_away')",
            name=op.f("ck_tool_event_sort_word"),
        ),
        sa.ForeignKeyConstraint(
            ["entry_id"], ["entry.id"], name=op.f("fk_tool_event_entry_id"), ondelete="RESTRICT"
        ),
        sa.ForeignKeyConstraint(
            ["tool_id"], ["tool.id"], name=op.f("fk_tool_event_tool_id"), ondelete="RESTRICT"
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_tool_event")),
        info={"kind": "ledger"},
        sqlite_strict=True,
    )
    op.create_index(op.f("ix_tool_event_tool_id"), "tool_event", ["tool_id"], unique=False)
    op.create_table(
        "wear",
        sa.Column("id", db.Whole(), nullable=False),
        sa.Column("entry_id", db.Whole(), nullable=False),
        sa.Column("tool_id", db.Whole(), nullable=False),
        sa.Column("units", db.Whole(), nullable=False),
        sa.Column("cost", db.Whole(), nullable=False),
        sa.Column("undoes_id", db.Whole(), nullable=True),
        sa.ForeignKeyConstraint(
            ["entry_id"], ["entry.id"], name=op.f("fk_wear_entry_id"), ondelete="RESTRICT"
        ),
        sa.ForeignKeyConstraint(
            ["tool_id"], ["tool.id"], name=op.f("fk_wear_tool_id"), ondelete="RESTRICT"
        ),
        sa.ForeignKeyConstraint(
            ["undoes_id"], ["wear.id"], name=op.f("fk_wear_undoes_id"), ondelete="RESTRICT"
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_wear")),
        sa.UniqueConstraint("undoes_id", name=op.f("uq_wear_undoes_id")),
        info={"kind": "ledger"},
        sqlite_strict=True,
    )
    op.create_index(op.f("ix_wear_tool_id"), "wear", ["tool_id"], unique=False)
    op.create_table(
        "work",
        sa.Column("id", db.Whole(), nullable=False),
        sa.Column("visit_id", db.Whole(), nullable=False),
        sa.Column("subject", db.Text(), nullable=False),
        sa.Column("place_no", db.Whole(), nullable=False),
        sa.Column("horse_id", db.Whole(), nullable=True),
        sa.Column("words", db.Text(), nullable=True),
        sa.Column("note", db.Text(), nullable=True),
        sa.Column("type_id", db.Whole(), nullable=True),
        sa.Column("service_id", db.Whole(), nullable=True),
        sa.Column("outcome", db.Choice(), nullable=False),
        sa.Column("finishes_id", db.Whole(), nullable=True),
        sa.Column("booked", db.Whole(), nullable=True),
        sa.Column("told", db.Whole(), nullable=True),
        sa.Column("travel", db.Whole(), nullable=False),
        sa.Column("minutes", db.Whole(), nullable=False),
        sa.Column("minutes_told", db.YesNo(), nullable=False),
        sa.Column("closing_entry_id", db.Whole(), nullable=True),
        sa.Column("closed_seq", db.Whole(), nullable=True),
        sa.Column("pricing_no", db.Whole(), nullable=True),
        sa.CheckConstraint(
            "outcome IN ('planned', 'done', 'part', 'absent')", name=op.f("ck_work_outcome_word")
        ),
        sa.CheckConstraint("minutes_told IN (0, 1)", name=op.f("ck_work_minutes_told_word")),
        sa.ForeignKeyConstraint(
            ["closing_entry_id"],
            ["entry.id"],
            name=op.f("fk_work_closing_entry_id"),
            ondelete="RESTRICT",
        ),
        sa.ForeignKeyConstraint(
            ["finishes_id"], ["work.id"], name=op.f("fk_work_finishes_id"), ondelete="RESTRICT"
        ),
        sa.ForeignKeyConstraint(
            ["horse_id"], ["horse.id"], name=op.f("fk_work_horse_id"), ondelete="RESTRICT"
        ),
        sa.ForeignKeyConstraint(
            ["service_id"], ["service.id"], name=op.f("fk_work_service_id"), ondelete="RESTRICT"
        ),
        sa.ForeignKeyConstraint(
            ["type_id"], ["horse_type.id"], name=op.f("fk_work_type_id"), ondelete="RESTRICT"
        ),
        sa.ForeignKeyConstraint(
            ["visit_id"], ["visit.id"], name=op.f("fk_work_visit_id"), ondelete="RESTRICT"
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_work")),
        sa.UniqueConstraint("visit_id", "subject", name=op.f("uq_work_visit_id_subject")),
        info={"kind": "cache"},
        sqlite_strict=True,
    )
    op.create_index(op.f("ix_work_horse_id"), "work", ["horse_id"], unique=False)
    op.create_index(
        "ix_work_open",
        "work",
        ["visit_id"],
        unique=False,
        sqlite_where=sa.text("closing_entry_id IS NULL"),
        postgresql_where=sa.text("closing_entry_id IS NULL"),
    )
    op.create_index(
        "ix_work_part",
        "work",
        ["horse_id"],
        unique=False,
        sqlite_where=sa.text("outcome = 'part'"),
        postgresql_where=sa.text("outcome = 'part'"),
    )
    op.create_index(op.f("ix_work_visit_id"), "work", ["visit_id"], unique=False)
    op.create_table(
        "allocation",
        sa.Column("id", db.Whole(), nullable=False),
        sa.Column("entry_id", db.Whole(), nullable=False),
        sa.Column("payment_id", db.Whole(), nullable=True),
        sa.Column("credit_id", db.Whole(), nullable=True),
        sa.Column("document_id", db.Whole(), nullable=False),
        sa.Column("amount", db.Whole(), nullable=False),
        sa.CheckConstraint(
            "(payment_id IS NULL) <> (credit_id IS NULL)", name=op.f("ck_allocation_one_source")
        ),
        sa.CheckConstraint("amount <> 0", name=op.f("ck_allocation_amount_not_nothing")),
        sa.ForeignKeyConstraint(
            ["credit_id"],
            ["document.id"],
            name=op.f("fk_allocation_credit_id"),
            ondelete="RESTRICT",
        ),
        sa.ForeignKeyConstraint(
            ["document_id"],
            ["document.id"],
            name=op.f("fk_allocation_document_id"),
            ondelete="RESTRICT",
        ),
        sa.ForeignKeyConstraint(
            ["entry_id"], ["entry.id"], name=op.f("fk_allocation_entry_id"), ondelete="RESTRICT"
        ),
        sa.ForeignKeyConstraint(
            ["payment_id"],
            ["payment.id"],
            name=op.f("fk_allocation_payment_id"),
            ondelete="RESTRICT",
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_allocation")),
        info={"kind": "ledger"},
        sqlite_strict=True,
    )
    op.create_index(op.f("ix_allocation_credit_id"), "allocation", ["credit_id"], unique=False)
    op.create_index(op.f("ix_allocation_document_id"), "allocation", ["document_id"], unique=False)
    op.create_index(op.f("ix_allocation_payment_id"), "allocation", ["payment_id"], unique=False)
    op.create_table(
        "document_event",
        sa.Column("id", db.Whole(), nullable=False),
        sa.Column("document_id", db.Whole(), nullable=False),
        sa.Column("entry_id", db.Whole(), nullable=False),
        sa.Column("sort", db.Choice(), nullable=False),
        sa.CheckConstraint(
            "sort IN ('handed_over', 'sent', 'bounced')", name=op.f("ck_document_event_sort_word")
        ),
        sa.ForeignKeyConstraint(
            ["document_id"],
            ["document.id"],
            name=op.f("fk_document_event_document_id"),
            ondelete="RESTRICT",
        ),
        sa.ForeignKeyConstraint(
            ["entry_id"], ["entry.id"], name=op.f("fk_document_event_entry_id"), ondelete="RESTRICT"
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_document_event")),
        info={"kind": "ledger"},
        sqlite_strict=True,
    )
    op.create_index(
        op.f("ix_document_event_document_id"), "document_event", ["document_id"], unique=False
    )
    op.create_table(
        "document_tax",
        sa.Column("id", db.Whole(), nullable=False),
        sa.Column("document_id", db.Whole(), nullable=False),
        sa.Column("category", db.Choice(), nullable=False),
        sa.Column("rate_ppm", db.Whole(), nullable=False),
        sa.Column("base", db.Whole(), nullable=False),
        sa.Column("tax", db.Whole(), nullable=False),
        sa.CheckConstraint(
            "category IN ('S', 'Z', 'E', 'O')", name=op.f("ck_document_tax_category_word")
        ),
        sa.ForeignKeyConstraint(
            ["document_id"],
            ["document.id"],
            name=op.f("fk_document_tax_document_id"),
            ondelete="RESTRICT",
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_document_tax")),
        sa.UniqueConstraint(
            "document_id",
            "category",
            "rate_ppm",
            name=op.f("uq_document_tax_document_id_category_rate_ppm"),
        ),
        info={"kind": "ledger"},
        sqlite_strict=True,
    )
    op.create_table(
        "foot",
        sa.Column("id", db.Whole(), nullable=False),
        sa.Column("work_id", db.Whole(), nullable=False),
        sa.Column("foot", db.Choice(), nullable=False),
        sa.Column("planned", db.Choice(), nullable=False),
        sa.Column("done", db.Choice(), nullable=False),
        sa.Column("shoe_item_id", db.Whole(), nullable=True),
        sa.Column("nail_item_id", db.Whole(), nullable=True),
        sa.Column("pad_item_id", db.Whole(), nullable=True),
        sa.Column("nails", db.Whole(), nullable=True),
        sa.CheckConstraint(
            "done IN ('new', 'reset') OR (shoe_item_id IS NULL AND nails IS NULL)",
            name=op.f("ck_foot_only_shod_has_shoe"),
        ),
        sa.CheckConstraint(
            "done IN ('new', 'reset', 'trim', 'pulled', 'none', 'not_done')",
            name=op.f("ck_foot_done_word"),
        ),
        sa.CheckConstraint("foot IN ('LF', 'RF', 'LH', 'RH')", name=op.f("ck_foot_foot_word")),
        sa.CheckConstraint(
            "planned IN ('new', 'reset', 'trim', 'pulled', 'none', 'not_done')",
            name=op.f("ck_foot_planned_word"),
        ),
        sa.CheckConstraint("nails BETWEEN 1 AND 16", name=op.f("ck_foot_nails_in_a_shoe")),
        sa.ForeignKeyConstraint(
            ["nail_item_id"], ["item.id"], name=op.f("fk_foot_nail_item_id"), ondelete="RESTRICT"
        ),
        sa.ForeignKeyConstraint(
            ["pad_item_id"], ["item.id"], name=op.f("fk_foot_pad_item_id"), ondelete="RESTRICT"
        ),
        sa.ForeignKeyConstraint(
            ["shoe_item_id"], ["item.id"], name=op.f("fk_foot_shoe_item_id"), ondelete="RESTRICT"
        ),
        sa.ForeignKeyConstraint(
            ["work_id"], ["work.id"], name=op.f("fk_foot_work_id"), ondelete="RESTRICT"
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_foot")),
        sa.UniqueConstraint("work_id", "foot", name=op.f("uq_foot_work_id_foot")),
        info={"kind": "cache"},
        sqlite_strict=True,
    )
    op.create_table(
        "horse_state",
        sa.Column("horse_id", db.Whole(), nullable=False),
        sa.Column("last_work_id", db.Whole(), nullable=False),
        sa.Column("last_day", db.Day(), nullable=False),
        sa.Column("due_day", db.Day(), nullable=True),
        sa.ForeignKeyConstraint(
            ["horse_id"], ["horse.id"], name=op.f("fk_horse_state_horse_id"), ondelete="RESTRICT"
        ),
        sa.ForeignKeyConstraint(
            ["last_work_id"],
            ["work.id"],
            name=op.f("fk_horse_state_last_work_id"),
            ondelete="RESTRICT",
        ),
        sa.PrimaryKeyConstraint("horse_id", name=op.f("pk_horse_state")),
        info={"kind": "cache"},
        sqlite_strict=True,
    )
    op.create_index(op.f("ix_horse_state_due_day"), "horse_state", ["due_day"], unique=False)
    op.create_table(
        "lot_left",
        sa.Column("lot_id", db.Whole(), nullable=False),
        sa.Column("place_id", db.Whole(), nullable=False),
        sa.Column("item_id", db.Whole(), nullable=False),
        sa.Column("qty", db.Whole(), nullable=False),
        sa.Column("cost", db.Whole(), nullable=False),
        sa.CheckConstraint(
            "qty >= 0 AND cost >= 0 AND (qty > 0 OR cost = 0)",
            name=op.f("ck_lot_left_not_negative"),
        ),
        sa.ForeignKeyConstraint(
            ["item_id"], ["item.id"], name=op.f("fk_lot_left_item_id"), ondelete="RESTRICT"
        ),
        sa.ForeignKeyConstraint(
            ["lot_id"], ["lot.id"], name=op.f("fk_lot_left_lot_id"), ondelete="RESTRICT"
        ),
        sa.ForeignKeyConstraint(
            ["place_id"], ["place.id"], name=op.f("fk_lot_left_place_id"), ondelete="RESTRICT"
        ),
        sa.PrimaryKeyConstraint("lot_id", "place_id", name=op.f("pk_lot_left")),
        info={"kind": "cache"},
        sqlite_strict=True,
    )
    op.create_index(
        "ix_lot_left_open",
        "lot_left",
        ["item_id", "place_id", "lot_id"],
        unique=False,
        sqlite_where=sa.text("qty > 0"),
        postgresql_where=sa.text("qty > 0"),
    )
    op.create_table(
        "material",
        sa.Column("id", db.Whole(), nullable=False),
        sa.Column("work_id", db.Whole(), nullable=False),
        sa.Column("foot", db.Choice(), nullable=True),
        sa.Column("item_id", db.Whole(), nullable=True),
        sa.Column("qty", db.Whole(), nullable=False),
        sa.Column("waste", db.YesNo(), nullable=False),
        sa.Column("use_id", db.Whole(), nullable=True),
        sa.CheckConstraint("foot IN ('LF', 'RF', 'LH', 'RH')", name=op.f("ck_material_foot_word")),
        sa.CheckConstraint("waste IN (0, 1)", name=op.f("ck_material_waste_word")),
        sa.ForeignKeyConstraint(
            ["item_id"], ["item.id"], name=op.f("fk_material_item_id"), ondelete="RESTRICT"
        ),
        sa.ForeignKeyConstraint(
            ["use_id"], ["stock_use.id"], name=op.f("fk_material_use_id"), ondelete="RESTRICT"
        ),
        sa.ForeignKeyConstraint(
            ["work_id"], ["work.id"], name=op.f("fk_material_work_id"), ondelete="RESTRICT"
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_material")),
        sa.UniqueConstraint("use_id", name=op.f("uq_material_use_id")),
        info={"kind": "cache"},
        sqlite_strict=True,
    )
    op.create_index(op.f("ix_material_work_id"), "material", ["work_id"], unique=False)
    op.create_table(
        "particulars",
        sa.Column("id", db.Whole(), nullable=False),
        sa.Column("document_id", db.Whole(), nullable=False),
        sa.Column("text", db.Text(), nullable=True),
        sa.Column("salt", db.Text(), nullable=True),
        sa.CheckConstraint(
            "(text IS NULL) = (salt IS NULL)", name=op.f("ck_particulars_emptied_together")
        ),
        sa.ForeignKeyConstraint(
            ["document_id"],
            ["document.id"],
            name=op.f("fk_particulars_document_id"),
            ondelete="RESTRICT",
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_particulars")),
        sa.UniqueConstraint("document_id", name=op.f("uq_particulars_document_id")),
        info={"kind": "emptiable"},
        sqlite_strict=True,
    )
    op.create_table(
        "pricing",
        sa.Column("id", db.Whole(), nullable=False),
        sa.Column("work_id", db.Whole(), nullable=False),
        sa.Column("entry_id", db.Whole(), nullable=False),
        sa.Column("no", db.Whole(), nullable=False),
        sa.ForeignKeyConstraint(
            ["entry_id"], ["entry.id"], name=op.f("fk_pricing_entry_id"), ondelete="RESTRICT"
        ),
        sa.ForeignKeyConstraint(
            ["work_id"], ["work.id"], name=op.f("fk_pricing_work_id"), ondelete="RESTRICT"
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_pricing")),
        sa.UniqueConstraint("work_id", "no", name=op.f("uq_pricing_work_id_no")),
        info={"kind": "ledger"},
        sqlite_strict=True,
    )
    op.create_table(
        "receivable",
        sa.Column("document_id", db.Whole(), nullable=False),
        sa.Column("client_id", db.Whole(), nullable=False),
        sa.Column("due", db.Day(), nullable=False),
        sa.Column("open", db.Whole(), nullable=False),
        sa.ForeignKeyConstraint(
            ["client_id"], ["client.id"], name=op.f("fk_receivable_client_id"), ondelete="RESTRICT"
        ),
        sa.ForeignKeyConstraint(
            ["document_id"],
            ["document.id"],
            name=op.f("fk_receivable_document_id"),
            ondelete="RESTRICT",
        ),
        sa.PrimaryKeyConstraint("document_id", name=op.f("pk_receivable")),
        info={"kind": "cache"},
        sqlite_strict=True,
    )
    op.create_index(
        "ix_receivable_open",
        "receivable",
        ["client_id", "due"],
        unique=False,
        sqlite_where=sa.text("open <> 0"),
        postgresql_where=sa.text("open <> 0"),
    )
    op.create_table(
        "result",
        sa.Column("id", db.Whole(), nullable=False),
        sa.Column("work_id", db.Whole(), nullable=False),
        sa.Column("client_id", db.Whole(), nullable=True),
        sa.Column("day", db.Day(), nullable=False),
        sa.Column("farrier_id", db.Whole(), nullable=False),
        sa.Column("yard_id", db.Whole(), nullable=True),
        sa.Column("type_id", db.Whole(), nullable=True),
        sa.Column("horse_id", db.Whole(), nullable=True),
        sa.Column("service_id", db.Whole(), nullable=True),
        sa.Column("net", db.Whole(), nullable=False),
        sa.Column("material", db.Whole(), nullable=False),
        sa.Column("drive", db.Whole(), nullable=False),
        sa.Column("tool", db.Whole(), nullable=False),
        sa.Column("minutes", db.Whole(), nullable=False),
        sa.Column("minutes_est", db.Whole(), nullable=False),
        sa.Column("drive_est", db.Whole(), nullable=False),
        sa.Column("material_est", db.Whole(), nullable=False),
        sa.ForeignKeyConstraint(
            ["client_id"], ["client.id"], name=op.f("fk_result_client_id"), ondelete="RESTRICT"
        ),
        sa.ForeignKeyConstraint(
            ["farrier_id"], ["farrier.id"], name=op.f("fk_result_farrier_id"), ondelete="RESTRICT"
        ),
        sa.ForeignKeyConstraint(
            ["horse_id"], ["horse.id"], name=op.f("fk_result_horse_id"), ondelete="RESTRICT"
        ),
        sa.ForeignKeyConstraint(
            ["service_id"], ["service.id"], name=op.f("fk_result_service_id"), ondelete="RESTRICT"
        ),
        sa.ForeignKeyConstraint(
            ["type_id"], ["horse_type.id"], name=op.f("fk_result_type_id"), ondelete="RESTRICT"
        ),
        sa.ForeignKeyConstraint(
            ["work_id"], ["work.id"], name=op.f("fk_result_work_id"), ondelete="RESTRICT"
        ),
        sa.ForeignKeyConstraint(
            ["yard_id"], ["yard.id"], name=op.f("fk_result_yard_id"), ondelete="RESTRICT"
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_result")),
        info={"kind": "cache"},
        sqlite_strict=True,
    )
    op.create_index("ix_result_client_day", "result", ["client_id", "day"], unique=False)
    op.create_index(op.f("ix_result_day"), "result", ["day"], unique=False)
    op.create_index(
        "uq_result_work_client",
        "result",
        ["work_id", sa.literal_column("coalesce(client_id, 0)")],
        unique=True,
    )
    op.create_table(
        "short_use",
        sa.Column("use_id", db.Whole(), nullable=False),
        sa.Column("item_id", db.Whole(), nullable=False),
        sa.Column("place_id", db.Whole(), nullable=False),
        sa.Column("qty", db.Whole(), nullable=False),
        sa.Column("cost", db.Whole(), nullable=False),
        sa.CheckConstraint("qty > 0", name=op.f("ck_short_use_qty_positive")),
        sa.ForeignKeyConstraint(
            ["item_id"], ["item.id"], name=op.f("fk_short_use_item_id"), ondelete="RESTRICT"
        ),
        sa.ForeignKeyConstraint(
            ["place_id"], ["place.id"], name=op.f("fk_short_use_place_id"), ondelete="RESTRICT"
        ),
        sa.ForeignKeyConstraint(
            ["use_id"], ["stock_use.id"], name=op.f("fk_short_use_use_id"), ondelete="RESTRICT"
        ),
        sa.PrimaryKeyConstraint("use_id", name=op.f("pk_short_use")),
        info={"kind": "cache"},
        sqlite_strict=True,
    )
    op.create_table(
        "stock_move",
        sa.Column("id", db.Whole(), nullable=False),
        sa.Column("entry_id", db.Whole(), nullable=False),
        sa.Column("item_id", db.Whole(), nullable=False),
        sa.Column("place_id", db.Whole(), nullable=False),
        sa.Column("lot_id", db.Whole(), nullable=True),
        sa.Column("use_id", db.Whole(), nullable=True),
        sa.Column("sort", db.Choice(), nullable=False),
        sa.Column("qty", db.Whole(), nullable=False),
        sa.Column("cost", db.Whole(), nullable=False),
        sa.CheckConstraint(
            "sort IN ('arrive', 'draw', 'true_up', 'transfer', 'count', 'undo')",
            name=op.f("ck_stock_move_sort_word"),
        ),
        sa.ForeignKeyConstraint(
            ["entry_id"], ["entry.id"], name=op.f("fk_stock_move_entry_id"), ondelete="RESTRICT"
        ),
        sa.ForeignKeyConstraint(
            ["item_id"], ["item.id"], name=op.f("fk_stock_move_item_id"), ondelete="RESTRICT"
        ),
        sa.ForeignKeyConstraint(
            ["lot_id"], ["lot.id"], name=op.f("fk_stock_move_lot_id"), ondelete="RESTRICT"
        ),
        sa.ForeignKeyConstraint(
            ["place_id"], ["place.id"], name=op.f("fk_stock_move_place_id"), ondelete="RESTRICT"
        ),
        sa.ForeignKeyConstraint(
            ["use_id"], ["stock_use.id"], name=op.f("fk_stock_move_use_id"), ondelete="RESTRICT"
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_stock_move")),
        info={"kind": "ledger"},
        sqlite_strict=True,
    )
    op.create_index(op.f("ix_stock_move_entry_id"), "stock_move", ["entry_id"], unique=False)
    op.create_index(op.f("ix_stock_move_item_id"), "stock_move", ["item_id"], unique=False)
    op.create_index(op.f("ix_stock_move_lot_id"), "stock_move", ["lot_id"], unique=False)
    op.create_index(
        "ix_stock_move_true_up",
        "stock_move",
        ["use_id"],
        unique=False,
        sqlite_where=sa.text("sort = 'true_up'"),
        postgresql_where=sa.text("sort = 'true_up'"),
    )
    op.create_index(op.f("ix_stock_move_use_id"), "stock_move", ["use_id"], unique=False)
    op.create_table(
        "supplier_bill_line",
        sa.Column("id", db.Whole(), nullable=False),
        sa.Column("bill_id", db.Whole(), nullable=False),
        sa.Column("sort", db.Choice(), nullable=False),
        sa.Column("lot_id", db.Whole(), nullable=True),
        sa.Column("what", db.Text(), nullable=False),
        sa.Column("amount", db.Whole(), nullable=False),
        sa.CheckConstraint(
            "(sort = 'stock') = (lot_id IS NOT NULL)",
            name=op.f("ck_supplier_bill_line_stock_has_a_lot"),
        ),
        sa.CheckConstraint(
            "sort IN ('stock', 'expense')", name=op.f("ck_supplier_bill_line_sort_word")
        ),
        sa.ForeignKeyConstraint(
            ["bill_id"],
            ["supplier_bill.id"],
            name=op.f("fk_supplier_bill_line_bill_id"),
            ondelete="RESTRICT",
        ),
        sa.ForeignKeyConstraint(
            ["lot_id"], ["lot.id"], name=op.f("fk_supplier_bill_line_lot_id"), ondelete="RESTRICT"
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_supplier_bill_line")),
        sa.UniqueConstraint("lot_id", name=op.f("uq_supplier_bill_line_lot_id")),
        info={"kind": "ledger"},
        sqlite_strict=True,
    )
    op.create_index(
        op.f("ix_supplier_bill_line_bill_id"), "supplier_bill_line", ["bill_id"], unique=False
    )
    op.create_table(
        "tool_note",
        sa.Column("id", db.Whole(), nullable=False),
        sa.Column("event_id", db.Whole(), nullable=False),
        sa.Column("note", db.Text(), nullable=True),
        sa.ForeignKeyConstraint(
            ["event_id"], ["tool_event.id"], name=op.f("fk_tool_note_event_id"), ondelete="RESTRICT"
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_tool_note")),
        sa.UniqueConstraint("event_id", name=op.f("uq_tool_note_event_id")),
        info={"kind": "emptiable"},
        sqlite_strict=True,
    )
    op.create_table(
        "wears",
        sa.Column("horse_id", db.Whole(), nullable=False),
        sa.Column("foot", db.Choice(), nullable=False),
        sa.Column("work_id", db.Whole(), nullable=True),
        sa.Column("shoe_item_id", db.Whole(), nullable=True),
        sa.Column("nail_item_id", db.Whole(), nullable=True),
        sa.Column("pad_item_id", db.Whole(), nullable=True),
        sa.Column("nails", db.Whole(), nullable=True),
        sa.Column("resets", db.Whole(), nullable=False),
        sa.CheckConstraint("foot IN ('LF', 'RF', 'LH', 'RH')", name=op.f("ck_wears_foot_word")),
        sa.ForeignKeyConstraint(
            ["horse_id"], ["horse.id"], name=op.f("fk_wears_horse_id"), ondelete="RESTRICT"
        ),
        sa.ForeignKeyConstraint(
            ["nail_item_id"], ["item.id"], name=op.f("fk_wears_nail_item_id"), ondelete="RESTRICT"
        ),
        sa.ForeignKeyConstraint(
            ["pad_item_id"], ["item.id"], name=op.f("fk_wears_pad_item_id"), ondelete="RESTRICT"
        ),
        sa.ForeignKeyConstraint(
            ["shoe_item_id"], ["item.id"], name=op.f("fk_wears_shoe_item_id"), ondelete="RESTRICT"
        ),
        sa.ForeignKeyConstraint(
            ["work_id"], ["work.id"], name=op.f("fk_wears_work_id"), ondelete="RESTRICT"
        ),
        sa.PrimaryKeyConstraint("horse_id", "foot", name=op.f("pk_wears")),
        info={"kind": "cache"},
        sqlite_strict=True,
    )
    op.create_table(
        "work_tool",
        sa.Column("id", db.Whole(), nullable=False),
        sa.Column("work_id", db.Whole(), nullable=False),
        sa.Column("wear_id", db.Whole(), nullable=False),
        sa.ForeignKeyConstraint(
            ["wear_id"], ["wear.id"], name=op.f("fk_work_tool_wear_id"), ondelete="RESTRICT"
        ),
        sa.ForeignKeyConstraint(
            ["work_id"], ["work.id"], name=op.f("fk_work_tool_work_id"), ondelete="RESTRICT"
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_work_tool")),
        sa.UniqueConstraint("wear_id", name=op.f("uq_work_tool_wear_id")),
        info={"kind": "cache"},
        sqlite_strict=True,
    )
    op.create_index(op.f("ix_work_tool_work_id"), "work_tool", ["work_id"], unique=False)
    op.create_table(
        "price_line",
        sa.Column("id", db.Whole(), nullable=False),
        sa.Column("pricing_id", db.Whole(), nullable=False),
        sa.Column("sort", db.Choice(), nullable=False),
        sa.Column("service_id", db.Whole(), nullable=True),
        sa.Column("qty", db.Whole(), nullable=False),
        sa.Column("quoted", db.Whole(), nullable=False),
        sa.Column("net", db.Whole(), nullable=False),
        sa.Column("waived", db.Whole(), nullable=False),
        sa.Column("tax_kind", db.Choice(), nullable=False),
        sa.Column("category", db.Choice(), nullable=False),
        sa.Column("rate_ppm", db.Whole(), nullable=False),
        sa.Column("reason", db.Text(), nullable=False),
        sa.Column("facts", db.Text(), nullable=False),
        sa.CheckConstraint(
            "category IN ('S', 'Z', 'E', 'O')", name=op.f("ck_price_line_category_word")
        ),
        sa.CheckConstraint(
            "sort IN ('service', 'addon', 'travel', 'minimum', 'discount', 'told')",
            name=op.f("ck_price_line_sort_word"),
        ),
        sa.CheckConstraint(
            "tax_kind IN ('labour', 'goods', 'travel')", name=op.f("ck_price_line_tax_kind_word")
        ),
        sa.ForeignKeyConstraint(
            ["pricing_id"],
            ["pricing.id"],
            name=op.f("fk_price_line_pricing_id"),
            ondelete="RESTRICT",
        ),
        sa.ForeignKeyConstraint(
            ["service_id"],
            ["service.id"],
            name=op.f("fk_price_line_service_id"),
            ondelete="RESTRICT",
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_price_line")),
        info={"kind": "ledger"},
        sqlite_strict=True,
    )
    op.create_index(op.f("ix_price_line_pricing_id"), "price_line", ["pricing_id"], unique=False)
    op.create_table(
        "price_share",
        sa.Column("id", db.Whole(), nullable=False),
        sa.Column("line_id", db.Whole(), nullable=False),
        sa.Column("client_id", db.Whole(), nullable=True),
        sa.Column("quoted", db.Whole(), nullable=False),
        sa.Column("net", db.Whole(), nullable=False),
        sa.ForeignKeyConstraint(
            ["client_id"], ["client.id"], name=op.f("fk_price_share_client_id"), ondelete="RESTRICT"
        ),
        sa.ForeignKeyConstraint(
            ["line_id"], ["price_line.id"], name=op.f("fk_price_share_line_id"), ondelete="RESTRICT"
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_price_share")),
        info={"kind": "ledger"},
        sqlite_strict=True,
    )
    op.create_index(
        "uq_price_share_line_client",
        "price_share",
        ["line_id", sa.literal_column("coalesce(client_id, 0)")],
        unique=True,
    )
    op.create_table(
        "document_line",
        sa.Column("id", db.Whole(), nullable=False),
        sa.Column("document_id", db.Whole(), nullable=False),
        sa.Column("sort", db.Choice(), nullable=False),
        sa.Column("share_id", db.Whole(), nullable=True),
        sa.Column("client_id", db.Whole(), nullable=False),
        sa.Column("net", db.Whole(), nullable=False),
        sa.Column("quoted", db.Whole(), nullable=False),
        sa.Column("category", db.Choice(), nullable=False),
        sa.Column("rate_ppm", db.Whole(), nullable=False),
        sa.Column("credits_line_id", db.Whole(), nullable=True),
        sa.CheckConstraint(
            "category IN ('S', 'Z', 'E', 'O')", name=op.f("ck_document_line_category_word")
        ),
        sa.CheckConstraint(
            "sort IN ('invoice', 'credit', 'opening')", name=op.f("ck_document_line_sort_word")
        ),
        sa.ForeignKeyConstraint(
            ["client_id"],
            ["client.id"],
            name=op.f("fk_document_line_client_id"),
            ondelete="RESTRICT",
        ),
        sa.ForeignKeyConstraint(
            ["credits_line_id"],
            ["document_line.id"],
            name=op.f("fk_document_line_credits_line_id"),
            ondelete="RESTRICT",
        ),
        sa.ForeignKeyConstraint(
            ["document_id"],
            ["document.id"],
            name=op.f("fk_document_line_document_id"),
            ondelete="RESTRICT",
        ),
        sa.ForeignKeyConstraint(
            ["share_id"],
            ["price_share.id"],
            name=op.f("fk_document_line_share_id"),
            ondelete="RESTRICT",
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_document_line")),
        info={"kind": "ledger"},
        sqlite_strict=True,
    )
    op.create_index(
        "ix_document_line_credits",
        "document_line",
        ["credits_line_id"],
        unique=False,
        sqlite_where=sa.text("credits_line_id IS NOT NULL"),
        postgresql_where=sa.text("credits_line_id IS NOT NULL"),
    )
    op.create_index(
        op.f("ix_document_line_document_id"), "document_line", ["document_id"], unique=False
    )
    op.create_index(
        "uq_document_line_share",
        "document_line",
        ["share_id"],
        unique=True,
        sqlite_where=sa.text("sort = 'invoice'"),
        postgresql_where=sa.text("sort = 'invoice'"),
    )
    op.create_table(
        "unbilled",
        sa.Column("share_id", db.Whole(), nullable=False),
        sa.Column("client_id", db.Whole(), nullable=True),
        sa.Column("work_id", db.Whole(), nullable=False),
        sa.Column("net", db.Whole(), nullable=False),
        sa.ForeignKeyConstraint(
            ["client_id"], ["client.id"], name=op.f("fk_unbilled_client_id"), ondelete="RESTRICT"
        ),
        sa.ForeignKeyConstraint(
            ["share_id"], ["price_share.id"], name=op.f("fk_unbilled_share_id"), ondelete="RESTRICT"
        ),
        sa.ForeignKeyConstraint(
            ["work_id"], ["work.id"], name=op.f("fk_unbilled_work_id"), ondelete="RESTRICT"
        ),
        sa.PrimaryKeyConstraint("share_id", name=op.f("pk_unbilled")),
        info={"kind": "cache"},
        sqlite_strict=True,
    )
    op.create_index(op.f("ix_unbilled_client_id"), "unbilled", ["client_id"], unique=False)
    op.create_index(
        "ix_unbilled_to_find_out",
        "unbilled",
        ["work_id"],
        unique=False,
        sqlite_where=sa.text("client_id IS NULL"),
        postgresql_where=sa.text("client_id IS NULL"),
    )
    op.create_index(op.f("ix_unbilled_work_id"), "unbilled", ["work_id"], unique=False)
