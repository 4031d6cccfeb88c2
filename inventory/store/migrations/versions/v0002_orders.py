"""Purchase orders, and deliveries that came for them; a delivery's line may be damaged as a whole.

Revision ID: 0002
"""

import sqlalchemy as sa
from alembic import op

revision = "0002"
down_revision = "0001"
branch_labels = None
depends_on = None

KEY = sa.BigInteger().with_variant(sa.Integer(), "sqlite")
UNITS = "units >= 0 AND damaged_units >= 0 AND units + damaged_units > 0"
SETTLES = "settles_units >= 0 AND (purchase_line_id IS NOT NULL OR settles_units = 0)"


def upgrade() -> None:
    """Make the tables of orders and link deliveries to them."""
    _purchase()
    _purchase_line()
    _delivery()
    if op.get_bind().dialect.name == "sqlite":
        _delivery_line_anew()
    else:
        _delivery_line()
    op.create_index(op.f("ix_delivery_line_purchase_line_id"), "delivery_line", ["purchase_line_id"], unique=False)


def _purchase() -> None:
    states = ("draft", "sent", "part", "received", "cancelled")
    op.create_table(
        "purchase",
        sa.Column("id", KEY, nullable=False),
        sa.Column("number", sa.String(length=40), nullable=False),
        sa.Column("supplier_id", KEY, nullable=False),
        sa.Column(
            "state", sa.Enum(*states, name="state", native_enum=False, create_constraint=True, length=24),
            nullable=False,
        ),
        sa.Column("written_on", sa.Date(), nullable=False),
        sa.Column("sent_on", sa.Date(), nullable=True),
        sa.Column("expected_on", sa.Date(), nullable=True),
        sa.Column("fee_cents", sa.BigInteger(), nullable=True),
        sa.Column("person_id", KEY, nullable=False),
        sa.Column("version", sa.Integer(), nullable=False),
        sa.CheckConstraint(
            "state IN ('draft', 'cancelled') OR sent_on IS NOT NULL", name=op.f("ck_purchase_sent")
        ),
        sa.CheckConstraint("(sent_on IS NULL) = (expected_on IS NULL)", name=op.f("ck_purchase_expected")),
        sa.CheckConstraint("fee_cents IS NULL OR fee_cents >= 0", name=op.f("ck_purchase_fee")),
        sa.ForeignKeyConstraint(["person_id"], ["person.id"], name=op.f("fk_purchase_person_id")),
        sa.ForeignKeyConstraint(["supplier_id"], ["supplier.id"], name=op.f("fk_purchase_supplier_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_purchase")),
        sa.UniqueConstraint("number", name=op.f("uq_purchase_number")),
    )  # fmt: skip
    op.create_index(op.f("ix_purchase_person_id"), "purchase", ["person_id"], unique=False)
    op.create_index(op.f("ix_purchase_supplier_id"), "purchase", ["supplier_id"], unique=False)
    op.create_index("ix_purchase_state", "purchase", ["state", "id"], unique=False)


def _purchase_line() -> None:
    op.create_table(
        "purchase_line",
        sa.Column("id", KEY, nullable=False),
        sa.Column("purchase_id", KEY, nullable=False),
        sa.Column("supply_id", KEY, nullable=False),
        sa.Column("packs", sa.Integer(), nullable=False),
        sa.Column("units_per_pack", sa.Integer(), nullable=False),
        sa.Column("pack_cents", sa.BigInteger(), nullable=False),
        sa.Column("cancelled_packs", sa.Integer(), nullable=False),
        sa.Column("why", sa.JSON(), nullable=False),
        sa.CheckConstraint("packs >= 0", name=op.f("ck_purchase_line_packs")),
        sa.CheckConstraint(
            "cancelled_packs >= 0 AND cancelled_packs <= packs", name=op.f("ck_purchase_line_cancelled")
        ),
        sa.CheckConstraint("units_per_pack > 0", name=op.f("ck_purchase_line_units")),
        sa.CheckConstraint("pack_cents >= 0", name=op.f("ck_purchase_line_price")),
        sa.ForeignKeyConstraint(["purchase_id"], ["purchase.id"], name=op.f("fk_purchase_line_purchase_id")),
        sa.ForeignKeyConstraint(["supply_id"], ["supply.id"], name=op.f("fk_purchase_line_supply_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_purchase_line")),
        sa.UniqueConstraint("purchase_id", "supply_id", name=op.f("uq_purchase_line_purchase_id_supply_id")),
    )
    op.create_index(op.f("ix_purchase_line_supply_id"), "purchase_line", ["supply_id"], unique=False)


