"""What goes to the laboratory after a visit: disinfected with what, packed, sent, and what the laboratory answered."""

from datetime import datetime
from typing import Any

from sqlalchemy import JSON, CheckConstraint
from sqlmodel import Field, SQLModel

from inventory.domain.vocabulary import LaboratoryAnswer
from inventory.store.columns import instant, key, link, short_text, words


class Shipment(SQLModel, table=True):
    """One parcel of one visit; written when it is packed, complete when the laboratory has answered."""

    __table_args__ = (
        CheckConstraint("contact_minutes IS NULL OR contact_minutes > 0", name="contact"),
        CheckConstraint("(sent_at IS NULL) = (sent_by_id IS NULL)", name="sent"),
        CheckConstraint("(answered_at IS NULL) = (answer IS NULL)", name="answered"),
        CheckConstraint("answered_at IS NULL OR sent_at IS NOT NULL", name="answer_to_sent"),
    )

    id: int | None = key()
    visit_id: int = link("visit.id")
    contents: Any = Field(default_factory=list, sa_type=JSON, nullable=False)  # what is in it, in words
    disinfectant_id: int | None = link("item.id", nullable=True)
    contact_minutes: int | None = None
    taken_at: datetime | None = instant(nullable=True)  # when the impression was taken: the pour window runs from it
    pour_by: datetime | None = instant(nullable=True)
    carrier: str = short_text(80, default="")
    sent_at: datetime | None = instant(nullable=True)
    sent_by_id: int | None = link("person.id", nullable=True)
    answer: LaboratoryAnswer | None = words(LaboratoryAnswer, "laboratory_answer", nullable=True)
    answered_at: datetime | None = instant(nullable=True)
    answer_note: str = short_text(500, default="")
    version: int = 1
