"""The story of a lot, from its delivery to its end, one sentence for each thing that happened to it.

The ledger tells movements; a person wants to read what happened: received from whom, opened where, used for which case,
put on hold and released, put right, thrown away. The number behind each sentence is what was left of the lot then.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import date, datetime

from inventory.domain.quantity import show
from inventory.domain.vocabulary import Arch, BaseUnit, DocumentKind, MovementKind
from inventory.service import changes, tracing
from inventory.service.changes import ChangeEntry
from inventory.service.practice import Practice
from inventory.service.tracing import Entry
from inventory.store.queries import changes as query
from inventory.store.queries.history import Line
from inventory.store.tables import Item

HOW_READ = "use_by_read"  # goes with the date itself
ARCHES = {Arch.MAXILLARY: "upper", Arch.MANDIBULAR: "lower"}


@dataclass(frozen=True, slots=True)
class StoryLine:
    """One thing that happened to a lot.

    Attributes:
        on: the practice-local day on which it happened.
        at: when it was recorded, in the practice's own time.
        document_id: the entry; None for a change of the lot itself.
        by: initials.
        words: what happened, without day and initials.
        left: what was left of the lot after it, in base units; None where nothing moved.
        stands: it was neither undone nor is it an undoing.
    """

    on: date
    at: datetime
    document_id: int | None
    by: str
    words: str
    left: int | None
    stands: bool


@dataclass(frozen=True, slots=True)
class Story:
    """A lot's story, oldest first."""

    lot_id: int
    lot_number: str
    item_name: str
    base: BaseUnit
    lines: tuple[StoryLine, ...]

    @property
    def heading(self) -> str:
        return f"{self.item_name}, lot {self.lot_number}:"

    def told(self, line: StoryLine) -> str:
        """A line in words, e.g. ``2026-03-17 AB: received 2000 g into store room. 2000 g left.``, a sentence or two."""
        left = f" {show(line.left, self.base)} left." if line.left is not None else ""
        return f"{line.on.isoformat()} {line.by}: {line.words}.{left}"


def story(practice: Practice, lot_id: int) -> Story:
    """Everything that happened to a lot, in sentences.

    Raises:
        NotFound: no such lot.
    """
    entries = tracing.lot_story(practice, lot_id)
    with practice.reading() as desk:
        lot = tracing.lot_of(desk, lot_id)
        item = desk.session.get_one(Item, lot.item_id)
        brought = query.deliveries(
            desk.session, {one.document.delivery_id for one in entries if one.document.delivery_id is not None}
        )
        lines: list[StoryLine] = []
        left = 0
        for entry in entries:
            document, moved = entry.document, [line.line for line in entry.lines]
            left += sum(line.qty for line in moved)
            source = brought.get(document.delivery_id or 0)
            words = "; ".join(filter(None, (_happened(entry, moved, item), *_besides(entry, source))))
            lines.append(
                StoryLine(
                    document.happened_on, document.recorded_at.astimezone(desk.zone), document.document_id,
                    document.by, words, left, document.stands,
                )
            )  # fmt: skip
        changed = [one for one in changes.of_lot(desk, lot_id) if one.field != HOW_READ]
        lines += [_changed(one) for one in reversed(changed)]
        return Story(lot_id, lot.number, item.name, item.base, tuple(sorted(lines, key=lambda line: line.at)))


def _changed(change: ChangeEntry) -> StoryLine:
    """A change of the lot itself: on hold, released, its number or date put right."""
    if change.field == "hold":
        words = "put on hold" if change.new == "yes" else "released from its hold"
    else:
        field = change.field.replace("_", " ")
        words = f"{field} put right: {change.new or 'none'}, was {change.old or 'none'}"
    why = f" ({change.reason})" if change.reason else ""
    return StoryLine(change.at.date(), change.at, None, change.by, f"{words}{why}", None, stands=True)