def _delivery() -> None:
    """A column that may be empty is added in place by both stores; SQLite takes its link only with it."""
    link = "CONSTRAINT fk_delivery_purchase_id REFERENCES purchase (id)"
    kind = "INTEGER" if op.get_bind().dialect.name == "sqlite" else "BIGINT"
    op.execute(f"ALTER TABLE delivery ADD COLUMN purchase_id {kind} {link}")
    op.create_index(op.f("ix_delivery_purchase_id"), "delivery", ["purchase_id"], unique=False)


def _new_columns() -> tuple[sa.Column[int], sa.Column[int]]:
    return (
        sa.Column("purchase_line_id", KEY, nullable=True),
        sa.Column("settles_units", sa.Integer(), server_default="0", nullable=False),
    )


def _delivery_line() -> None:
    for column in _new_columns():
        op.add_column("delivery_line", column)
    op.create_foreign_key(
        op.f("fk_delivery_line_purchase_line_id"), "delivery_line", "purchase_line", ["purchase_line_id"], ["id"]
    )
    op.drop_constraint(op.f("ck_delivery_line_units"), "delivery_line", type_="check")
    op.create_check_constraint(op.f("ck_delivery_line_units"), "delivery_line", UNITS)
    op.create_check_constraint(op.f("ck_delivery_line_settles"), "delivery_line", SETTLES)


def _delivery_line_anew() -> None:
    """SQLite changes no CHECK in place: the table is made anew, its rows are copied, it takes the old one's name."""
    columns = (
        "id", "delivery_id", "lot_id", "units", "pack_cents", "units_per_pack", "damaged_units", "document_id",
    )  # fmt: skip
    op.create_table(
        "delivery_line_anew",
        sa.Column("id", KEY, nullable=False),
        sa.Column("delivery_id", KEY, nullable=False),
        sa.Column("lot_id", KEY, nullable=False),
        sa.Column("units", sa.Integer(), nullable=False),
        sa.Column("pack_cents", sa.BigInteger(), nullable=True),
        sa.Column("units_per_pack", sa.Integer(), nullable=False),
        sa.Column("damaged_units", sa.Integer(), nullable=False),
        sa.Column("document_id", KEY, nullable=False),
        *_new_columns(),
        sa.CheckConstraint("pack_cents IS NULL OR pack_cents >= 0", name=op.f("ck_delivery_line_price")),
        sa.CheckConstraint(UNITS, name=op.f("ck_delivery_line_units")),
        sa.CheckConstraint("units_per_pack > 0", name=op.f("ck_delivery_line_pack")),
        sa.CheckConstraint(SETTLES, name=op.f("ck_delivery_line_settles")),
        sa.ForeignKeyConstraint(["delivery_id"], ["delivery.id"], name=op.f("fk_delivery_line_delivery_id")),
        sa.ForeignKeyConstraint(["document_id"], ["document.id"], name=op.f("fk_delivery_line_document_id")),
        sa.ForeignKeyConstraint(["lot_id"], ["lot.id"], name=op.f("fk_delivery_line_lot_id")),
        sa.ForeignKeyConstraint(
            ["purchase_line_id"], ["purchase_line.id"], name=op.f("fk_delivery_line_purchase_line_id")
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_delivery_line")),
    )
    named = ", ".join(columns)
    op.execute(f"INSERT INTO delivery_line_anew ({named}) SELECT {named} FROM delivery_line")  # noqa: S608 - our own names
    op.drop_table("delivery_line")
    op.rename_table("delivery_line_anew", "delivery_line")
    for column in ("delivery_id", "document_id", "lot_id"):
        op.create_index(op.f(f"ix_delivery_line_{column}"), "delivery_line", [column], unique=False)
