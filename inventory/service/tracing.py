"""Where did it go, and where did it come from: the audit trail, a lot's story, a lot's cases, a case's lots.

A recall names a lot and asks for the cases; a complaint names a case and asks for the lots. Both follow the lot's or
the case's own movements through indexes, so the answer takes as long after ten years as in the first week. What was
undone did not happen: it is left out here, and stays in the history. A lot that nobody read or scanned is *assumed*;
those come first, to be checked.
"""

from collections.abc import Hashable, Iterable, Sequence
from dataclasses import dataclass, replace
from datetime import date

from inventory.domain.quantity import LARGEST, show
from inventory.domain.vocabulary import BaseUnit, DocumentKind, LateReason, MovementKind, UseByReading
from inventory.domain.words import item_and_lot
from inventory.errors import NotFound
from inventory.service.practice import Desk, Practice
from inventory.store.queries import history as query
from inventory.store.queries import naming
from inventory.store.queries.history import Filter, Line, Posted, Use
from inventory.store.queries.stock import stands
from inventory.store.tables import Hold, Item, Lot

__all__ = [
    "CaseUse",
    "Filter",
    "case_lots",
    "case_uses",
    "history",
    "lot_of",
    "lot_story",
    "lot_uses",
    "person_of",
    "told",
    "trace",
]


@dataclass(frozen=True, slots=True)
class EntryLine:
    """One movement of an entry, and the same in words."""

    line: Line
    words: str


@dataclass(frozen=True, slots=True)
class Entry:
    """One document of the history with its movements, and the same in words."""

    document: Posted
    words: str
    lines: tuple[EntryLine, ...]


@dataclass(frozen=True, slots=True)
class CaseUse:
    """What one visit (or one posting without a visit) took from one lot, in base units.

    ``lot_confirmed``: every line of it was read or scanned; ``steps`` are the codes of the steps, in order.
    """

    visit_id: int | None
    case_ref: str | None
    document_id: int
    on: date
    by: str
    places: tuple[str, ...]
    item_id: int
    item_code: str
    item_name: str
    base: BaseUnit
    lot_id: int
    lot_number: str
    use_by: date | None
    use_by_read: UseByReading
    qty: int
    steps: tuple[str, ...]
    retaken: bool
    lot_confirmed: bool
    late_reason: LateReason | None
    held: bool
    recalled: bool


@dataclass(frozen=True, slots=True)
class Left:
    """What is left of a lot in one holding, in base units."""

    holding_id: int
    place: str
    opened_on: date | None
    on_hand: int


@dataclass(frozen=True, slots=True)
class LotTrace:
    """Where a lot went: every case that used it, assumed ones first, what is left where, and the sums over its life.

    ``received + counted = on_hand + used + purged + wasted + discarded + returned``; ``counted`` may be negative.
    """

    lot_id: int
    lot_number: str
    item_id: int
    item_name: str
    base: BaseUnit
    unit_qty: int
    use_by: date | None
    use_by_read: UseByReading
    held: bool
    recalled: bool
    uses: tuple[CaseUse, ...]
    left: tuple[Left, ...]
    received: int
    counted: int
    used: int
    purged: int
    wasted: int
    discarded: int
    returned: int
    on_hand: int


@dataclass(frozen=True, slots=True)
class Traced:
    """What a number or reference typed plainly may mean: lots that bear it, a case, or both.

    ``case_ref`` is None where no case has this reference; ``uses`` are the case's.
    """

    named: str
    lots: tuple[LotTrace, ...]
    case_ref: str | None
    uses: tuple[CaseUse, ...]


def history(practice: Practice, which: Filter, *, person: str = "", limit: int = 100) -> tuple[Entry, ...]:
    """The audit trail, newest first; the last entry's number is the next page's ``before_id``.

    Args:
        practice: the practice.
        which: what is asked for.
        person: initials instead of ``which.person_id``; people who have left are found too.
        limit: at most so many documents.

    Raises:
        NotFound: nobody ever had these initials.
    """
    with practice.reading() as desk:
        if person:
            which = replace(which, person_id=person_of(desk, person))
        return _entries(desk, query.page(desk.session, which, limit))


def lot_story(practice: Practice, lot_id: int) -> tuple[Entry, ...]:
    """Everything that ever happened to a lot, oldest first, only its own movements.

    Raises:
        NotFound: no such lot.
    """
    with practice.reading() as desk:
        lot_of(desk, lot_id)
        told_all = _entries(desk, query.page(desk.session, Filter(lot_id=lot_id), LARGEST)[::-1])
        return tuple(
            Entry(entry.document, entry.words, tuple(line for line in entry.lines if line.line.lot_id == lot_id))
            for entry in told_all
        )


