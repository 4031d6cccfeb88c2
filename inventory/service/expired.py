"""Take expired stock off the shelves by a walk, place by place: each line is found, or not there, or left for later.

What is found is set aside or thrown away at once; what is not there is a count correction. One place is one request:
its entries carry the same key, so a second Enter posts nothing more. A walk that stops halfway needs no memory: what
was not posted still stands expired, and is there the next time.
"""

from collections.abc import Iterable
from dataclasses import dataclass, field, replace
from datetime import date

from inventory.domain.ledger import Draft, Entry, Opened, Posting, Sealed, request_hash
from inventory.domain.quantity import show
from inventory.domain.use_by import in_date
from inventory.domain.vocabulary import BaseUnit, DocumentKind, LateReason, MovementKind, PlaceRole
from inventory.domain.words import clean
from inventory.errors import BadInput, NotFound, StockChanged
from inventory.service.moving import Slip
from inventory.service.practice import Desk, Practice
from inventory.store.ledger import already_posted, lock_lots, post
from inventory.store.queries import history, notices, people, planning, stock
from inventory.store.queries.history import Line
from inventory.store.queries.stock import Stand
from inventory.store.tables import Item

COUNT, DISCARD, TRANSFER = range(3)  # parts of a place's request; a count has to be the first to count as one
REASON = "expired"
GONE = "expired, not there"


@dataclass(frozen=True, slots=True)
class ExpiredLine:
    """One sealed stack or opened unit past its last day of use.

    ``qty`` in base units, ``amount`` in words; ``opened_too_long``: the lot is in date, but it stands open for longer
    than it keeps; ``blocked``: on hold or recalled besides.
    """

    holding_id: int
    lot_id: int
    lot_number: str
    item_id: int
    item_code: str
    item_name: str
    base: BaseUnit
    unit_qty: int
    qty: int
    amount: str
    opened_on: date | None
    last_day: date
    days_ago: int
    opened_too_long: bool
    blocked: LateReason | None


@dataclass(frozen=True, slots=True)
class Stop:
    """One place of the walk with what stands expired there; ``lines`` by item."""

    place_id: int
    place: str
    lines: tuple[ExpiredLine, ...]


@dataclass(frozen=True, slots=True)
class Walk:
    """The places where something stands expired, in walk order, and where it can be set aside."""

    today: date
    stops: tuple[Stop, ...]
    aside: str | None

    @property
    def lines(self) -> int:
        return sum(len(stop.lines) for stop in self.stops)


@dataclass(frozen=True, slots=True)
class Found:
    """What was found of one line, in base units; None: all the book has. What is missing then is not there."""

    holding_id: int
    qty: int | None = None


@dataclass(frozen=True, slots=True)
class Findings:
    """What a person found at one place: set aside, thrown away, or not there."""

    place: str
    set_aside: tuple[Found, ...] = ()
    discarded: tuple[Found, ...] = ()
    not_there: tuple[int, ...] = ()


@dataclass(frozen=True, slots=True)
class TakenOff:
    """What was posted for one place: the documents, what they moved, and how many lines are still to be looked at."""

    place: str
    documents: tuple[int, ...]
    lines: tuple[Line, ...]
    left: int
    again: bool = False


@dataclass
class _Parts:
    """The movements of a place's request, by kind."""

    counted: list[Entry] = field(default_factory=list)
    discarded: list[Entry] = field(default_factory=list)
    moved: list[Entry] = field(default_factory=list)


def walk(practice: Practice, *, place: str = "") -> Walk:
    """What stands expired in store rooms and operatories, place by place; at one place where that is named.

    Raises:
        NotFound: there is no such place.
    """
    with practice.reading() as desk:
        only = desk.place(place).id if place.strip() else None
        late = [stand for stand in stock.stands(desk.session) if _expired(stand, desk.today)]
        items = planning.items(desk.session, {stand.item_id for stand in late})
        stops = []
        for row in people.places(desk.session):
            here = [stand for stand in late if stand.place_id == row.id]
            if here and row.role.usable and only in (None, row.id):
                lines = sorted((_line(items[one.item_id], one, desk.today) for one in here), key=_by_item)
                stops.append(Stop(row.id or 0, row.name, tuple(lines)))
        aside = [row.name for row in people.places(desk.session) if row.active and row.role is PlaceRole.SET_ASIDE]
        return Walk(desk.today, tuple(stops), aside[0] if aside else None)


