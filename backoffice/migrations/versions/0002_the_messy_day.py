"""the messy day."""

from collections.abc import Callable

import sqlalchemy as sa
from alembic import op

from backoffice import db

revision = "0002"
down_revision = "0001"


def upgrade() -> None:
    """Bring the schema forward."""
    op.create_table(
        "pay_owed",
        sa.Column("id", db.Whole(), nullable=False),
        sa.Column("entry_id", db.Whole(), nullable=False),
        sa.Column("farrier_id", db.Whole(), nullable=False),
        sa.Column("day", db.Day(), nullable=False),
        sa.Column("amount", db.Whole(), nullable=False),
        sa.Column("undoes_id", db.Whole(), nullable=True),
        sa.ForeignKeyConstraint(
            ["entry_id"], ["entry.id"], name=op.f("fk_pay_owed_entry_id"), ondelete="RESTRICT"
        ),
        sa.ForeignKeyConstraint(
            ["farrier_id"], ["farrier.id"], name=op.f("fk_pay_owed_farrier_id"), ondelete="RESTRICT"
        ),
        sa.ForeignKeyConstraint(
            ["undoes_id"], ["pay_owed.id"], name=op.f("fk_pay_owed_undoes_id"), ondelete="RESTRICT"
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_pay_owed")),
        sa.UniqueConstraint("undoes_id", name=op.f("uq_pay_owed_undoes_id")),
        info={"kind": "ledger"},
        sqlite_strict=True,
    )
    op.create_index(op.f("ix_pay_owed_day"), "pay_owed", ["day"], unique=False)
    op.create_index(op.f("ix_pay_owed_farrier_id"), "pay_owed", ["farrier_id"], unique=False)
    op.create_table(
        "work_payer",
        sa.Column("id", db.Whole(), nullable=False),
        sa.Column("work_id", db.Whole(), nullable=False),
        sa.Column("place_no", db.Whole(), nullable=False),
        sa.Column("client_id", db.Whole(), nullable=False),
        sa.Column("parts", db.Whole(), nullable=False),
        sa.CheckConstraint("parts > 0", name=op.f("ck_work_payer_parts_positive")),
        sa.ForeignKeyConstraint(
            ["client_id"], ["client.id"], name=op.f("fk_work_payer_client_id"), ondelete="RESTRICT"
        ),
        sa.ForeignKeyConstraint(
            ["work_id"], ["work.id"], name=op.f("fk_work_payer_work_id"), ondelete="RESTRICT"
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_work_payer")),
        sa.UniqueConstraint("work_id", "place_no", name=op.f("uq_work_payer_work_id_place_no")),
        info={"kind": "cache"},
        sqlite_strict=True,
    )
    _add("farrier", "sort", "TEXT NOT NULL DEFAULT 'farrier'", "sort IN ('farrier', 'apprentice')")
    _add("farrier", "day_pay", _whole(), "day_pay >= 0", "day_pay_not_negative")
    _add("foot", "lost", "TEXT", "lost IN ('found', 'gone')")
    _add("payment", "fact_id", "TEXT")
    op.create_index("uq_payment_fact_id", "payment", ["fact_id"], unique=True)
    _some("ix_foot_lost", "foot", "work_id", "lost IS NOT NULL")
    _some("ix_fact_paid", "fact", "visit_id", "sort = 'paid'")
    _some("ix_work_finishes", "work", "finishes_id", "finishes_id IS NOT NULL")
    _some("ix_material_unknown", "material", "work_id", "item_id IS NULL OR qty = 0")
    _add("visit", "closed_seq", _whole())
    _add("work", "travel_told", _whole())
    _refer("horse", "owner_id", "client")
    _refer("supplier_bill_line", "entry_id", "entry")
    _refer("visit", "helper_id", "farrier")
    _more_kinds_of_entry()


def _some(name: str, table: str, column: str, where: str) -> None:
    """Index some rows of a table only."""
    some = sa.text(where)
    op.create_index(name, table, [column], sqlite_where=some, postgresql_where=some)


def _whole() -> str:
    return "BIGINT" if _postgres() else "INTEGER"


def _postgres() -> bool:
    return op.get_bind().dialect.name == "postgresql"


def _add(table: str, column: str, kind: str, check: str = "", named: str = "") -> None:
    """Add a column with its rule in one statement, which needs no rebuild on SQLite."""
    rule = f" CONSTRAINT ck_{table}_{named or column + '_word'} CHECK ({check})" if check else ""
    op.execute(f"ALTER TABLE {table} ADD COLUMN {column} {kind}{rule}")


def _refer(table: str, column: str, to: str) -> None:
    """Add a column that names a row of another table."""
    rule = (
        f"CONSTRAINT fk_{table}_{column} FOREIGN KEY({column}) REFERENCES {to} (id) "
        "ON DELETE RESTRICT"
    )
    if _postgres():
        op.execute(f"ALTER TABLE {table} ADD COLUMN {column} BIGINT")
        op.execute(f"ALTER TABLE {table} ADD {rule}")
        return

    def told(made: str) -> str:
        columns, constraints = made.split("CONSTRAINT", 1)
        inside, strict = constraints.rsplit(")", 1)
        return f"{columns}{column} INTEGER, CONSTRAINT{inside}, {rule}){strict}"

    _rebuild(table, told)


def _more_kinds_of_entry() -> None:
    """Tell bills that were fixed from those taken back for good; so far all were fixed."""
    word = "ck_entry_sort_word"
    standing, added = "'payment', 'credit'", "'payment', 'credit', 'fix', 'pay'"
    if not _postgres():
        _rebuild("entry", lambda made: made.replace(standing, added))
        op.execute("UPDATE entry SET sort = 'fix' WHERE sort = 'credit'")
        return
    kinds = "closing correction repricing delivery count transfer tool issue handing_over"
    words = ", ".join(f"'{kind}'" for kind in kinds.split())
    op.execute(f"ALTER TABLE entry DROP CONSTRAINT {word}")
    op.execute(f"ALTER TABLE entry ADD CONSTRAINT {word} CHECK (sort IN ({words}, {added}))")
    op.execute("DROP TRIGGER IF EXISTS keep_entry_update ON entry")  # made anew after upgrades
    op.execute("UPDATE entry SET sort = 'fix' WHERE sort = 'credit'")


def _rebuild(table: str, told: Callable[[str], str]) -> None:
    """Make a table of SQLite anew from its own text, changed, with its rows and indexes."""
    connection = op.get_bind()
    found = sa.text(
        "SELECT type, sql FROM sqlite_master WHERE tbl_name = :table AND sql IS NOT NULL "
        "AND type IN ('table', 'index')"
    )
    texts = connection.execute(found, {"table": table}).all()
    made = next(sql for sort, sql in texts if sort == "table")
    names = [row[1] for row in connection.exec_driver_sql(f"PRAGMA table_info({table})")]
    columns = ", ".join(names)
    op.execute("CREATE TABLE made_anew (" + told(made).split("(", 1)[1])
    copied = f"INSERT INTO made_anew ({columns}) SELECT {columns} FROM {table}"  # noqa: S608 (ours)
    op.execute(copied)
    op.execute(f"DROP TABLE {table}")
    op.execute(f"ALTER TABLE made_anew RENAME TO {table}")
    for sort, sql in texts:
        if sort == "index":
            op.execute(sql)