def trace(practice: Practice, named: str) -> Traced:
    """Where the lots of a number went, and what the case of a reference got, whichever of the two is meant.

    Args:
        practice: the practice at work.
        named: a lot's number as on its label, in capitals or small letters, or a case reference.

    Raises:
        NotFound: neither a lot nor a case is called so.
    """
    named = named.strip()
    with practice.reading() as desk:
        lot_ids = [row[0] for row in naming.lots_of_number(desk.session, named)] if named else []
        case_ref = naming.case_ref(desk.session, named)
        if not lot_ids and case_ref is None:
            raise NotFound(f"No lot and no case is called {named!r}.", "Check the label, or the case reference.")
        uses = query.uses(desk.session, query.uses_of_case(case_ref)) if case_ref is not None else []
        holds = query.open_holds(desk.session, {use.lot_id for use in uses}) if uses else []
        return Traced(named, tuple(_traced(desk, lot_id) for lot_id in lot_ids), case_ref, case_uses(uses, holds))


def lot_uses(practice: Practice, lot_id: int) -> LotTrace:
    """Where a lot went.

    Raises:
        NotFound: no such lot.
    """
    with practice.reading() as desk:
        return _traced(desk, lot_id)


def _traced(desk: Desk, lot_id: int) -> LotTrace:
    lot = lot_of(desk, lot_id)
    item = desk.session.get_one(Item, lot.item_id)
    uses = query.uses(desk.session, query.uses_of_lot(lot_id))
    holds = query.open_holds(desk.session, [lot_id])
    left = tuple(
        Left(one.holding_id, one.place_name, one.opened_on, one.on_hand) for one in stands(desk.session, lot_id=lot_id)
    )
    sums = query.sums_of_lot(desk.session, lot_id)
    gone = {kind: -sums.get(kind, 0) for kind in MovementKind}
    return LotTrace(
        lot_id=lot_id, lot_number=lot.number, item_id=lot.item_id, item_name=item.name, base=item.base,
        unit_qty=lot.unit_qty, use_by=lot.use_by, use_by_read=lot.use_by_read, held=bool(holds),
        recalled=_recalled(holds), uses=case_uses(uses, holds), left=left,
        received=sums.get(MovementKind.RECEIPT, 0), counted=sums.get(MovementKind.COUNT, 0),
        used=gone[MovementKind.USE], purged=gone[MovementKind.PURGE], wasted=gone[MovementKind.WASTE],
        discarded=gone[MovementKind.DISCARD], returned=gone[MovementKind.RETURN],
        on_hand=sum(one.on_hand for one in left),
    )  # fmt: skip


def case_lots(practice: Practice, case_ref: str) -> tuple[CaseUse, ...]:
    """The lots of all visits of a case with their dates and flags, assumed ones first; empty where nothing was used."""
    with practice.reading() as desk:
        uses = query.uses(desk.session, query.uses_of_case(case_ref.strip()))
        return case_uses(uses, query.open_holds(desk.session, {use.lot_id for use in uses}))


def case_uses(uses: Sequence[Use], holds: Sequence[Hold]) -> tuple[CaseUse, ...]:
    """Uses by visit (or document) and lot; assumed first, then by day and case. ``holds``: of these lots, open."""
    groups: dict[Hashable, list[Use]] = {}
    for use in uses:
        groups.setdefault((use.visit_id or -use.document_id, use.lot_id), []).append(use)
    found = (_case_use(group, [hold for hold in holds if hold.lot_id == group[0].lot_id]) for group in groups.values())
    return tuple(
        sorted(found, key=lambda use: (use.lot_confirmed, use.on, use.case_ref or "", use.item_name, use.lot_number))
    )


def _case_use(group: Sequence[Use], holds: Sequence[Hold]) -> CaseUse:
    first = group[0]
    return CaseUse(
        visit_id=first.visit_id, case_ref=first.case_ref, document_id=first.document_id, on=first.on, by=first.by,
        places=_distinct(use.place for use in group), item_id=first.item_id, item_code=first.item_code,
        item_name=first.item_name,
        base=first.base, lot_id=first.lot_id, lot_number=first.lot_number, use_by=first.use_by,
        use_by_read=first.use_by_read, qty=sum(use.qty for use in group),
        steps=_distinct(use.step for use in group if use.step), retaken=any((use.attempt or 1) > 1 for use in group),
        lot_confirmed=all(use.lot_confirmed for use in group),
        late_reason=next((use.late_reason for use in group if use.late_reason), None), held=bool(holds),
        recalled=_recalled(holds),
    )  # fmt: skip


