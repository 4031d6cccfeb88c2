"""The other half of the audit trail: who changed which field of what, from what to what, when and why.

Stock changes by documents; everything else that may be changed, an item or a price, a lot's number, a hold, a visit, a
parcel, an order, leaves lines in the log of changes, which nobody can change or delete.
"""

from collections.abc import Collection
from dataclasses import dataclass
from datetime import date, datetime, time, timedelta

from inventory.service import tracing
from inventory.service.practice import Desk, Practice
from inventory.store.queries import changes as query
from inventory.store.queries.changes import Asked, ChangeRow
from inventory.store.tables import Item

SUBJECTS = {
    "item": "item", "supplier": "supplier", "supply": "way of buying", "lot": "lot", "visit": "visit of case",
    "parcel": "parcel of case", "purchase": "order", "delivery": "delivery", "person": "person", "place": "place",
    "setting": "setting", "tray_line": "tray line", "barcode": "package code", "need": "need", "estimate": "estimate",
    "case_kind": "case kind", "notice": "recall notice", "count_round": "count round",
}  # fmt: skip
"""What a thing is called whose change is logged; others are called by the word in the log."""


@dataclass(frozen=True, slots=True)
class Which:
    """Which changes are asked for; what is empty does not matter. Days are practice-local, both included.

    An item brings its ways of being bought, a case its visits and parcels; ``subject`` is a word of `SUBJECTS`.
    """

    item_id: int | None = None
    lot_id: int | None = None
    case_ref: str = ""
    person: str = ""
    subject: str = ""
    since: date | None = None
    until: date | None = None
    before_id: int | None = None


@dataclass(frozen=True, slots=True)
class ChangeEntry:
    """One field that was changed; ``at`` in the practice's own time, ``name`` as people call the thing."""

    change_id: int
    at: datetime
    by: str
    subject: str
    name: str
    field: str
    old: str | None
    new: str | None
    reason: str
    words: str


def changes(practice: Practice, which: Which, *, limit: int = 100) -> tuple[ChangeEntry, ...]:
    """Changes that match, newest first; the last one's number is the next page's ``before_id``.

    Raises:
        NotFound: nobody ever had these initials.
    """
    with practice.reading() as desk:
        person_id = tracing.person_of(desk, which.person) if which.person else None
        asked = Asked(
            about=_about(desk, which), subject=which.subject or None, person_id=person_id,
            since=_midnight(desk, which.since), until=_midnight(desk, which.until, days=1), before_id=which.before_id,
        )  # fmt: skip
        return entries(desk, query.changes(desk.session, asked, limit))


def of_lot(desk: Desk, lot_id: int, limit: int = 1000) -> tuple[ChangeEntry, ...]:
    """What was changed of a lot within a unit of work: its number, its date, its holds; newest first."""
    return entries(desk, query.changes(desk.session, Asked({"lot": [str(lot_id)]}), limit))


def entries(desk: Desk, rows: Collection[ChangeRow]) -> tuple[ChangeEntry, ...]:
    """Rows of the log as people read them."""
    ids: dict[str, set[str]] = {}
    for row in rows:
        ids.setdefault(row.subject, set()).add(row.subject_id)
    names = {subject: query.names(desk.session, subject, of_one) for subject, of_one in ids.items()}
    return tuple(
        ChangeEntry(
            row.id, row.at.astimezone(desk.zone), row.by or "", row.subject,
            names[row.subject].get(row.subject_id, row.subject_id), row.field, row.old, row.new, row.reason or "",
            told(row, names[row.subject].get(row.subject_id, row.subject_id)),
        )
        for row in rows
    )  # fmt: skip


def told(row: ChangeRow, name: str) -> str:
    """A change in words: ``lot A1: use by set to 2027-03-31, was 2027-03-01 (read again)``."""
    field = row.field.replace("_", " ")
    if not row.old:
        what = f"{field} set to {row.new}"
    elif not row.new:
        what = f"{field} taken away, was {row.old}"
    else:
        what = f"{field} set to {row.new}, was {row.old}"
    why = f" ({row.reason})" if row.reason else ""
    return f"{SUBJECTS.get(row.subject, row.subject.replace('_', ' '))} {name}: {what}{why}"


def _about(desk: Desk, which: Which) -> dict[str, Collection[str]] | None:
    """What the changes have to be about; None where anything will do."""
    found: dict[str, Collection[str]] = {}
    if which.item_id is not None:
        item = desk.session.get(Item, which.item_id)
        found["item"] = [str(which.item_id), *([item.code] if item else [])]
        found["supply"] = [str(number) for number in query.supplies_of(desk.session, which.item_id)]
    if which.lot_id is not None:
        found["lot"] = [str(which.lot_id)]
    if which.case_ref:
        numbers = [str(number) for number in query.visits_of(desk.session, which.case_ref.strip())]
        found |= {"visit": numbers, "parcel": numbers}
    asked = which.item_id is not None or which.lot_id is not None or bool(which.case_ref)
    return found if asked else None


def _midnight(desk: Desk, on: date | None, days: int = 0) -> datetime | None:
    return None if on is None else datetime.combine(on + timedelta(days=days), time(0), tzinfo=desk.zone)