def _happened(entry: Entry, moved: Sequence[Line], item: Item) -> str:
    """What a document did to the lot."""
    base, case = item.base, f" for case {entry.document.case_ref}" if entry.document.case_ref else ""
    amount = show(abs(sum(line.qty for line in moved)), base)
    places = ", ".join(dict.fromkeys(line.place for line in moved))
    away = ", ".join(dict.fromkeys(line.place for line in moved if line.qty < 0))
    there = ", ".join(dict.fromkeys(line.place for line in moved if line.qty > 0))
    into = sum(line.qty for line in moved if line.qty > 0)
    counted = sum(line.qty for line in moved)
    than = f"{amount} {'more' if counted > 0 else 'less'} than the book said"
    words = {
        DocumentKind.RECEIPT: f"received {amount} into {there}",
        DocumentKind.OPENING: f"opened {_units(into, moved, item)} at {there}{case}",
        DocumentKind.USE: f"{' and '.join(_used(moved, base))} at {places}{case}",
        DocumentKind.COUNT: f"counted at {places}: {than}{case}",
        DocumentKind.DISCARD: f"discarded {amount} at {places}",
        DocumentKind.TRANSFER: f"carried {_units(into, moved, item)} from {away} to {there}{case}",
        DocumentKind.RETURN: f"returned {amount} to the supplier, from {places}",
        DocumentKind.REVERSAL: f"entry {entry.document.reverses_id} undone{case}: {_back(counted, base)} at {places}",
    }
    return words[entry.document.kind]


def _units(qty: int, moved: Sequence[Line], item: Item) -> str:
    """Sealed units by their name, everything else by its amount."""
    unit_qty = moved[0].unit_qty
    sealed = any(line.opened_on is None for line in moved)
    if item.base is BaseUnit.PIECE or not sealed or qty % unit_qty:
        return show(qty, item.base)
    units = qty // unit_qty
    return f"{units} {item.unit_name}{'s' if units != 1 else ''}"


def _used(moved: Sequence[Line], base: BaseUnit) -> Iterator[str]:
    """What was used, purged and wasted, each with the steps it was for."""
    verbs = ((MovementKind.USE, "used"), (MovementKind.PURGE, "purged"), (MovementKind.WASTE, "wasted"))
    for kind, verb in verbs:
        of_kind = [line for line in moved if line.kind is kind]
        if of_kind:
            steps = ", ".join(dict.fromkeys(filter(None, map(_step, of_kind)))) if kind is MovementKind.USE else ""
            yield f"{verb} {show(-sum(line.qty for line in of_kind), base)}{f' ({steps})' if steps else ''}"


def _step(line: Line) -> str:
    arch = ARCHES[line.arch] if line.arch else ""
    step = (line.step or "").replace("_", " ")
    again = "again" if (line.attempt or 1) > 1 else ""
    return " ".join(filter(None, (arch, step, again)))


def _back(qty: int, base: BaseUnit) -> str:
    if qty == 0:
        return "put back as it was"
    return f"{show(abs(qty), base)} {'given back' if qty > 0 else 'taken back'}"


def _besides(entry: Entry, source: tuple[str, str | None] | None) -> Iterator[str]:
    """From whom, why, with what proof, whether the lot was read, and whether it was undone."""
    document = entry.document
    if source is not None:
        slip = f", slip {source[1]}" if source[1] else ""
        yield f"from {source[0]}{slip}"
    if document.reason:
        yield document.reason
    if document.proof:
        yield f"proof {document.proof}"
    at_work = [line.line for line in entry.lines if line.line.kind is MovementKind.USE]
    if document.kind is DocumentKind.USE and not all(line.lot_confirmed for line in at_work):
        yield "lot assumed"
    late = next((line.late_reason for line in at_work if line.late_reason), None)
    if late:
        yield f"although {late.value}"
    if document.reversed_by_id is not None:
        yield f"undone since by entry {document.reversed_by_id}"
