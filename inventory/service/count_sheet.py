"""A round of counting as people see it: what it is about, how far it is, and its sheet, shelf by shelf.

In a blind round the sheet does not say what the book expects: an amount that one knows is easily seen.
"""

from collections.abc import Collection
from dataclasses import dataclass, replace
from datetime import date, datetime
from typing import NoReturn
from zoneinfo import ZoneInfo

from inventory.domain.counting import Compared, Reading, ShelfFacts, show_reading
from inventory.domain.vocabulary import BaseUnit, CountMethod, ItemKind, UseByReading
from inventory.errors import NotFound
from inventory.service.count_shelves import FOUND, Reach, Scope, Shelf, shelves_of
from inventory.service.practice import Desk
from inventory.store.queries import counting as query
from inventory.store.tables import CountRound, Person

OPEN, APPROVED, DROPPED, UNDONE = "open", "approved", "dropped", "undone"


@dataclass(frozen=True, slots=True)
class RoundCard:
    """A round as it stands.

    Attributes:
        state: open, approved, dropped, or undone where its correction was undone since.
        counted: shelves read so far.
        document_id: the entry by which differences were posted; None where there was none.
    """

    round_id: int
    scope: Scope
    blind: bool
    state: str
    by: str
    started_at: datetime
    approved_at: datetime | None
    counted: int
    document_id: int | None = None

    @property
    def open(self) -> bool:
        return self.state == OPEN


@dataclass(frozen=True, slots=True)
class SheetLine:
    """One shelf to read.

    Attributes:
        key: names it in every function here: the stock's number, or "f" and a number for what was found.
        facts: what a reading has to know.
        reading: as it was read, in words; None where it was not, as are all that follow.
        counted_qty: what that is, in base units.
        expected_qty: what the book expected at the moment of the reading, or expects now; None in a blind round.
    """

    key: str
    holding_id: int | None
    lot_id: int
    lot_number: str
    use_by: date | None
    use_by_read: UseByReading
    item_id: int
    item_code: str
    item_name: str
    kind: ItemKind
    base: BaseUnit
    unit_qty: int
    unit_name: str
    place: str
    opened_on: date | None
    found: bool
    facts: ShelfFacts
    reading: str | None = None
    number: int | None = None
    read_as: CountMethod | None = None
    counted_qty: int | None = None
    counted_at: datetime | None = None
    counted_by: str | None = None
    expected_qty: int | None = None

    @property
    def counted(self) -> bool:
        return self.counted_qty is not None


@dataclass(frozen=True, slots=True)
class Sheet:
    """A round with its shelves in the order in which they are walked."""

    round: RoundCard
    today: date
    zone: ZoneInfo
    lines: tuple[SheetLine, ...]

    def line(self, key: str) -> SheetLine:
        """The line of this key.

        Raises:
            NotFound: the sheet has none.
        """
        return next((line for line in self.lines if line.key == key), None) or no_line(key)


def card(desk: Desk, row: CountRound) -> RoundCard:
    """One round as people see it."""
    return cards(desk, [row])[0]


def cards(desk: Desk, rows: Collection[CountRound]) -> tuple[RoundCard, ...]:
    """Rounds as people see them."""
    numbers = [row.id or 0 for row in rows]
    posted = query.corrected_by(desk.session, numbers)
    counted = query.counted(desk.session, numbers)
    everything = Reach(desk, {})
    who = {number: person.initials for number, person in _people(desk, rows).items()}
    return tuple(
        RoundCard(
            round_id=number, scope=Reach(desk, row.scope, everything).scope, blind=row.blind,
            state=UNDONE if number in posted and not posted[number][1] else row.state, by=who[row.person_id],
            started_at=row.started_at, approved_at=row.approved_at, counted=counted.get(number, 0),
            document_id=posted[number][0] if number in posted else None,
        )
        for number, row in zip(numbers, rows, strict=True)
    )  # fmt: skip


def _people(desk: Desk, rows: Collection[CountRound]) -> dict[int, Person]:
    return {number: desk.session.get_one(Person, number) for number in {row.person_id for row in rows}}


def sheet_of(desk: Desk, row: CountRound) -> Sheet:
    """`sheet` within a unit of work."""
    shelves = shelves_of(desk, row)
    expected = {} if row.blind else expected_of(desk, shelves)
    lines = tuple(line_of(desk, shelf, expected.get(shelf.key)) for shelf in shelves)
    return Sheet(card(desk, row), desk.today, desk.zone, lines)


def expected_of(desk: Desk, shelves: Collection[Shelf]) -> dict[str, int]:
    """What the book expects of each shelf: at the moment of its reading, or now."""
    moments = {
        shelf.stand.holding_id: shelf.reading.counted_at
        for shelf in shelves
        if shelf.stand is not None and shelf.reading is not None
    }
    since = query.moved_since(desk.session, moments)
    return {
        shelf.key: Compared(0, shelf.stand.on_hand, since.get(shelf.stand.holding_id, 0)).expected if shelf.stand else 0
        for shelf in shelves
    }


def line_of(desk: Desk, shelf: Shelf, expected: int | None) -> SheetLine:
    """A shelf as the sheet shows it."""
    line = SheetLine(
        key=shelf.key, holding_id=shelf.holding_id, lot_id=shelf.lot.id or 0, lot_number=shelf.lot.number,
        use_by=shelf.lot.use_by, use_by_read=shelf.lot.use_by_read, item_id=shelf.item.id or 0,
        item_code=shelf.item.code, item_name=shelf.item.name, kind=shelf.item.kind, base=shelf.item.base,
        unit_qty=shelf.lot.unit_qty, unit_name=shelf.item.unit_name, place=shelf.place.name,
        opened_on=shelf.opened_on, found=shelf.key.startswith(FOUND), facts=shelf.facts, expected_qty=expected,
    )  # fmt: skip
    read = shelf.reading
    if read is None:
        return line
    return replace(
        line, reading=show_reading(Reading(read.method, read.reading)), number=read.reading, read_as=read.method,
        counted_qty=read.counted_qty, counted_at=read.counted_at,
        counted_by=desk.session.get_one(Person, read.person_id).initials,
    )  # fmt: skip


def no_line(key: str) -> NoReturn:
    raise NotFound(f"The sheet has no line {key!r}.", "Choose one of its lines, or add what was found.")