def take_off(practice: Practice, findings: Findings, slip: Slip) -> TakenOff:
    """Post what was found at one place: at most one entry each for set aside, thrown away and not there.

    Args:
        practice: the practice at work.
        findings: what was found; a line that is not named stays for later.
        slip: whose ``reason`` is "expired" where it is empty, with a proof where something was thrown away with one.

    Raises:
        BadInput: nothing or a line twice, another place's line, no proof for recalled stock, more than the book has,
            a day other than today, unknown initials.
        NotFound: no such place, or none to set aside.
        StockChanged: a line has left that place meanwhile.
    """
    _check(findings, slip)
    content = {"findings": findings, "by": slip.by, "reason": slip.reason, "proof": slip.proof}
    hashed = request_hash("take expired stock off", content)
    with practice.writing() as desk:
        if slip.on not in (None, desk.today):
            raise BadInput(f"date: {slip.on} is not today.", "Take off the shelf today what stands there today.")
        person_id, place = desk.person(slip.by), desk.place(findings.place)
        if (before := already_posted(desk.session, slip.request_key, hashed)) is not None:
            return _taken(desk, place.name, before.documents.values(), again=True)
        drafts = _drafts(desk, _parts(desk, findings, slip, place.id or 0), slip)
        posting = Posting(slip.request_key, hashed, person_id, desk.now, desk.now, desk.today, drafts)
        return _taken(desk, place.name, post(desk.session, posting).documents.values())


def _check(findings: Findings, slip: Slip) -> None:
    if not slip.request_key.strip() or len(slip.request_key) > 64:
        raise BadInput("request key: 1 to 64 characters.", "Start the form again.")
    named = [*(one.holding_id for one in (*findings.set_aside, *findings.discarded)), *findings.not_there]
    if not named:
        raise BadInput("Nothing was said of any line.", "Say what was found, or go on to the next place.")
    if len(set(named)) != len(named):
        raise BadInput("A line was named twice.", "Say one thing of each line.")


def _parts(desk: Desk, findings: Findings, slip: Slip, place_id: int) -> _Parts:
    """The movements, each line checked as it stands now."""
    named = [*(one.holding_id for one in (*findings.set_aside, *findings.discarded)), *findings.not_there]
    lock_lots(desk.session, sorted({one.lot_id for one in stock.stands_of(desk.session, named).values()}))
    desk.session.expire_all()
    stands = stock.stands_of(desk.session, named)
    parts = _Parts()
    aside = desk.place_of_role(PlaceRole.SET_ASIDE) if findings.set_aside else 0
    for number, found in enumerate((*findings.set_aside, *findings.discarded), start=1):
        stand = _stand(desk, stands, found.holding_id, place_id)
        qty = _found_qty(desk, stand, found.qty)
        if found in findings.set_aside:
            parts.moved += _carried(stand, qty, aside, number)
        else:
            if stand.recalled and not slip.proof.strip():
                raise BadInput("proof: it is missing.", "Recalled stock is thrown away with a certificate only.")
            parts.discarded.append(Entry(stand.holding_id, MovementKind.DISCARD, -qty, lot_confirmed=True))
        if qty < stand.on_hand:
            parts.counted.append(_less(stand, stand.on_hand - qty))
    for holding_id in findings.not_there:
        stand = _stand(desk, stands, holding_id, place_id)
        parts.counted.append(_less(stand, stand.on_hand))
    return parts


def _stand(desk: Desk, stands: dict[int, Stand], holding_id: int, place_id: int) -> Stand:
    stand = stands.get(holding_id)
    if stand is None:
        raise NotFound(f"There is no stock {holding_id}.", "Look at the walk again.")
    if stand.place_id != place_id:
        raise BadInput(f"stock {holding_id}: it stands at {stand.place_name}.", "Take it off there.")
    if not stand.on_hand:
        raise StockChanged(f"Nothing is left of lot {stand.lot_number} there.", "Look at the walk again.")
    if not _expired(stand, desk.today):
        raise BadInput(f"stock {holding_id}: lot {stand.lot_number} is in date.", "Discard or move it by itself.")
    return stand