def _distinct(words: Iterable[str]) -> tuple[str, ...]:
    return tuple(dict.fromkeys(words))


def _recalled(holds: Sequence[Hold]) -> bool:
    return any(hold.notice_id is not None for hold in holds)


def _entries(desk: Desk, documents: Sequence[Posted]) -> tuple[Entry, ...]:
    lines = query.lines(desk.session, [document.document_id for document in documents])
    return tuple(
        Entry(
            document,
            told(document),
            tuple(EntryLine(line, told_line(line)) for line in lines.get(document.document_id, ())),
        )
        for document in documents
    )


def lot_of(desk: Desk, lot_id: int) -> Lot:
    """The row of a lot within a unit of work.

    Raises:
        NotFound: no such lot.
    """
    lot = desk.session.get(Lot, lot_id)
    if lot is None:
        raise NotFound(f"There is no lot {lot_id}.", "Look it up in the list of lots.")
    return lot


def person_of(desk: Desk, initials: str) -> int:
    """The person who has or had these initials.

    Raises:
        NotFound: nobody ever had them.
    """
    person_id = query.person_id(desk.session, initials.strip().upper())
    if person_id is None:
        raise NotFound(f"Nobody here ever had the initials {initials!r}.", "Look at the list of people.")
    return person_id


# In words

_DOCUMENT = {
    DocumentKind.RECEIPT: "received",
    DocumentKind.OPENING: "opened",
    DocumentKind.USE: "used",
    DocumentKind.COUNT: "count corrected",
    DocumentKind.DISCARD: "discarded",
    DocumentKind.TRANSFER: "carried to another place",
    DocumentKind.RETURN: "returned to the supplier",
    DocumentKind.REVERSAL: "undone",
}
_TAKEN_GIVEN = {
    MovementKind.RECEIPT: ("receipt taken back", "received"),
    MovementKind.USE: ("used", "use given back"),
    MovementKind.PURGE: ("purged in the tip", "purge given back"),
    MovementKind.WASTE: ("wasted", "waste given back"),
    MovementKind.DISCARD: ("discarded", "discard taken back"),
    MovementKind.COUNT: ("counted less", "counted more"),
    MovementKind.TRANSFER: ("carried away", "brought here"),
    MovementKind.RETURN: ("returned to the supplier", "return taken back"),
}
_SEALED = ("unsealed", "sealed again")
_OPENED = ("no longer open", "opened")


def told(document: Posted) -> str:
    """A document in words: ``used for case C-12 on 2026-03-05 by AB (retake)``."""
    case = f" for case {document.case_ref}" if document.case_ref else ""
    proof = f"proof: {document.proof}" if document.proof else ""
    said = "; ".join(filter(None, (document.reason, proof)))
    why = f" ({said})" if said else ""
    undone = "" if document.reversed_by_id is None else ", undone since"
    return f"{_DOCUMENT[document.kind]}{case} on {document.happened_on} by {document.by}{why}{undone}"


def told_line(line: Line) -> str:
    """A movement in words: ``used 12.5 mL, Light body, lot A1, Chair 1 (opened 2026-03-02); lot assumed``."""
    if line.kind is MovementKind.OPENING:
        taken_given = _SEALED if line.opened_on is None else _OPENED
    else:
        taken_given = _TAKEN_GIVEN[line.kind]
    opened = f" (opened {line.opened_on})" if line.opened_on else ""
    for_step = f", for {' '.join(filter(None, (line.arch, line.step)))}" if line.arch or line.step else ""
    retake = ", retake" if (line.attempt or 1) > 1 else ""
    at_work = line.kind in (MovementKind.USE, MovementKind.PURGE, MovementKind.WASTE)
    assumed = "; lot assumed" if at_work and not line.lot_confirmed else ""
    late = f"; although {line.late_reason}" if line.late_reason else ""
    return (
        f"{taken_given[line.qty > 0]} {show(abs(line.qty), line.base)}, "
        f"{item_and_lot(line.item_name, line.lot_number)}, {line.place}{opened}{for_step}{retake}{assumed}{late}"
    )
