"""The ledger's values and laws: documents of signed movements, folded into balances, undone by reversal.

Stock changes only by movements. A movement changes one holding: the sealed stack of a lot at a place, or one opened
unit. Movements stand under a document that says who, when and why. The laws below hold for every document; the store's
writer asks them before it writes, and the check command asks them of the whole book.
"""

import hashlib
import json
from collections import defaultdict
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, replace
from datetime import date, datetime
from typing import Any

from inventory.domain.quantity import LARGEST
from inventory.domain.vocabulary import Arch, DocumentKind, LateReason, MovementKind


@dataclass(frozen=True, slots=True)
class Sealed:
    """The sealed stack of a lot at a place, which may not exist yet."""

    lot_id: int
    place_id: int


@dataclass(frozen=True, slots=True)
class Opened:
    """A unit that this posting opens or moves; ``number`` tells several of one posting apart."""

    lot_id: int
    place_id: int
    opened_on: date
    number: int = 1


@dataclass(frozen=True, slots=True)
class Entry:
    """One movement to be written: where (a holding's id or description), what kind, how much (signed base units)."""

    target: int | Sealed | Opened
    kind: MovementKind
    qty: int
    arch: Arch | None = None
    step: str | None = None
    attempt: int | None = None
    lot_confirmed: bool = False
    late_reason: LateReason | None = None


@dataclass(frozen=True, slots=True)
class Draft:
    """One document to be written, with its movements."""

    kind: DocumentKind
    entries: tuple[Entry, ...]
    part: int = 0
    reason: str | None = None
    proof: str | None = None
    reverses_id: int | None = None
    visit_id: int | None = None
    delivery_id: int | None = None
    count_round_id: int | None = None
    notice_id: int | None = None
    group_ref: str | None = None


@dataclass(frozen=True, slots=True)
class Posting:
    """One request of one person: up to a few documents, written together or not at all."""

    request_key: str
    request_hash: str
    person_id: int
    recorded_at: datetime
    happened_at: datetime
    happened_on: date
    documents: tuple[Draft, ...]


@dataclass(frozen=True, slots=True)
class Line:
    """A movement as the laws look at it: which holding and lot, whether sealed, in units of what content."""

    holding_id: int
    lot_id: int
    sealed: bool
    unit_qty: int
    kind: MovementKind
    qty: int


ALLOWED: Mapping[DocumentKind, frozenset[MovementKind]] = {
    DocumentKind.RECEIPT: frozenset({MovementKind.RECEIPT}),
    DocumentKind.OPENING: frozenset({MovementKind.OPENING}),
    DocumentKind.USE: frozenset({MovementKind.USE, MovementKind.PURGE, MovementKind.WASTE}),
    DocumentKind.COUNT: frozenset({MovementKind.COUNT}),
    DocumentKind.DISCARD: frozenset({MovementKind.DISCARD}),
    DocumentKind.TRANSFER: frozenset({MovementKind.TRANSFER}),
    DocumentKind.RETURN: frozenset({MovementKind.RETURN}),
    DocumentKind.REVERSAL: frozenset(MovementKind),
}
COMES_IN = frozenset({MovementKind.RECEIPT})
GOES_OUT = frozenset(
    {MovementKind.USE, MovementKind.PURGE, MovementKind.WASTE, MovementKind.DISCARD, MovementKind.RETURN}
)
STAYS = frozenset({MovementKind.OPENING, MovementKind.TRANSFER})


def broken_laws(kind: DocumentKind, lines: Iterable[Line]) -> tuple[str, ...]:
    """What is wrong with a document's movements; empty where nothing is.

    The laws: a document has movements, none of zero; a use holds only use, purge and waste, and so on; what comes in is
    positive and what goes out negative (a reversal: the other way round); openings and transfers sum to nothing per
    lot, and a transfer neither opens nor seals anything; an opening fills each opened unit with one sealed unit; a
    sealed stack changes by whole units.
    """
    faults: list[str] = []
    stays: dict[tuple[int, bool | None], int] = defaultdict(int)
    empty = True
    sign = -1 if kind is DocumentKind.REVERSAL else 1
    for line in lines:
        empty = False
        faults.extend(_line_faults(kind, line, sign))
        if line.kind in STAYS:
            stays[line.lot_id, line.sealed if line.kind is MovementKind.TRANSFER else None] += line.qty
    if empty:
        faults.append("a document without movements")
    faults.extend(f"lot {lot}: a move that loses or makes {total}" for (lot, _), total in stays.items() if total)
    return tuple(faults)


def _line_faults(kind: DocumentKind, line: Line, sign: int) -> Iterator[str]:
    if line.qty == 0:
        yield "a movement of nothing"
    if abs(line.qty) > LARGEST:
        yield "an amount beyond any practice"
    if line.kind not in ALLOWED[kind]:
        yield f"a {line.kind} in a document of kind {kind}"
    if line.kind in COMES_IN and line.qty * sign < 0:
        yield f"a {line.kind} that takes away"
    if line.kind in GOES_OUT and line.qty * sign > 0:
        yield f"a {line.kind} that adds"
    if line.kind is MovementKind.OPENING and not line.sealed and line.qty * sign != line.unit_qty:
        yield "an opened unit that is not filled by one sealed unit"
    if line.sealed and line.qty % line.unit_qty:
        yield "a sealed stack changed by less than a whole unit"


def fold(lines: Iterable[tuple[int, int]]) -> dict[int, int]:
    """Balance of each holding: the sum of its movements, given as (holding, quantity)."""
    balances: dict[int, int] = defaultdict(int)
    for holding_id, qty in lines:
        balances[holding_id] += qty
    return dict(balances)


def turned(entries: Iterable[Entry]) -> tuple[Entry, ...]:
    """The movements of a reversal: the same kinds with the sign turned."""
    return tuple(replace(entry, qty=-entry.qty) for entry in entries)


def request_hash(verb: str, content: Mapping[str, Any]) -> str:
    """Fingerprint of a request's content, so that a key that comes again can be told from a key misused."""
    canonical = json.dumps({"verb": verb, **content}, sort_keys=True, default=str, ensure_ascii=False)
    return hashlib.sha256(canonical.encode()).hexdigest()
