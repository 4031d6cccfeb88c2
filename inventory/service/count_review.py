"""What a round found beside what the book expected, and the one posting that puts the book right.

Each line is compared at its own moment: what is on hand less what happened after it was read. So a visit that is booked
while the round goes on, in time or late, disturbs nothing. What was not read is left as it is. On approval every
difference becomes one movement of one document that names its round; where there is none, nothing is posted and the
round says that the book was right, which counts as much.
"""

from dataclasses import dataclass
from datetime import datetime

from inventory.domain.counting import Compared, money_of
from inventory.domain.ledger import Draft, Entry, Opened, Posting, Sealed, request_hash
from inventory.domain.quantity import show
from inventory.domain.vocabulary import DocumentKind, MovementKind
from inventory.domain.words import clean, item_and_lot
from inventory.errors import AlreadyDone, BadInput, NotFound, StockChanged
from inventory.service.count_sheet import APPROVED, OPEN, RoundCard, SheetLine, card, sheet_of
from inventory.service.count_shelves import Shelf, shelves_of
from inventory.service.practice import Desk, Practice
from inventory.store import ledger
from inventory.store.queries import counting as query
from inventory.store.queries import history, views
from inventory.store.queries.history import Line
from inventory.store.tables import CountLine, CountRound


@dataclass(frozen=True, slots=True)
class ReviewLine:
    """One shelf that was read, beside the book. Quantities in base units.

    Attributes:
        expected_qty: what the book says was there at the moment of the reading.
        difference: what will be posted.
        cents: the same in money, at what was paid for the lot, else at today's price; None where neither is known.
        counted_again: its count was put right by itself after it was read, so nothing is posted.
        problem: why it can't be approved, and what to do, in words; empty where it can.
    """

    line: SheetLine
    expected_qty: int
    difference: int
    cents: int | None
    counted_again: bool
    problem: str = ""


@dataclass(frozen=True, slots=True)
class Review:
    """A round before it is approved, or as it was.

    Attributes:
        lines: what was read, in the order in which it was walked.
        unread: what was not read and is left as it is.
        plus_cents, minus_cents: the differences in money, found and missing apart; ``unpriced`` of them have no price.
    """

    round: RoundCard
    lines: tuple[ReviewLine, ...]
    unread: tuple[SheetLine, ...]
    plus_cents: int
    minus_cents: int
    unpriced: int

    @property
    def differences(self) -> tuple[ReviewLine, ...]:
        return tuple(line for line in self.lines if line.difference)

    @property
    def problems(self) -> tuple[ReviewLine, ...]:
        return tuple(line for line in self.lines if line.problem)


@dataclass(frozen=True, slots=True)
class Approved:
    """What an approval posted: the document (None where the book was right) and its movements."""

    round: RoundCard
    document_id: int | None
    lines: tuple[Line, ...]
    again: bool = False


@dataclass(frozen=True, slots=True)
class _Judged:
    """A shelf that was read, compared with the book."""

    shelf: Shelf
    line: CountLine
    compared: Compared
    again: bool

    @property
    def difference(self) -> int:
        return 0 if self.again else self.compared.difference

    @property
    def problem(self) -> str:
        """Why the book can't say what follows from the reading; an opened unit holds no more than a full one."""
        if self.again or not self.difference:
            return ""
        after, base = self.compared.after, self.shelf.item.base
        if after < 0:
            return f"since it was read {show(-self.compared.moved_since, base)} were taken; read it again"
        if self.shelf.facts.opened and after > self.shelf.lot.unit_qty:
            return f"with what came since it would hold {show(after, base)}; read it again"
        return ""


