"""What a notice names and whom it concerns, readings of a count, parcels to the laboratory, changes by subject or day.

Revision ID: 0003
"""

import sqlalchemy as sa
from alembic import op

revision = "0003"
down_revision = "0002"
branch_labels = None
depends_on = None

KEY = sa.BigInteger().with_variant(sa.Integer(), "sqlite")
INSTANT = sa.DateTime(timezone=True)


def _words(name: str, *values: str) -> sa.Enum:
    return sa.Enum(*values, name=name, native_enum=False, create_constraint=True, length=24)


def upgrade() -> None:
    """Make the tables of control; both stores add a column that may be empty in place."""
    _notice_scope()
    _notice_case()
    _count_line()
    _shipment()
    for column in ("contact_minutes", "count_every_weeks"):
        op.add_column("item", sa.Column(column, sa.Integer(), nullable=True))
    op.create_index("ix_lot_number", "lot", [sa.text("lower(number)")], unique=False)
    op.create_index("ix_change_subject", "change", ["subject", "subject_id"], unique=False)
    op.create_index("ix_change_at", "change", ["at"], unique=False)


def _notice_scope() -> None:
    op.create_table(
        "notice_scope",
        sa.Column("id", KEY, nullable=False),
        sa.Column("notice_id", KEY, nullable=False),
        sa.Column("item_id", KEY, nullable=True),
        sa.Column("code", sa.String(length=80), nullable=True),
        sa.Column("lot_from", sa.String(length=60), nullable=True),
        sa.Column("lot_to", sa.String(length=60), nullable=True),
        sa.Column("received_from", sa.Date(), nullable=True),
        sa.Column("received_to", sa.Date(), nullable=True),
        sa.Column("withdrawn_at", INSTANT, nullable=True),
        sa.CheckConstraint("COALESCE(received_to >= received_from, TRUE)", name=op.f("ck_notice_scope_received")),
        sa.CheckConstraint(
            "item_id IS NOT NULL OR code IS NOT NULL OR lot_from IS NOT NULL", name=op.f("ck_notice_scope_names")
        ),
        sa.CheckConstraint("lot_to IS NULL OR lot_from IS NOT NULL", name=op.f("ck_notice_scope_lots")),
        sa.ForeignKeyConstraint(["item_id"], ["item.id"], name=op.f("fk_notice_scope_item_id")),
        sa.ForeignKeyConstraint(["notice_id"], ["notice.id"], name=op.f("fk_notice_scope_notice_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_notice_scope")),
    )
    op.create_index(op.f("ix_notice_scope_item_id"), "notice_scope", ["item_id"], unique=False)
    op.create_index(op.f("ix_notice_scope_notice_id"), "notice_scope", ["notice_id"], unique=False)


def _notice_case() -> None:
    op.create_table(
        "notice_case",
        sa.Column("notice_id", KEY, nullable=False),
        sa.Column("case_ref", sa.String(length=40), nullable=False),
        sa.Column("status", _words("contact_status", "open", "told", "not_reached", "not_needed"), nullable=False),
        sa.Column("at", INSTANT, nullable=False),
        sa.Column("person_id", KEY, nullable=False),
        sa.Column("note", sa.String(length=500), nullable=False),
        sa.ForeignKeyConstraint(["notice_id"], ["notice.id"], name=op.f("fk_notice_case_notice_id")),
        sa.ForeignKeyConstraint(["person_id"], ["person.id"], name=op.f("fk_notice_case_person_id")),
        sa.PrimaryKeyConstraint("notice_id", "case_ref", name=op.f("pk_notice_case")),
    )
    op.create_index(op.f("ix_notice_case_person_id"), "notice_case", ["person_id"], unique=False)


