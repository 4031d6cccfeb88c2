"""Purchase orders: what was ordered from whom, in which packs, at which price, and how far it is.

What came is told by the lines of deliveries, and what is still on order follows from both; it is stored nowhere.
"""

from datetime import date
from typing import Any

from sqlalchemy import JSON, CheckConstraint, Index, UniqueConstraint
from sqlmodel import Field, SQLModel

from inventory.domain.vocabulary import OrderState
from inventory.store.columns import key, link, short_text, whole, words


class Purchase(SQLModel, table=True):
    """One order to one supplier; a draft is nobody's promise yet."""

    __table_args__ = (
        UniqueConstraint("number"),
        CheckConstraint("state IN ('draft', 'cancelled') OR sent_on IS NOT NULL", name="sent"),
        CheckConstraint("(sent_on IS NULL) = (expected_on IS NULL)", name="expected"),
        CheckConstraint("fee_cents IS NULL OR fee_cents >= 0", name="fee"),
        Index("ix_purchase_state", "state", "id"),
    )

    id: int | None = key()
    number: str = short_text(40)
    supplier_id: int = link("supplier.id")
    state: OrderState = words(OrderState, "state", default=OrderState.DRAFT)
    written_on: date
    sent_on: date | None = None
    expected_on: date | None = None
    fee_cents: int | None = whole(nullable=True)
    person_id: int = link("person.id")
    version: int = 1


class PurchaseLine(SQLModel, table=True):
    """So many packs of one supply; those given up stay written beside those ordered."""

    __tablename__ = "purchase_line"
    __table_args__ = (
        UniqueConstraint("purchase_id", "supply_id"),
        CheckConstraint("packs >= 0", name="packs"),
        CheckConstraint("cancelled_packs >= 0 AND cancelled_packs <= packs", name="cancelled"),
        CheckConstraint("units_per_pack > 0", name="units"),
        CheckConstraint("pack_cents >= 0", name="price"),
    )

    id: int | None = key()
    purchase_id: int = link("purchase.id", index=False)
    supply_id: int = link("supply.id")
    packs: int
    units_per_pack: int
    pack_cents: int = whole()
    cancelled_packs: int = 0
    why: Any = Field(default_factory=list, sa_type=JSON, nullable=False)
