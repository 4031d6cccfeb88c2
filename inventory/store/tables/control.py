"""Control: holds on lots, and the heads of recall notices and count rounds that documents point at."""

from datetime import date, datetime
from typing import Any

from sqlalchemy import JSON, CheckConstraint, Index
from sqlalchemy import text as sql
from sqlmodel import Field, SQLModel

from inventory.domain.vocabulary import NoticeClass
from inventory.store.columns import instant, key, link, short_text, words


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