def review(practice: Practice, round_id: int) -> Review:
    """What a round found: each reading beside what the book expected, with money; and what was not read.

    Raises:
        NotFound: no such round.
        AlreadyDone: it is not open any more; the history tells what was posted.
    """
    with practice.reading() as desk:
        row = _open(desk, round_id)
        shelves = shelves_of(desk, row)
        sheet = {line.key: line for line in sheet_of(desk, row).lines}
        prices = views.costs(desk.session, {shelf.lot.id or 0 for shelf in shelves})
        today = views.prices(desk.session, desk.today)
        lines = []
        for judged in _judged(desk, shelves):
            price = prices.get(judged.shelf.lot.id or 0) or today.get(judged.shelf.item.id or 0)
            cents = (
                money_of(judged.difference, judged.shelf.lot.unit_qty, price.pack_cents, price.units_per_pack)
                if price
                else None
            )
            lines.append(
                ReviewLine(
                    sheet[judged.shelf.key], judged.compared.expected, judged.difference, cents, judged.again,
                    judged.problem,
                )
            )  # fmt: skip
        known = [line.cents for line in lines if line.cents is not None]
        return Review(
            round=card(desk, row), lines=tuple(lines),
            unread=tuple(sheet[shelf.key] for shelf in shelves if shelf.reading is None),
            plus_cents=sum(cents for cents in known if cents > 0),
            minus_cents=sum(cents for cents in known if cents < 0),
            unpriced=sum(line.cents is None and line.difference != 0 for line in lines),
        )  # fmt: skip


def approve(practice: Practice, round_id: int, *, reason: str = "", by: str, request_key: str) -> Approved:
    """Put the book right by what was read, in one posting; what was not read is left as it is.

    Args:
        practice: the practice at work.
        round_id: which round.
        reason: why the book was wrong, as far as known; needed where something differs.
        by: initials.
        request_key: the same key posts once.

    Raises:
        NotFound: no such round.
        AlreadyDone: it is not open any more.
        BadInput: nothing was read, something differs and no reason was given, or unknown initials.
        StockChanged: since a shelf was read more was taken than was there.
        KeyReused: the key came with other content.
    """
    reason = clean(reason, "reason", 500, needed=False)
    hashed = request_hash("approve count", {"round": round_id, "reason": reason, "by": by})
    with practice.writing() as desk:
        person_id = desk.person(by)
        before = ledger.already_posted(desk.session, request_key, hashed)
        row = query.round_(desk.session, round_id, lock=True)
        if row is not None and (before is not None or (row.state == APPROVED and _right(desk, row))):
            return _approved(desk, row, again=True)
        row = _open(desk, round_id)
        shelves = shelves_of(desk, row)
        ledger.lock_lots(desk.session, sorted({shelf.lot.id or 0 for shelf in shelves}))
        judged = _judged(desk, shelves_of(desk, row))  # anew: somebody may have posted until it was locked
        _check(judged, reason)
        _post(desk, row, judged, Posting(request_key, hashed, person_id, desk.now, desk.now, desk.today, ()), reason)
        row.state, row.approved_at = APPROVED, desk.now
        desk.log_change(person_id, "count_round", round_id, {"state": (OPEN, APPROVED)}, reason)
        desk.session.flush()
        return _approved(desk, row)


def _open(desk: Desk, round_id: int) -> CountRound:
    row = query.round_(desk.session, round_id)
    if row is None:
        raise NotFound(f"There is no round {round_id}.", "Look it up in the list of rounds.")
    if row.state != OPEN:
        raise AlreadyDone(f"Round {round_id} is {row.state} already.", "The history shows what it changed.")
    return row


def _right(desk: Desk, row: CountRound) -> bool:
    """Whether an approved round found nothing to post: to approve it again changes as little."""
    return row.id not in query.corrected_by(desk.session, [row.id or 0])


