"""The ledger: lots, holdings with their balance, documents and movements; and the deliveries that brought them.

``document`` and ``movement`` are append-only. A holding is either the sealed stack of a lot at a place or one opened
unit; only the ledger writer touches ``on_hand``, by guarded update in the movement's own transaction.
"""

from datetime import date, datetime

from sqlalchemy import CheckConstraint, Index, UniqueConstraint
from sqlalchemy import text as sql
from sqlmodel import Field, SQLModel

from inventory.domain.vocabulary import Arch, DocumentKind, LateReason, MovementKind, UseByReading
from inventory.store.columns import instant, key, link, short_text, whole, words


class Lot(SQLModel, table=True):
    """One manufacturer's batch of one item, or a house lot named by its receipt."""

    __table_args__ = (
        CheckConstraint("unit_qty > 0", name="unit_qty"),
        CheckConstraint("(use_by IS NULL) = (use_by_read IN ('none_stated', 'not_read'))", name="use_by"),
        Index("uq_lot_dated", "item_id", "number", "use_by", unique=True,
              sqlite_where=sql("use_by IS NOT NULL"), postgresql_where=sql("use_by IS NOT NULL")),
        Index("uq_lot_undated", "item_id", "number", unique=True,
              sqlite_where=sql("use_by IS NULL"), postgresql_where=sql("use_by IS NULL")),
        Index("ix_lot_number", sql("lower(number)")),  # a number is looked up in capitals or small letters alike
    )  # fmt: skip

    id: int | None = key()
    item_id: int = link("item.id")
    number: str = short_text(60)
    number_is_ours: bool = False
    use_by: date | None = None
    use_by_read: UseByReading = words(UseByReading, "use_by_read")
    made_on: date | None = None
    unit_qty: int = whole()  # frozen from the item at first receipt
    first_received_on: date
    note: str = short_text(500, default="")


class Holding(SQLModel, table=True):
    """The sealed stack of a lot at a place (``opened_on`` null), or one opened unit."""

    __table_args__ = (
        CheckConstraint("on_hand >= 0", name="on_hand"),
        Index("uq_holding_sealed", "lot_id", "place_id", unique=True,
              sqlite_where=sql("opened_on IS NULL"), postgresql_where=sql("opened_on IS NULL")),
        Index("ix_holding_filled", "lot_id",
              sqlite_where=sql("on_hand > 0"), postgresql_where=sql("on_hand > 0")),
    )  # fmt: skip

    id: int | None = key()
    lot_id: int = link("lot.id")
    place_id: int = link("place.id")
    opened_on: date | None = None
    on_hand: int = whole(default=0)


class Document(SQLModel, table=True):
    """Who posted what, when and why. Append-only; unique by request key and part."""

    __table_args__ = (
        UniqueConstraint("request_key", "part"),
        UniqueConstraint("reverses_id"),
        CheckConstraint("(kind = 'reversal') = (reverses_id IS NOT NULL)", name="reversal"),
        CheckConstraint("reverses_id IS NULL OR reason IS NOT NULL", name="reversal_reason"),
        Index("ix_document_kind", "kind", "id"),  # the audit trail by kind and by day, without reading all of it
        Index("ix_document_happened", "happened_on", "id"),
    )

    id: int | None = key()
    kind: DocumentKind = words(DocumentKind, "kind")
    request_key: str = short_text(64)
    part: int = 0
    request_hash: str = short_text(64)
    person_id: int = link("person.id")
    recorded_at: datetime = instant()
    happened_at: datetime = instant()
    happened_on: date
    reason: str | None = short_text(500, nullable=True)
    proof: str | None = short_text(200, nullable=True)
    reverses_id: int | None = link("document.id", nullable=True, index=False)
    visit_id: int | None = link("visit.id", nullable=True)
    delivery_id: int | None = link("delivery.id", nullable=True)
    count_round_id: int | None = link("count_round.id", nullable=True)
    notice_id: int | None = link("notice.id", nullable=True)
    group_ref: str | None = short_text(64, nullable=True)


class Movement(SQLModel, table=True):
    """One signed change of one holding. Append-only."""

    __table_args__ = (
        UniqueConstraint("document_id", "line"),
        CheckConstraint("qty <> 0", name="qty"),
        CheckConstraint("attempt IS NULL OR attempt > 0", name="attempt"),
        Index("ix_movement_holding", "holding_id", "id"),
        Index("ix_movement_item", "item_id", "id"),
    )

    id: int | None = key()
    document_id: int = link("document.id", index=False)
    line: int
    holding_id: int = link("holding.id", index=False)
    item_id: int = link("item.id", index=False)
    kind: MovementKind = words(MovementKind, "kind")
    qty: int = whole()
    arch: Arch | None = words(Arch, "arch", nullable=True)
    step: str | None = short_text(40, nullable=True)
    attempt: int | None = None
    lot_confirmed: bool = False
    late_reason: LateReason | None = words(LateReason, "late_reason", nullable=True)


class Delivery(SQLModel, table=True):
    __table_args__ = (
        Index("uq_delivery_slip", "supplier_id", "slip_no", unique=True,
              sqlite_where=sql("slip_no IS NOT NULL"), postgresql_where=sql("slip_no IS NOT NULL")),
    )  # fmt: skip

    id: int | None = key()
    supplier_id: int = link("supplier.id")
    received_on: date
    slip_no: str | None = short_text(60, nullable=True)
    purchase_id: int | None = link("purchase.id", nullable=True)  # the order it came for


class DeliveryLine(SQLModel, table=True):
    """What a delivery brought of one lot: the lot's cost and its remaining life on arrival follow from here.

    ``settles_units`` says how many of the units that an order's line asked for came by it: the sound ones, in the
    ordered article's own units where something else came instead.
    """

    __tablename__ = "delivery_line"
    __table_args__ = (
        CheckConstraint("units >= 0 AND damaged_units >= 0 AND units + damaged_units > 0", name="units"),
        CheckConstraint("settles_units >= 0 AND (purchase_line_id IS NOT NULL OR settles_units = 0)", name="settles"),
        CheckConstraint("pack_cents IS NULL OR pack_cents >= 0", name="price"),
        CheckConstraint("units_per_pack > 0", name="pack"),
    )

    id: int | None = key()
    delivery_id: int = link("delivery.id")
    lot_id: int = link("lot.id")
    units: int
    pack_cents: int | None = whole(nullable=True)
    units_per_pack: int
    damaged_units: int = 0
    document_id: int = link("document.id")
    purchase_line_id: int | None = link("purchase_line.id", nullable=True)
    settles_units: int = Field(default=0, sa_column_kwargs={"server_default": "0"})
