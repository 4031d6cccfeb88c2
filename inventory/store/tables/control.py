"""Control: holds on lots, recall notices with what they name and whom they concern, and rounds of counting.

What was found, set aside, given back or destroyed for a notice, and what a round corrected, is told by the documents
that point at it; it is stored nowhere else.
"""

from datetime import date, datetime
from typing import Any

from sqlalchemy import JSON, CheckConstraint, Index, UniqueConstraint
from sqlalchemy import text as sql
from sqlmodel import Field, SQLModel

from inventory.domain.vocabulary import ContactStatus, CountMethod, NoticeClass
from inventory.store.columns import instant, key, link, short_text, whole, words


class Notice(SQLModel, table=True):
    """A recall notice; ``notice_class`` as the authority gives it (21 CFR 7.3(m))."""

    __table_args__ = (CheckConstraint("state IN ('open', 'closed')", name="state"),)

    id: int | None = key()
    reference: str = short_text(80, unique=True)
    notice_on: date
    notice_class: NoticeClass = words(NoticeClass, "notice_class", default=NoticeClass.NONE)
    text: str = short_text(4000, default="")
    answer_by: date | None = None
    answered_at: datetime | None = instant(nullable=True)
    answer_proof: str | None = short_text(200, nullable=True)
    state: str = short_text(8, default="open")


class NoticeScope(SQLModel, table=True):
    """What a notice names: an item or a code of the maker, of it a lot, a range of lots or what came within days.

    A line is never changed: one that was wrong is withdrawn, and another one is written.
    """

    __tablename__ = "notice_scope"
    __table_args__ = (
        CheckConstraint("item_id IS NOT NULL OR code IS NOT NULL OR lot_from IS NOT NULL", name="names"),
        CheckConstraint("lot_to IS NULL OR lot_from IS NOT NULL", name="lots"),
        CheckConstraint("COALESCE(received_to >= received_from, TRUE)", name="received"),
    )

    id: int | None = key()
    notice_id: int = link("notice.id")
    item_id: int | None = link("item.id", nullable=True)
    code: str | None = short_text(80, nullable=True)  # catalogue number, GTIN or HIBC as the notice gives it
    lot_from: str | None = short_text(60, nullable=True)
    lot_to: str | None = short_text(60, nullable=True)
    received_from: date | None = None
    received_to: date | None = None
    withdrawn_at: datetime | None = instant(nullable=True)


class NoticeCase(SQLModel, table=True):
    """A case that a recalled lot was used for, and how far its patient was told."""

    __tablename__ = "notice_case"

    notice_id: int = link("notice.id", primary=True, index=False)
    case_ref: str = Field(primary_key=True, max_length=40)
    status: ContactStatus = words(ContactStatus, "contact_status", default=ContactStatus.OPEN)
    at: datetime = instant()
    person_id: int = link("person.id")
    note: str = short_text(500, default="")


class Hold(SQLModel, table=True):
    """A lot that may not be used until released."""

    __table_args__ = (
        CheckConstraint(
            "(released_at IS NULL) = (released_by_id IS NULL) AND (released_at IS NULL) = (release_reason IS NULL)",
            name="release",
        ),
        Index("ix_hold_open", "lot_id",
              sqlite_where=sql("released_at IS NULL"), postgresql_where=sql("released_at IS NULL")),
    )  # fmt: skip

    id: int | None = key()
    lot_id: int = link("lot.id")
    notice_id: int | None = link("notice.id", nullable=True)
    reason: str = short_text(500)
    person_id: int = link("person.id")
    at: datetime = instant()
    released_at: datetime | None = instant(nullable=True)
    released_by_id: int | None = link("person.id", nullable=True)
    release_reason: str | None = short_text(500, nullable=True)


class CountRound(SQLModel, table=True):
    __tablename__ = "count_round"
    __table_args__ = (CheckConstraint("state IN ('open', 'approved', 'dropped')", name="state"),)

    id: int | None = key()
    scope: Any = Field(default_factory=dict, sa_type=JSON, nullable=False)
    blind: bool = True
    state: str = short_text(8, default="open")
    started_at: datetime = instant()
    person_id: int = link("person.id")
    approved_at: datetime | None = instant(nullable=True)


class CountLine(SQLModel, table=True):
    """One reading of one shelf: how much of a sealed stack or of one opened unit is there. Append-only.

    A better reading replaces an earlier one; one that should not have been taken is withdrawn by a line without amount.
    """

    __tablename__ = "count_line"
    __table_args__ = (
        UniqueConstraint("replaces_id"),
        CheckConstraint("(method = 'withdrawn') = (counted_qty IS NULL)", name="counted"),
        CheckConstraint("reading >= 0 AND reading_unit_qty > 0 AND COALESCE(counted_qty, 0) >= 0", name="figures"),
        CheckConstraint("method <> 'withdrawn' OR replaces_id IS NOT NULL", name="withdrawn"),
    )

    id: int | None = key()
    count_round_id: int = link("count_round.id")
    lot_id: int = link("lot.id")
    place_id: int = link("place.id")
    opened_on: date | None = None  # null: the sealed stack
    holding_id: int | None = link("holding.id", nullable=True)  # null: found where the book had none
    method: CountMethod = words(CountMethod, "count_method")
    reading: int = whole()  # as it was read: units, tenths of a unit, or milligrams with the package
    reading_unit_qty: int = whole()  # one step of the reading, in base units
    counted_qty: int | None = whole(nullable=True)  # base units
    counted_at: datetime = instant()
    person_id: int = link("person.id")
    replaces_id: int | None = link("count_line.id", nullable=True, index=False)