def _judged(desk: Desk, shelves: tuple[Shelf, ...]) -> tuple[_Judged, ...]:
    """Each shelf that was read, compared with the book at its own moment."""
    read = [(shelf, shelf.reading) for shelf in shelves if shelf.reading is not None]
    moments = {shelf.stand.holding_id: line.counted_at for shelf, line in read if shelf.stand is not None}
    since = query.moved_since(desk.session, moments)
    again = _counted_again(desk, moments)
    judged = []
    for shelf, line in read:
        number = shelf.holding_id or 0
        on_hand = shelf.stand.on_hand if shelf.stand else 0
        compared = Compared(line.counted_qty or 0, on_hand, since.get(number, 0))
        judged.append(_Judged(shelf, line, compared, number in again))
    return tuple(judged)


def _counted_again(desk: Desk, moments: dict[int, datetime]) -> set[int]:
    """Shelves whose count was put right by itself after they were read."""
    if not moments:
        return set()
    later = query.corrections(desk.session, list(moments), min(moments.values()))
    return {number for number, at in later if at > moments[number]}


def _check(judged: tuple[_Judged, ...], reason: str) -> None:
    if not judged:
        raise BadInput("Nothing was read yet.", "Count first, or drop the round.")
    wrong = [one for one in judged if one.problem]
    if wrong:
        raise StockChanged(
            "\n".join(f"{_named(one.shelf)}: {one.problem}." for one in wrong),
            "Read those again and approve then; the rest of the round is kept.",
        )
    if not reason and any(one.difference for one in judged):
        raise BadInput("reason: something differs, and it is missing.", "Say in a few words why, as far as you know.")


def _named(shelf: Shelf) -> str:
    return f"{item_and_lot(shelf.item.name, shelf.lot.number)}, {shelf.place.name}"


def _post(desk: Desk, row: CountRound, judged: tuple[_Judged, ...], posting: Posting, reason: str) -> None:
    """Post the differences, and note of what was found which holding it is now."""
    differing = [one for one in judged if one.difference]
    made: dict[str, int] = {}
    if differing:
        entries = tuple(
            Entry(_target(one.shelf, number), MovementKind.COUNT, one.difference, lot_confirmed=True)
            for number, one in enumerate(differing, start=1)
        )
        last = max(one.line.counted_at for one in differing)
        draft = Draft(DocumentKind.COUNT, entries, reason=reason, count_round_id=row.id)
        posted = ledger.post(
            desk.session,
            Posting(
                posting.request_key, posting.request_hash, posting.person_id, posting.recorded_at, last,
                last.astimezone(desk.zone).date(), (draft,),
            ),
        )  # fmt: skip
        lines = history.lines(desk.session, [posted.documents[0]])[posted.documents[0]]
        made = {one.shelf.key: line.holding_id for one, line in zip(differing, lines, strict=True)}
    for one in judged:
        if one.line.holding_id is None:
            _settle(desk, one, made.get(one.shelf.key) or one.shelf.holding_id)


def _target(shelf: Shelf, number: int) -> int | Sealed | Opened:
    if shelf.holding_id is not None:
        return shelf.holding_id
    lot_id, place_id = shelf.lot.id or 0, shelf.place.id or 0
    if shelf.opened_on is None:
        return Sealed(lot_id, place_id)
    return Opened(lot_id, place_id, shelf.opened_on, number)


def _settle(desk: Desk, one: _Judged, holding_id: int | None) -> None:
    """The same reading once more, with the holding that it turned out to be."""
    if holding_id is not None:
        line = one.line
        desk.session.add(
            CountLine(
                count_round_id=line.count_round_id, lot_id=line.lot_id, place_id=line.place_id,
                opened_on=line.opened_on, holding_id=holding_id, method=line.method, reading=line.reading,
                reading_unit_qty=line.reading_unit_qty, counted_qty=line.counted_qty, counted_at=line.counted_at,
                person_id=line.person_id, replaces_id=line.id,
            )
        )  # fmt: skip


def _approved(desk: Desk, row: CountRound, *, again: bool = False) -> Approved:
    shown = card(desk, row)
    lines = history.lines(desk.session, [shown.document_id])[shown.document_id] if shown.document_id else ()
    return Approved(shown, shown.document_id, lines, again)