def _count_line() -> None:
    op.create_table(
        "count_line",
        sa.Column("id", KEY, nullable=False),
        sa.Column("count_round_id", KEY, nullable=False),
        sa.Column("lot_id", KEY, nullable=False),
        sa.Column("place_id", KEY, nullable=False),
        sa.Column("opened_on", sa.Date(), nullable=True),
        sa.Column("holding_id", KEY, nullable=True),
        sa.Column("method", _words("count_method", "units", "tenths", "weight", "withdrawn"), nullable=False),
        sa.Column("reading", sa.BigInteger(), nullable=False),
        sa.Column("reading_unit_qty", sa.BigInteger(), nullable=False),
        sa.Column("counted_qty", sa.BigInteger(), nullable=True),
        sa.Column("counted_at", INSTANT, nullable=False),
        sa.Column("person_id", KEY, nullable=False),
        sa.Column("replaces_id", KEY, nullable=True),
        sa.CheckConstraint("(method = 'withdrawn') = (counted_qty IS NULL)", name=op.f("ck_count_line_counted")),
        sa.CheckConstraint("method <> 'withdrawn' OR replaces_id IS NOT NULL", name=op.f("ck_count_line_withdrawn")),
        sa.CheckConstraint(
            "reading >= 0 AND reading_unit_qty > 0 AND COALESCE(counted_qty, 0) >= 0",
            name=op.f("ck_count_line_figures"),
        ),
        sa.ForeignKeyConstraint(["count_round_id"], ["count_round.id"], name=op.f("fk_count_line_count_round_id")),
        sa.ForeignKeyConstraint(["holding_id"], ["holding.id"], name=op.f("fk_count_line_holding_id")),
        sa.ForeignKeyConstraint(["lot_id"], ["lot.id"], name=op.f("fk_count_line_lot_id")),
        sa.ForeignKeyConstraint(["person_id"], ["person.id"], name=op.f("fk_count_line_person_id")),
        sa.ForeignKeyConstraint(["place_id"], ["place.id"], name=op.f("fk_count_line_place_id")),
        sa.ForeignKeyConstraint(["replaces_id"], ["count_line.id"], name=op.f("fk_count_line_replaces_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_count_line")),
        sa.UniqueConstraint("replaces_id", name=op.f("uq_count_line_replaces_id")),
    )
    op.create_index(op.f("ix_count_line_count_round_id"), "count_line", ["count_round_id"], unique=False)
    op.create_index(op.f("ix_count_line_holding_id"), "count_line", ["holding_id"], unique=False)
    op.create_index(op.f("ix_count_line_lot_id"), "count_line", ["lot_id"], unique=False)
    op.create_index(op.f("ix_count_line_person_id"), "count_line", ["person_id"], unique=False)
    op.create_index(op.f("ix_count_line_place_id"), "count_line", ["place_id"], unique=False)


def _shipment() -> None:
    op.create_table(
        "shipment",
        sa.Column("id", KEY, nullable=False),
        sa.Column("visit_id", KEY, nullable=False),
        sa.Column("contents", sa.JSON(), nullable=False),
        sa.Column("disinfectant_id", KEY, nullable=True),
        sa.Column("contact_minutes", sa.Integer(), nullable=True),
        sa.Column("taken_at", INSTANT, nullable=True),
        sa.Column("pour_by", INSTANT, nullable=True),
        sa.Column("carrier", sa.String(length=80), nullable=False),
        sa.Column("sent_at", INSTANT, nullable=True),
        sa.Column("sent_by_id", KEY, nullable=True),
        sa.Column("answer", _words("laboratory_answer", "received", "rejected"), nullable=True),
        sa.Column("answered_at", INSTANT, nullable=True),
        sa.Column("answer_note", sa.String(length=500), nullable=False),
        sa.Column("version", sa.Integer(), nullable=False),
        sa.CheckConstraint("(answered_at IS NULL) = (answer IS NULL)", name=op.f("ck_shipment_answered")),
        sa.CheckConstraint("(sent_at IS NULL) = (sent_by_id IS NULL)", name=op.f("ck_shipment_sent")),
        sa.CheckConstraint("answered_at IS NULL OR sent_at IS NOT NULL", name=op.f("ck_shipment_answer_to_sent")),
        sa.CheckConstraint("contact_minutes IS NULL OR contact_minutes > 0", name=op.f("ck_shipment_contact")),
        sa.ForeignKeyConstraint(["disinfectant_id"], ["item.id"], name=op.f("fk_shipment_disinfectant_id")),
        sa.ForeignKeyConstraint(["sent_by_id"], ["person.id"], name=op.f("fk_shipment_sent_by_id")),
        sa.ForeignKeyConstraint(["visit_id"], ["visit.id"], name=op.f("fk_shipment_visit_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_shipment")),
    )
    op.create_index(op.f("ix_shipment_disinfectant_id"), "shipment", ["disinfectant_id"], unique=False)
    op.create_index(op.f("ix_shipment_sent_by_id"), "shipment", ["sent_by_id"], unique=False)
    op.create_index(op.f("ix_shipment_visit_id"), "shipment", ["visit_id"], unique=False)