def _found_qty(desk: Desk, stand: Stand, qty: int | None) -> int:
    found = stand.on_hand if qty is None else qty
    if not 0 < found <= stand.on_hand or (stand.opened_on is None and found % stand.unit_qty):
        base = desk.session.get_one(Item, stand.item_id).base
        raise BadInput(
            f"amount: {show(found, base)} of lot {stand.lot_number} can't be.",
            f"The book has {show(stand.on_hand, base)}; name whole units of what is sealed.",
        )
    return found


def _carried(stand: Stand, qty: int, place_id: int, number: int) -> tuple[Entry, Entry]:
    target = (
        Sealed(stand.lot_id, place_id)
        if stand.opened_on is None
        else Opened(stand.lot_id, place_id, stand.opened_on, number)
    )
    return (
        Entry(stand.holding_id, MovementKind.TRANSFER, -qty, lot_confirmed=True),
        Entry(target, MovementKind.TRANSFER, qty, lot_confirmed=True),
    )


def _less(stand: Stand, qty: int) -> Entry:
    return Entry(stand.holding_id, MovementKind.COUNT, -qty, lot_confirmed=True)


def _drafts(desk: Desk, parts: _Parts, slip: Slip) -> tuple[Draft, ...]:
    """The documents; what is on hold for a recall notice is told there by them."""
    reason = clean(slip.reason, "reason", 500, needed=False) or REASON
    proof = clean(slip.proof, "proof", 200, needed=False) or None
    wanted = (
        Draft(DocumentKind.COUNT, tuple(parts.counted), COUNT, reason=GONE),
        Draft(DocumentKind.DISCARD, tuple(parts.discarded), DISCARD, reason=reason, proof=proof),
        Draft(DocumentKind.TRANSFER, tuple(parts.moved), TRANSFER, reason=reason),
    )
    return tuple(replace(draft, notice_id=_notice_of(desk, draft)) for draft in wanted if draft.entries)


def _notice_of(desk: Desk, draft: Draft) -> int | None:
    taken = {entry.target for entry in draft.entries if isinstance(entry.target, int)}
    return notices.notice_of(desk.session, taken, ())


def _taken(desk: Desk, place: str, documents: Iterable[int], *, again: bool = False) -> TakenOff:
    numbers = tuple(sorted(documents))
    lines = history.lines(desk.session, numbers)
    left = [one for one in stock.stands(desk.session) if one.place_name == place and _expired(one, desk.today)]
    return TakenOff(place, numbers, tuple(line for number in numbers for line in lines[number]), len(left), again)


def _expired(stand: Stand, today: date) -> bool:
    return not in_date(stand.last_day, today)


def _line(item: Item, stand: Stand, today: date) -> ExpiredLine:
    last_day = stand.last_day or today
    return ExpiredLine(
        holding_id=stand.holding_id, lot_id=stand.lot_id, lot_number=stand.lot_number, item_id=stand.item_id,
        item_code=item.code, item_name=item.name, base=item.base, unit_qty=stand.unit_qty, qty=stand.on_hand,
        amount=_amount(item, stand), opened_on=stand.opened_on, last_day=last_day, days_ago=(today - last_day).days,
        opened_too_long=in_date(stand.use_by, today), blocked=stand.blocked,
    )  # fmt: skip


def _amount(item: Item, stand: Stand) -> str:
    if item.base is BaseUnit.PIECE:
        return show(stand.on_hand, item.base)
    if stand.opened_on is not None:
        return f"opened, {show(stand.on_hand, item.base)}"
    units = stand.on_hand // stand.unit_qty
    return f"{units} {item.unit_name}{'s' if units != 1 else ''}"


def _by_item(line: ExpiredLine) -> tuple[str, date, str, int]:
    return line.item_name, line.last_day, line.lot_number, line.holding_id
