"""The first schema.

Revision ID: 0001
"""

import sqlalchemy as sa
from alembic import op

revision = "0001"
down_revision = None
branch_labels = None
depends_on = None

KEY = sa.BigInteger().with_variant(sa.Integer(), "sqlite")
INSTANT = sa.DateTime(timezone=True)


def _words(name: str, *values: str) -> sa.Enum:
    return sa.Enum(*values, name=name, native_enum=False, create_constraint=True, length=24)


def upgrade() -> None:  # noqa: PLR0915 - one statement per table and index
    """Create every table."""
    op.create_table(
        "case_kind",
        sa.Column("id", KEY, nullable=False),
        sa.Column("code", sa.String(length=40), nullable=False),
        sa.Column("name", sa.String(length=80), nullable=False),
        sa.Column(
            "technique",
            _words("technique", "stock_tray", "custom_tray", "reline", "preliminary", "jaw_relation"),
            nullable=False,
        ),
        sa.Column("ships", sa.JSON(), nullable=False),
        sa.Column("active", sa.Boolean(), nullable=False),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_case_kind")),
        sa.UniqueConstraint("code", name=op.f("uq_case_kind_code")),
    )
    op.create_table(
        "item",
        sa.Column("id", KEY, nullable=False),
        sa.Column("code", sa.String(length=40), nullable=False),
        sa.Column("name", sa.String(length=120), nullable=False),
        sa.Column("kind", _words("kind", "impression", "bite", "tray", "tip", "accessory"), nullable=False),
        sa.Column("base", _words("base", "cml", "cg", "piece"), nullable=False),
        sa.Column("unit_qty", sa.BigInteger(), nullable=False),
        sa.Column("unit_name", sa.String(length=24), nullable=False),
        sa.Column("way_of_use", _words("way_of_use", "visit", "step", "count"), nullable=False),
        sa.Column("viscosity", _words("viscosity_type", "0", "1", "2", "3"), nullable=True),
        sa.Column("setting_speed", _words("setting_speed", "fast", "regular"), nullable=True),
        sa.Column("family", sa.String(length=40), nullable=True),
        sa.Column("tray_line", sa.String(length=40), nullable=True),
        sa.Column("arch", _words("arch", "maxillary", "mandibular"), nullable=True),
        sa.Column("tray_size", sa.String(length=12), nullable=True),
        sa.Column("reusable", sa.Boolean(), nullable=False),
        sa.Column("opened_days", sa.Integer(), nullable=True),
        sa.Column("opened_days_source", sa.String(length=80), nullable=True),
        sa.Column("min_load_qty", sa.BigInteger(), nullable=True),
        sa.Column("may_split_load", sa.Boolean(), nullable=False),
        sa.Column("tip_volume_qty", sa.BigInteger(), nullable=True),
        sa.Column("bleed_qty", sa.BigInteger(), nullable=True),
        sa.Column("density_mg_per_ml", sa.Integer(), nullable=True),
        sa.Column("tare_mg", sa.Integer(), nullable=True),
        sa.Column("has_lots", sa.Boolean(), nullable=False),
        sa.Column("criticality", _words("criticality", "vital", "essential", "normal"), nullable=False),
        sa.Column("service_ppm", sa.Integer(), nullable=True),
        sa.Column("min_units", sa.Integer(), nullable=True),
        sa.Column("max_units", sa.Integer(), nullable=True),
        sa.Column("pour_within_hours", sa.Integer(), nullable=True),
        sa.Column("active", sa.Boolean(), nullable=False),
        sa.CheckConstraint(
            "(kind = 'tray') = (tray_line IS NOT NULL AND arch IS NOT NULL AND tray_size IS NOT NULL)",
            name=op.f("ck_item_tray"),
        ),
        sa.CheckConstraint("base <> 'piece' OR unit_qty = 1", name=op.f("ck_item_piece_unit")),
        sa.CheckConstraint("kind <> 'bite' OR base = 'cml'", name=op.f("ck_item_bite")),
        sa.CheckConstraint("kind <> 'impression' OR base IN ('cml', 'cg')", name=op.f("ck_item_impression")),
        sa.CheckConstraint("kind NOT IN ('tray', 'tip') OR base = 'piece'", name=op.f("ck_item_counted")),
        sa.CheckConstraint(
            "viscosity IS NULL OR (kind IN ('impression', 'bite') AND base = 'cml')", name=op.f("ck_item_viscosity")
        ),
        sa.CheckConstraint(
            "(min_units IS NULL) = (max_units IS NULL) AND COALESCE(max_units >= min_units, TRUE)",
            name=op.f("ck_item_rule"),
        ),
        sa.CheckConstraint(
            "(opened_days IS NULL) = (opened_days_source IS NULL)", name=op.f("ck_item_opened_days_source")
        ),
        sa.CheckConstraint(
            "COALESCE(min_load_qty, 0) >= 0 AND COALESCE(tip_volume_qty, 0) >= 0 AND COALESCE(bleed_qty, 0) >= 0",
            name=op.f("ck_item_not_negative"),
        ),
        sa.CheckConstraint("opened_days IS NULL OR opened_days >= 0", name=op.f("ck_item_opened_days")),
        sa.CheckConstraint(
            "service_ppm IS NULL OR (service_ppm > 0 AND service_ppm < 1000000)", name=op.f("ck_item_service")
        ),
        sa.CheckConstraint("unit_qty > 0", name=op.f("ck_item_unit_qty")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_item")),
        sa.UniqueConstraint("code", name=op.f("uq_item_code")),
    )
    op.create_table(
        "notice",
        sa.Column("id", KEY, nullable=False),
        sa.Column("reference", sa.String(length=80), nullable=False),
        sa.Column("notice_on", sa.Date(), nullable=False),
        sa.Column("notice_class", _words("notice_class", "I", "II", "III", "none"), nullable=False),
        sa.Column("text", sa.String(length=4000), nullable=False),
        sa.Column("answer_by", sa.Date(), nullable=True),
        sa.Column("answered_at", INSTANT, nullable=True),
        sa.Column("answer_proof", sa.String(length=200), nullable=True),
        sa.Column("state", sa.String(length=8), nullable=False),
        sa.CheckConstraint("state IN ('open', 'closed')", name=op.f("ck_notice_state")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_notice")),
        sa.UniqueConstraint("reference", name=op.f("uq_notice_reference")),
    )
    op.create_table(
        "person",
        sa.Column("id", KEY, nullable=False),
        sa.Column("initials", sa.String(length=8), nullable=False),
        sa.Column("role", _words("role", "assistant", "dentist", "manager"), nullable=False),
        sa.Column("active", sa.Boolean(), nullable=False),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_person")),
        sa.UniqueConstraint("initials", name=op.f("uq_person_initials")),
    )
    op.create_table(
        "place",
        sa.Column("id", KEY, nullable=False),
        sa.Column("name", sa.String(length=60), nullable=False),
        sa.Column("role", _words("role", "store", "chair", "set_aside", "reprocessing", "laboratory"), nullable=False),
        sa.Column("walk_order", sa.Integer(), nullable=False),
        sa.Column("active", sa.Boolean(), nullable=False),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_place")),
        sa.UniqueConstraint("name", name=op.f("uq_place_name")),
    )
    op.create_table(
        "revision",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("number", sa.Integer(), nullable=False),
        sa.CheckConstraint("id = 1", name=op.f("ck_revision_single")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_revision")),
    )
    op.create_table(
        "setting",
        sa.Column("key", sa.String(40), nullable=False),
        sa.Column("value", sa.JSON(), nullable=False),
        sa.PrimaryKeyConstraint("key", name=op.f("pk_setting")),
    )
    op.create_table(
        "size_prior",
        sa.Column("line", sa.String(40), nullable=False),
        sa.Column("arch", _words("arch", "maxillary", "mandibular"), nullable=False),
        sa.Column("tray_size", sa.String(12), nullable=False),
        sa.Column("weight_ppm", sa.Integer(), nullable=False),
        sa.CheckConstraint("weight_ppm >= 0 AND weight_ppm <= 1000000", name=op.f("ck_size_prior_weight")),
        sa.PrimaryKeyConstraint("line", "arch", "tray_size", name=op.f("pk_size_prior")),
    )
    op.create_table(
        "supplier",
        sa.Column("id", KEY, nullable=False),
        sa.Column("name", sa.String(length=80), nullable=False),
        sa.Column("lead_days", sa.Integer(), nullable=False),
        sa.Column("order_weekdays", sa.String(length=13), nullable=False),
        sa.Column("minimum_cents", sa.BigInteger(), nullable=False),
        sa.Column("fee_cents", sa.BigInteger(), nullable=False),
        sa.Column("free_from_cents", sa.BigInteger(), nullable=True),
        sa.Column("takes_short_dated", sa.Boolean(), nullable=False),
        sa.Column("active", sa.Boolean(), nullable=False),
        sa.CheckConstraint("lead_days >= 0", name=op.f("ck_supplier_lead_days")),
        sa.CheckConstraint("minimum_cents >= 0 AND fee_cents >= 0", name=op.f("ck_supplier_terms")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_supplier")),
        sa.UniqueConstraint("name", name=op.f("uq_supplier_name")),
    )
    op.create_table(
        "tray_size",
        sa.Column("line", sa.String(40), nullable=False),
        sa.Column("arch", _words("arch", "maxillary", "mandibular"), nullable=False),
        sa.Column("label", sa.String(12), nullable=False),
        sa.Column("position", sa.Integer(), nullable=False),
        sa.PrimaryKeyConstraint("line", "arch", "label", name=op.f("pk_tray_size")),
    )
    op.create_table(
        "barcode",
        sa.Column("id", KEY, nullable=False),
        sa.Column("scheme", sa.String(length=8), nullable=False),
        sa.Column("code", sa.String(length=80), nullable=False),
        sa.Column("item_id", KEY, nullable=False),
        sa.Column("units", sa.Integer(), nullable=False),
        sa.CheckConstraint("scheme IN ('gtin', 'hibc', 'own')", name=op.f("ck_barcode_scheme")),
        sa.CheckConstraint("units > 0", name=op.f("ck_barcode_units")),
        sa.ForeignKeyConstraint(["item_id"], ["item.id"], name=op.f("fk_barcode_item_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_barcode")),
        sa.UniqueConstraint("scheme", "code", name=op.f("uq_barcode_scheme_code")),
    )
    op.create_index(op.f("ix_barcode_item_id"), "barcode", ["item_id"], unique=False)
    op.create_table(
        "change",
        sa.Column("id", KEY, nullable=False),
        sa.Column("at", INSTANT, nullable=False),
        sa.Column("person_id", KEY, nullable=True),
        sa.Column("subject", sa.String(length=40), nullable=False),
        sa.Column("subject_id", sa.String(length=80), nullable=False),
        sa.Column("field", sa.String(length=40), nullable=False),
        sa.Column("old", sa.String(length=500), nullable=True),
        sa.Column("new", sa.String(length=500), nullable=True),
        sa.Column("reason", sa.String(length=500), nullable=True),
        sa.ForeignKeyConstraint(["person_id"], ["person.id"], name=op.f("fk_change_person_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_change")),
    )
    op.create_index(op.f("ix_change_person_id"), "change", ["person_id"], unique=False)
    op.create_table(
        "count_round",
        sa.Column("id", KEY, nullable=False),
        sa.Column("scope", sa.JSON(), nullable=False),
        sa.Column("blind", sa.Boolean(), nullable=False),
        sa.Column("state", sa.String(length=8), nullable=False),
        sa.Column("started_at", INSTANT, nullable=False),
        sa.Column("person_id", KEY, nullable=False),
        sa.Column("approved_at", INSTANT, nullable=True),
        sa.CheckConstraint("state IN ('open', 'approved', 'dropped')", name=op.f("ck_count_round_state")),
        sa.ForeignKeyConstraint(["person_id"], ["person.id"], name=op.f("fk_count_round_person_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_count_round")),
    )
    op.create_index(op.f("ix_count_round_person_id"), "count_round", ["person_id"], unique=False)
    op.create_table(
        "delivery",
        sa.Column("id", KEY, nullable=False),
        sa.Column("supplier_id", KEY, nullable=False),
        sa.Column("received_on", sa.Date(), nullable=False),
        sa.Column("slip_no", sa.String(length=60), nullable=True),
        sa.ForeignKeyConstraint(["supplier_id"], ["supplier.id"], name=op.f("fk_delivery_supplier_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_delivery")),
    )
    op.create_index(op.f("ix_delivery_supplier_id"), "delivery", ["supplier_id"], unique=False)
    op.create_index(
        "uq_delivery_slip",
        "delivery",
        ["supplier_id", "slip_no"],
        unique=True,
        sqlite_where=sa.text("slip_no IS NOT NULL"),
        postgresql_where=sa.text("slip_no IS NOT NULL"),
    )
    op.create_table(
        "item_fits",
        sa.Column("fitting_id", KEY, nullable=False),
        sa.Column("material_id", KEY, nullable=False),
        sa.ForeignKeyConstraint(["fitting_id"], ["item.id"], name=op.f("fk_item_fits_fitting_id")),
        sa.ForeignKeyConstraint(["material_id"], ["item.id"], name=op.f("fk_item_fits_material_id")),
        sa.PrimaryKeyConstraint("fitting_id", "material_id", name=op.f("pk_item_fits")),
    )
    op.create_index(op.f("ix_item_fits_material_id"), "item_fits", ["material_id"], unique=False)
    op.create_table(
        "lot",
        sa.Column("id", KEY, nullable=False),
        sa.Column("item_id", KEY, nullable=False),
        sa.Column("number", sa.String(length=60), nullable=False),
        sa.Column("number_is_ours", sa.Boolean(), nullable=False),
        sa.Column("use_by", sa.Date(), nullable=True),
        sa.Column("use_by_read", _words("use_by_read", "day", "month", "none_stated", "not_read"), nullable=False),
        sa.Column("made_on", sa.Date(), nullable=True),
        sa.Column("unit_qty", sa.BigInteger(), nullable=False),
        sa.Column("first_received_on", sa.Date(), nullable=False),
        sa.Column("note", sa.String(length=500), nullable=False),
        sa.CheckConstraint(
            "(use_by IS NULL) = (use_by_read IN ('none_stated', 'not_read'))", name=op.f("ck_lot_use_by")
        ),
        sa.CheckConstraint("unit_qty > 0", name=op.f("ck_lot_unit_qty")),
        sa.ForeignKeyConstraint(["item_id"], ["item.id"], name=op.f("fk_lot_item_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_lot")),
    )
    op.create_index(op.f("ix_lot_item_id"), "lot", ["item_id"], unique=False)
    op.create_index(
        "uq_lot_dated",
        "lot",
        ["item_id", "number", "use_by"],
        unique=True,
        sqlite_where=sa.text("use_by IS NOT NULL"),
        postgresql_where=sa.text("use_by IS NOT NULL"),
    )
    op.create_index(
        "uq_lot_undated",
        "lot",
        ["item_id", "number"],
        unique=True,
        sqlite_where=sa.text("use_by IS NULL"),
        postgresql_where=sa.text("use_by IS NULL"),
    )
    op.create_table(
        "step",
        sa.Column("id", KEY, nullable=False),
        sa.Column("case_kind_id", KEY, nullable=False),
        sa.Column("code", sa.String(length=40), nullable=False),
        sa.Column("name", sa.String(length=60), nullable=False),
        sa.Column("position", sa.Integer(), nullable=False),
        sa.Column("arch", _words("arch", "maxillary", "mandibular"), nullable=True),
        sa.ForeignKeyConstraint(["case_kind_id"], ["case_kind.id"], name=op.f("fk_step_case_kind_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_step")),
        sa.UniqueConstraint("case_kind_id", "code", "arch", name=op.f("uq_step_case_kind_id_code_arch")),
    )
    op.create_index(
        "uq_step_per_visit",
        "step",
        ["case_kind_id", "code"],
        unique=True,
        sqlite_where=sa.text("arch IS NULL"),
        postgresql_where=sa.text("arch IS NULL"),
    )
    op.create_table(
        "stock_rule",
        sa.Column("item_id", KEY, nullable=False),
        sa.Column("place_id", KEY, nullable=False),
        sa.Column("top_up_to_units", sa.Integer(), nullable=False),
        sa.CheckConstraint("top_up_to_units > 0", name=op.f("ck_stock_rule_units")),
        sa.ForeignKeyConstraint(["item_id"], ["item.id"], name=op.f("fk_stock_rule_item_id")),
        sa.ForeignKeyConstraint(["place_id"], ["place.id"], name=op.f("fk_stock_rule_place_id")),
        sa.PrimaryKeyConstraint("item_id", "place_id", name=op.f("pk_stock_rule")),
    )
    op.create_index(op.f("ix_stock_rule_place_id"), "stock_rule", ["place_id"], unique=False)
    op.create_table(
        "supply",
        sa.Column("id", KEY, nullable=False),
        sa.Column("item_id", KEY, nullable=False),
        sa.Column("supplier_id", KEY, nullable=False),
        sa.Column("catalogue_no", sa.String(length=60), nullable=False),
        sa.Column("units_per_pack", sa.Integer(), nullable=False),
        sa.Column("pack_cents", sa.BigInteger(), nullable=False),
        sa.Column("valid_from", sa.Date(), nullable=False),
        sa.Column("preferred", sa.Boolean(), nullable=False),
        sa.CheckConstraint("pack_cents >= 0", name=op.f("ck_supply_price")),
        sa.CheckConstraint("units_per_pack > 0", name=op.f("ck_supply_units")),
        sa.ForeignKeyConstraint(["item_id"], ["item.id"], name=op.f("fk_supply_item_id")),
        sa.ForeignKeyConstraint(["supplier_id"], ["supplier.id"], name=op.f("fk_supply_supplier_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_supply")),
        sa.UniqueConstraint(
            "item_id",
            "supplier_id",
            "units_per_pack",
            "valid_from",
            name=op.f("uq_supply_item_id_supplier_id_units_per_pack_valid_from"),
        ),
    )
    op.create_index(op.f("ix_supply_supplier_id"), "supply", ["supplier_id"], unique=False)
    op.create_table(
        "visit",
        sa.Column("id", KEY, nullable=False),
        sa.Column("case_ref", sa.String(length=40), nullable=False),
        sa.Column("on", sa.Date(), nullable=False),
        sa.Column("case_kind_id", KEY, nullable=False),
        sa.Column("upper", sa.Boolean(), nullable=False),
        sa.Column("lower", sa.Boolean(), nullable=False),
        sa.Column("upper_size", sa.String(length=12), nullable=True),
        sa.Column("lower_size", sa.String(length=12), nullable=True),
        sa.Column("remake_of_id", KEY, nullable=True),
        sa.Column("remake_asked_by", _words("remake_asked_by", "chair", "laboratory"), nullable=True),
        sa.Column("state", _words("state", "planned", "done", "cancelled"), nullable=False),
        sa.Column("place_id", KEY, nullable=True),
        sa.Column("note", sa.String(length=500), nullable=False),
        sa.Column("source_key", sa.String(length=64), nullable=True),
        sa.Column("source_sequence", sa.Integer(), nullable=True),
        sa.Column("version", sa.Integer(), nullable=False),
        sa.CheckConstraint("(remake_of_id IS NULL) = (remake_asked_by IS NULL)", name=op.f("ck_visit_remake")),
        sa.CheckConstraint("upper OR lower", name=op.f("ck_visit_arch")),
        sa.ForeignKeyConstraint(["case_kind_id"], ["case_kind.id"], name=op.f("fk_visit_case_kind_id")),
        sa.ForeignKeyConstraint(["place_id"], ["place.id"], name=op.f("fk_visit_place_id")),
        sa.ForeignKeyConstraint(["remake_of_id"], ["visit.id"], name=op.f("fk_visit_remake_of_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_visit")),
    )
    op.create_index(op.f("ix_visit_case_kind_id"), "visit", ["case_kind_id"], unique=False)
    op.create_index("ix_visit_case_ref", "visit", ["case_ref"], unique=False)
    op.create_index(op.f("ix_visit_place_id"), "visit", ["place_id"], unique=False)
    op.create_index(op.f("ix_visit_remake_of_id"), "visit", ["remake_of_id"], unique=False)
    op.create_index("ix_visit_state", "visit", ["state", "on"], unique=False)
    op.create_index(
        "uq_visit_source",
        "visit",
        ["source_key", "on"],
        unique=True,
        sqlite_where=sa.text("source_key IS NOT NULL"),
        postgresql_where=sa.text("source_key IS NOT NULL"),
    )
    op.create_table(
        "document",
        sa.Column("id", KEY, nullable=False),
        sa.Column(
            "kind",
            _words("kind", "receipt", "opening", "use", "count", "discard", "transfer", "return", "reversal"),
            nullable=False,
        ),
        sa.Column("request_key", sa.String(length=64), nullable=False),
        sa.Column("part", sa.Integer(), nullable=False),
        sa.Column("request_hash", sa.String(length=64), nullable=False),
        sa.Column("person_id", KEY, nullable=False),
        sa.Column("recorded_at", INSTANT, nullable=False),
        sa.Column("happened_at", INSTANT, nullable=False),
        sa.Column("happened_on", sa.Date(), nullable=False),
        sa.Column("reason", sa.String(length=500), nullable=True),
        sa.Column("proof", sa.String(length=200), nullable=True),
        sa.Column("reverses_id", KEY, nullable=True),
        sa.Column("visit_id", KEY, nullable=True),
        sa.Column("delivery_id", KEY, nullable=True),
        sa.Column("count_round_id", KEY, nullable=True),
        sa.Column("notice_id", KEY, nullable=True),
        sa.Column("group_ref", sa.String(length=64), nullable=True),
        sa.CheckConstraint("(kind = 'reversal') = (reverses_id IS NOT NULL)", name=op.f("ck_document_reversal")),
        sa.CheckConstraint("reverses_id IS NULL OR reason IS NOT NULL", name=op.f("ck_document_reversal_reason")),
        sa.ForeignKeyConstraint(["count_round_id"], ["count_round.id"], name=op.f("fk_document_count_round_id")),
        sa.ForeignKeyConstraint(["delivery_id"], ["delivery.id"], name=op.f("fk_document_delivery_id")),
        sa.ForeignKeyConstraint(["notice_id"], ["notice.id"], name=op.f("fk_document_notice_id")),
        sa.ForeignKeyConstraint(["person_id"], ["person.id"], name=op.f("fk_document_person_id")),
        sa.ForeignKeyConstraint(["reverses_id"], ["document.id"], name=op.f("fk_document_reverses_id")),
        sa.ForeignKeyConstraint(["visit_id"], ["visit.id"], name=op.f("fk_document_visit_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_document")),
        sa.UniqueConstraint("request_key", "part", name=op.f("uq_document_request_key_part")),
        sa.UniqueConstraint("reverses_id", name=op.f("uq_document_reverses_id")),
    )
    op.create_index(op.f("ix_document_count_round_id"), "document", ["count_round_id"], unique=False)
    op.create_index(op.f("ix_document_delivery_id"), "document", ["delivery_id"], unique=False)
    op.create_index("ix_document_happened", "document", ["happened_on", "id"], unique=False)
    op.create_index("ix_document_kind", "document", ["kind", "id"], unique=False)
    op.create_index(op.f("ix_document_notice_id"), "document", ["notice_id"], unique=False)
    op.create_index(op.f("ix_document_person_id"), "document", ["person_id"], unique=False)
    op.create_index(op.f("ix_document_visit_id"), "document", ["visit_id"], unique=False)
    op.create_table(
        "hold",
        sa.Column("id", KEY, nullable=False),
        sa.Column("lot_id", KEY, nullable=False),
        sa.Column("notice_id", KEY, nullable=True),
        sa.Column("reason", sa.String(length=500), nullable=False),
        sa.Column("person_id", KEY, nullable=False),
        sa.Column("at", INSTANT, nullable=False),
        sa.Column("released_at", INSTANT, nullable=True),
        sa.Column("released_by_id", KEY, nullable=True),
        sa.Column("release_reason", sa.String(length=500), nullable=True),
        sa.CheckConstraint(
            "(released_at IS NULL) = (released_by_id IS NULL) AND (released_at IS NULL) = (release_reason IS NULL)",
            name=op.f("ck_hold_release"),
        ),
        sa.ForeignKeyConstraint(["lot_id"], ["lot.id"], name=op.f("fk_hold_lot_id")),
        sa.ForeignKeyConstraint(["notice_id"], ["notice.id"], name=op.f("fk_hold_notice_id")),
        sa.ForeignKeyConstraint(["person_id"], ["person.id"], name=op.f("fk_hold_person_id")),
        sa.ForeignKeyConstraint(["released_by_id"], ["person.id"], name=op.f("fk_hold_released_by_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_hold")),
    )
    op.create_index(op.f("ix_hold_lot_id"), "hold", ["lot_id"], unique=False)
    op.create_index(op.f("ix_hold_notice_id"), "hold", ["notice_id"], unique=False)
    op.create_index(
        "ix_hold_open",
        "hold",
        ["lot_id"],
        unique=False,
        sqlite_where=sa.text("released_at IS NULL"),
        postgresql_where=sa.text("released_at IS NULL"),
    )
    op.create_index(op.f("ix_hold_person_id"), "hold", ["person_id"], unique=False)
    op.create_index(op.f("ix_hold_released_by_id"), "hold", ["released_by_id"], unique=False)
    op.create_table(
        "holding",
        sa.Column("id", KEY, nullable=False),
        sa.Column("lot_id", KEY, nullable=False),
        sa.Column("place_id", KEY, nullable=False),
        sa.Column("opened_on", sa.Date(), nullable=True),
        sa.Column("on_hand", sa.BigInteger(), nullable=False),
        sa.CheckConstraint("on_hand >= 0", name=op.f("ck_holding_on_hand")),
        sa.ForeignKeyConstraint(["lot_id"], ["lot.id"], name=op.f("fk_holding_lot_id")),
        sa.ForeignKeyConstraint(["place_id"], ["place.id"], name=op.f("fk_holding_place_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_holding")),
    )
    op.create_index(
        "ix_holding_filled",
        "holding",
        ["lot_id"],
        unique=False,
        sqlite_where=sa.text("on_hand > 0"),
        postgresql_where=sa.text("on_hand > 0"),
    )
    op.create_index(op.f("ix_holding_lot_id"), "holding", ["lot_id"], unique=False)
    op.create_index(op.f("ix_holding_place_id"), "holding", ["place_id"], unique=False)
    op.create_index(
        "uq_holding_sealed",
        "holding",
        ["lot_id", "place_id"],
        unique=True,
        sqlite_where=sa.text("opened_on IS NULL"),
        postgresql_where=sa.text("opened_on IS NULL"),
    )
    op.create_table(
        "need",
        sa.Column("id", KEY, nullable=False),
        sa.Column("step_id", KEY, nullable=False),
        sa.Column("kind", _words("kind", "impression", "bite", "tray", "tip", "accessory"), nullable=False),
        sa.Column("viscosity", _words("viscosity_type", "0", "1", "2", "3"), nullable=True),
        sa.Column("setting_speed", _words("setting_speed", "fast", "regular"), nullable=True),
        sa.Column("tray_line", sa.String(length=40), nullable=True),
        sa.Column("optional", sa.Boolean(), nullable=False),
        sa.CheckConstraint("viscosity IS NULL OR kind IN ('impression', 'bite')", name=op.f("ck_need_viscosity")),
        sa.ForeignKeyConstraint(["step_id"], ["step.id"], name=op.f("fk_need_step_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_need")),
    )
    op.create_index(op.f("ix_need_step_id"), "need", ["step_id"], unique=False)
    op.create_table(
        "pack_content",
        sa.Column("supply_id", KEY, nullable=False),
        sa.Column("item_id", KEY, nullable=False),
        sa.Column("units", sa.Integer(), nullable=False),
        sa.CheckConstraint("units > 0", name=op.f("ck_pack_content_units")),
        sa.ForeignKeyConstraint(["item_id"], ["item.id"], name=op.f("fk_pack_content_item_id")),
        sa.ForeignKeyConstraint(["supply_id"], ["supply.id"], name=op.f("fk_pack_content_supply_id")),
        sa.PrimaryKeyConstraint("supply_id", "item_id", name=op.f("pk_pack_content")),
    )
    op.create_index(op.f("ix_pack_content_item_id"), "pack_content", ["item_id"], unique=False)
    op.create_table(
        "price_break",
        sa.Column("supply_id", KEY, nullable=False),
        sa.Column("from_packs", sa.Integer(), nullable=False),
        sa.Column("pack_cents", sa.BigInteger(), nullable=False),
        sa.CheckConstraint("from_packs > 1 AND pack_cents >= 0", name=op.f("ck_price_break_terms")),
        sa.ForeignKeyConstraint(["supply_id"], ["supply.id"], name=op.f("fk_price_break_supply_id")),
        sa.PrimaryKeyConstraint("supply_id", "from_packs", name=op.f("pk_price_break")),
    )
    op.create_table(
        "delivery_line",
        sa.Column("id", KEY, nullable=False),
        sa.Column("delivery_id", KEY, nullable=False),
        sa.Column("lot_id", KEY, nullable=False),
        sa.Column("units", sa.Integer(), nullable=False),
        sa.Column("pack_cents", sa.BigInteger(), nullable=True),
        sa.Column("units_per_pack", sa.Integer(), nullable=False),
        sa.Column("damaged_units", sa.Integer(), nullable=False),
        sa.Column("document_id", KEY, nullable=False),
        sa.CheckConstraint("pack_cents IS NULL OR pack_cents >= 0", name=op.f("ck_delivery_line_price")),
        sa.CheckConstraint("units > 0 AND damaged_units >= 0", name=op.f("ck_delivery_line_units")),
        sa.CheckConstraint("units_per_pack > 0", name=op.f("ck_delivery_line_pack")),
        sa.ForeignKeyConstraint(["delivery_id"], ["delivery.id"], name=op.f("fk_delivery_line_delivery_id")),
        sa.ForeignKeyConstraint(["document_id"], ["document.id"], name=op.f("fk_delivery_line_document_id")),
        sa.ForeignKeyConstraint(["lot_id"], ["lot.id"], name=op.f("fk_delivery_line_lot_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_delivery_line")),
    )
    op.create_index(op.f("ix_delivery_line_delivery_id"), "delivery_line", ["delivery_id"], unique=False)
    op.create_index(op.f("ix_delivery_line_document_id"), "delivery_line", ["document_id"], unique=False)
    op.create_index(op.f("ix_delivery_line_lot_id"), "delivery_line", ["lot_id"], unique=False)
    op.create_table(
        "estimate",
        sa.Column("id", KEY, nullable=False),
        sa.Column("need_id", KEY, nullable=False),
        sa.Column("source", _words("source", "default", "learned", "pinned"), nullable=False),
        sa.Column("mean_qty", sa.BigInteger(), nullable=False),
        sa.Column("sd_qty", sa.BigInteger(), nullable=False),
        sa.Column("retake_ppm", sa.Integer(), nullable=False),
        sa.Column("weight", sa.Integer(), nullable=False),
        sa.Column("observations", sa.Integer(), nullable=False),
        sa.Column("as_of", INSTANT, nullable=False),
        sa.Column("why", sa.JSON(), nullable=False),
        sa.CheckConstraint("mean_qty >= 0 AND sd_qty >= 0", name=op.f("ck_estimate_figures")),
        sa.CheckConstraint("retake_ppm >= 0 AND retake_ppm < 1000000", name=op.f("ck_estimate_retake")),
        sa.ForeignKeyConstraint(["need_id"], ["need.id"], name=op.f("fk_estimate_need_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_estimate")),
    )
    op.create_index(op.f("ix_estimate_need_id"), "estimate", ["need_id"], unique=False)
    op.create_table(
        "movement",
        sa.Column("id", KEY, nullable=False),
        sa.Column("document_id", KEY, nullable=False),
        sa.Column("line", sa.Integer(), nullable=False),
        sa.Column("holding_id", KEY, nullable=False),
        sa.Column("item_id", KEY, nullable=False),
        sa.Column(
            "kind",
            _words("kind", "receipt", "opening", "use", "purge", "waste", "discard", "count", "transfer", "return"),
            nullable=False,
        ),
        sa.Column("qty", sa.BigInteger(), nullable=False),
        sa.Column("arch", _words("arch", "maxillary", "mandibular"), nullable=True),
        sa.Column("step", sa.String(length=40), nullable=True),
        sa.Column("attempt", sa.Integer(), nullable=True),
        sa.Column("lot_confirmed", sa.Boolean(), nullable=False),
        sa.Column("late_reason", _words("late_reason", "expired", "held", "recalled"), nullable=True),
        sa.CheckConstraint("attempt IS NULL OR attempt > 0", name=op.f("ck_movement_attempt")),
        sa.CheckConstraint("qty <> 0", name=op.f("ck_movement_qty")),
        sa.ForeignKeyConstraint(["document_id"], ["document.id"], name=op.f("fk_movement_document_id")),
        sa.ForeignKeyConstraint(["holding_id"], ["holding.id"], name=op.f("fk_movement_holding_id")),
        sa.ForeignKeyConstraint(["item_id"], ["item.id"], name=op.f("fk_movement_item_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_movement")),
        sa.UniqueConstraint("document_id", "line", name=op.f("uq_movement_document_id_line")),
    )
    op.create_index("ix_movement_holding", "movement", ["holding_id", "id"], unique=False)
    op.create_index("ix_movement_item", "movement", ["item_id", "id"], unique=False)
    op.create_table(
        "need_item",
        sa.Column("need_id", KEY, nullable=False),
        sa.Column("item_id", KEY, nullable=False),
        sa.Column("rank", sa.Integer(), nullable=False),
        sa.ForeignKeyConstraint(["item_id"], ["item.id"], name=op.f("fk_need_item_item_id")),
        sa.ForeignKeyConstraint(["need_id"], ["need.id"], name=op.f("fk_need_item_need_id")),
        sa.PrimaryKeyConstraint("need_id", "item_id", name=op.f("pk_need_item")),
        sa.UniqueConstraint("need_id", "rank", name=op.f("uq_need_item_need_id_rank")),
    )
    op.create_index(op.f("ix_need_item_item_id"), "need_item", ["item_id"], unique=False)
    op.create_table(
        "tray_trial",
        sa.Column("id", KEY, nullable=False),
        sa.Column("visit_id", KEY, nullable=False),
        sa.Column("arch", _words("arch", "maxillary", "mandibular"), nullable=False),
        sa.Column("item_id", KEY, nullable=False),
        sa.Column(
            "outcome", _words("outcome", "fitted", "laid_out_unused", "tried_reprocess", "tried_thrown"), nullable=False
        ),
        sa.Column("document_id", KEY, nullable=True),
        sa.ForeignKeyConstraint(["document_id"], ["document.id"], name=op.f("fk_tray_trial_document_id")),
        sa.ForeignKeyConstraint(["item_id"], ["item.id"], name=op.f("fk_tray_trial_item_id")),
        sa.ForeignKeyConstraint(["visit_id"], ["visit.id"], name=op.f("fk_tray_trial_visit_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_tray_trial")),
    )
    op.create_index(op.f("ix_tray_trial_document_id"), "tray_trial", ["document_id"], unique=False)
    op.create_index(op.f("ix_tray_trial_item_id"), "tray_trial", ["item_id"], unique=False)
    op.create_index(op.f("ix_tray_trial_visit_id"), "tray_trial", ["visit_id"], unique=False)
    op.create_table(
        "visit_use",
        sa.Column("id", KEY, nullable=False),
        sa.Column("visit_id", KEY, nullable=False),
        sa.Column("need_id", KEY, nullable=True),
        sa.Column("item_id", KEY, nullable=False),
        sa.Column("arch", _words("arch", "maxillary", "mandibular"), nullable=True),
        sa.Column("step", sa.String(length=40), nullable=True),
        sa.Column("attempt", sa.Integer(), nullable=False),
        sa.Column("expected_qty", sa.BigInteger(), nullable=False),
        sa.Column("actual_qty", sa.BigInteger(), nullable=False),
        sa.Column("document_id", KEY, nullable=True),
        sa.ForeignKeyConstraint(["document_id"], ["document.id"], name=op.f("fk_visit_use_document_id")),
        sa.ForeignKeyConstraint(["item_id"], ["item.id"], name=op.f("fk_visit_use_item_id")),
        sa.ForeignKeyConstraint(["need_id"], ["need.id"], name=op.f("fk_visit_use_need_id")),
        sa.ForeignKeyConstraint(["visit_id"], ["visit.id"], name=op.f("fk_visit_use_visit_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_visit_use")),
    )
    op.create_index(op.f("ix_visit_use_document_id"), "visit_use", ["document_id"], unique=False)
    op.create_index(op.f("ix_visit_use_item_id"), "visit_use", ["item_id"], unique=False)
    op.create_index(op.f("ix_visit_use_need_id"), "visit_use", ["need_id"], unique=False)
    op.create_index(op.f("ix_visit_use_visit_id"), "visit_use", ["visit_id"], unique=False)
    op.execute("INSERT INTO revision (id, number) VALUES (1, 0)")
