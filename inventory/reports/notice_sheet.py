"""A recall notice for the file: what it names, what became of every lot, which cases used it, what proves it.

The same rows as PDF to be signed and kept, and as CSV with one row for each fact, so that both say the same.
"""

import csv
import io
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from datetime import date, datetime

from inventory.domain.cells import harmless

CAUTIONS = (
    "Case references only; this sheet holds no patient names and none belong on it.",
    "The class is the authority's. Which patients are told, and what is done for them, is for the dentist to decide.",
    "Assumed lots were filled in by the program, not read: compare the case's record before anybody is told.",
    "Recalled material is not used. Not clinical advice; the notice, the maker's leaflet and local rules govern.",
)
HEAD = (
    "part", "notice", "item", "lot", "use_by", "named", "place", "was", "there", "set_aside", "missing", "returned",
    "destroyed", "unit", "case", "date", "amount", "lot_read", "status", "by", "words", "proof",
)  # fmt: skip
AMOUNTS = frozenset({"was", "there", "set_aside", "missing", "returned", "destroyed", "amount"})  # written by us


@dataclass(frozen=True, slots=True)
class LotRow:
    """A lot: how certainly the notice names it, in words (or why it is not concerned)."""

    item: str
    lot: str
    use_by: str
    named: str


@dataclass(frozen=True, slots=True)
class PlaceRow:
    """What became of a lot at one place; the amounts as decimals of ``unit``."""

    item: str
    lot: str
    place: str
    was: str
    there: str
    set_aside: str
    missing: str
    returned: str
    destroyed: str
    unit: str


@dataclass(frozen=True, slots=True)
class CaseRow:
    """What a case used of one lot, and how far its patient was told; ``case`` empty where no visit names one."""

    case: str
    on: date | None
    item: str
    lot: str
    amount: str
    lot_read: bool
    status: str
    by: str
    note: str


@dataclass(frozen=True, slots=True)
class ProofRow:
    """A document under the notice."""

    on: date
    by: str
    words: str
    proof: str


@dataclass(frozen=True, slots=True)
class Sheet:
    """A notice as it is filed; ``facts`` are names and values of its head, ``left`` what is left to do."""

    reference: str
    facts: tuple[tuple[str, str], ...]
    text: str
    lines: tuple[str, ...]
    lots: tuple[LotRow, ...]
    places: tuple[PlaceRow, ...]
    cases: tuple[CaseRow, ...]
    proofs: tuple[ProofRow, ...]
    notes: tuple[str, ...]
    left: tuple[str, ...]
    made: datetime

    @property
    def title(self) -> str:
        return f"Recall notice {self.reference}"


def as_csv(sheet: Sheet) -> str:
    """The sheet as CSV: the first column says what a row is about, what does not apply is empty."""
    out = io.StringIO()
    writer = csv.DictWriter(out, HEAD, restval="")
    writer.writeheader()
    for row in _rows(sheet):
        cells = {"notice": sheet.reference, **row}
        writer.writerow({name: cell if name in AMOUNTS else harmless(cell) for name, cell in cells.items()})
    return out.getvalue()


def _rows(sheet: Sheet) -> Iterator[dict[str, str]]:
    head = [f"{name}: {value}" for name, value in sheet.facts]
    yield from _told("notice", head)
    yield from _told("text", filter(None, [sheet.text]))
    yield from _told("names", sheet.lines)
    for lot in sheet.lots:
        yield {"part": "lot", "item": lot.item, "lot": lot.lot, "use_by": lot.use_by, "named": lot.named}
    for place in sheet.places:
        yield {
            "part": "place", "item": place.item, "lot": place.lot, "place": place.place, "was": place.was,
            "there": place.there, "set_aside": place.set_aside, "missing": place.missing, "returned": place.returned,
            "destroyed": place.destroyed, "unit": place.unit,
        }  # fmt: skip
    for case in sheet.cases:
        yield {
            "part": "case" if case.case else "use without a case", "case": case.case, "item": case.item,
            "lot": case.lot, "date": case.on.isoformat() if case.on else "", "amount": case.amount,
            "lot_read": "confirmed" if case.lot_read else "assumed", "status": case.status, "by": case.by,
            "words": case.note,
        }  # fmt: skip
    for proof in sheet.proofs:
        yield {
            "part": "entry", "date": proof.on.isoformat(), "by": proof.by, "words": proof.words, "proof": proof.proof
        }  # fmt: skip
    yield from _told("to be looked at", sheet.notes)
    yield from _told("left to do", sheet.left)
    yield from _told("caution", CAUTIONS)


def _told(part: str, lines: Iterable[str]) -> Iterator[dict[str, str]]:
    return ({"part": part, "words": line} for line in lines)
