"""Receive a delivery: every article of every pack becomes stock of a lot, at a place, in one posting.

A delivery is checked whole before anything is posted. What is impossible is refused, line by line; what is unusual (a
date that has passed, a lot number with another date, the same content twice in two days) needs a yes; what is merely
worth knowing (short remaining life) comes back as a warning. `preview` says all of it beforehand.

A delivery may name the order that it came for; `against_order` says what differs. Where nothing sound came at all, the
whole of it is received and goes back at once, so that it stands in the book.

Where the label gives no lot number, the lot gets a house number from the receipt, shown as ours: ``R-2027-0012-3`` is
line 3 of delivery 12. Items that have no lots at all share one standing lot each.
"""

from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime, timedelta
from statistics import median

from inventory.domain.ledger import Draft, Entry, Posting, Sealed, request_hash
from inventory.domain.notices import LotFacts
from inventory.domain.use_by import in_date
from inventory.domain.vocabulary import DocumentKind, MovementKind, UseByReading
from inventory.domain.words import STANDING, clean
from inventory.errors import BadInput, NeedsConfirmation, NotAllowed, NotFound
from inventory.service import booked_late, on_order, recalling, short_dated
from inventory.service.against_order import match
from inventory.service.delivery_lines import Arrival, Delivery, PackArticle, SlipLine, read_lines
from inventory.service.lots import amend_lot, known_lot, save_lots
from inventory.service.practice import Desk, Practice
from inventory.store.ledger import already_posted
from inventory.store.queries import catalogue, counting
from inventory.store.queries import receiving as queries
from inventory.store.queries.purchases import OrderRow
from inventory.store.queries.receiving import DeliveryRow, LotRow
from inventory.store.tables import Delivery as DeliveryTable
from inventory.store.tables import DeliveryLine, Supplier

__all__ = [
    "Arrival", "Delivery", "DeliveryCard", "PackArticle", "Preview", "Received", "ReceivedLine", "amend_lot",
    "deliveries", "delivery", "preview", "receive",
]  # fmt: skip

TWICE_WITHIN = timedelta(days=2)
ALL_DAMAGED = "all of it came damaged"


@dataclass(frozen=True, slots=True)
class ReceivedLine:
    """One lot as it was (or would be) received; ``units`` are sealed units put in stock, damaged ones apart.

    Before posting ``lot_id`` is None for a new lot, and ``lot`` is empty where a house number will be drawn.
    """

    item_id: int
    item: str
    name: str
    lot_id: int | None
    lot: str
    number_is_ours: bool
    use_by: date | None
    use_by_read: UseByReading
    units: int
    damaged_units: int


@dataclass(frozen=True, slots=True)
class Preview:
    """What receiving would post, what is worth knowing, and what it will ask to be confirmed."""

    lines: tuple[ReceivedLine, ...]
    warnings: tuple[str, ...]
    asks: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Received:
    """A delivery in the book; ``again`` where the same request had been posted before."""

    delivery_id: int
    document_id: int
    supplier: str
    received_on: date
    slip_no: str | None
    lines: tuple[ReceivedLine, ...]
    warnings: tuple[str, ...] = ()
    again: bool = False
    order: str | None = None


@dataclass(frozen=True, slots=True)
class DeliveryCard:
    """A delivery in a list; ``undone`` where its receipt was reversed."""

    delivery_id: int
    supplier: str
    received_on: date
    slip_no: str | None
    by: str
    undone: bool


@dataclass(frozen=True, slots=True)
class _Plan:
    supplier: Supplier
    received_on: date
    moment: datetime
    slip_no: str | None
    lines: tuple[SlipLine, ...]
    known: tuple[LotRow | None, ...]
    warnings: tuple[str, ...]
    asks: tuple[str, ...]
    order: OrderRow | None


def receive(practice: Practice, delivery: Delivery, *, by: str, request_key: str, confirmed: bool = False) -> Received:
    """Post a delivery: its lots, its document and its lines, whole.

    Args:
        practice: the practice at work.
        delivery: what came.
        by: initials.
        request_key: made by the form or command, at most 64 characters; the same one posts once.
        confirmed: somebody said yes to what `preview` asks.

    Returns:
        What was received; the first result where the key came before with the same content.

    Raises:
        BadInput: faults, each with its line and field.
        NotFound: unknown supplier, place, order or initials.
        NotAllowed: a receipt with this slip number is in the book already; nothing is to come of the order.
        NeedsConfirmation: a use-by date has passed, a lot is in the book with another date, the same content came
            within two days, or more than was ordered.
        KeyReused: the key came with other content.
    """
    if not 0 < len(request_key.strip()) <= 64:
        raise BadInput("request key: 1 to 64 characters.", "Start the form again.")
    content = request_hash("receive", {"by": by, "delivery": delivery})
    with practice.writing() as desk:
        if (before := already_posted(desk.session, request_key, content)) is not None:
            return _received(desk, queries.delivery_of(desk.session, before.documents[0]), again=True)
        person_id = desk.person(by)
        plan = _plan(desk, delivery)
        if plan.asks and not confirmed:
            raise NeedsConfirmation("\n".join(plan.asks), "Look at the label and the slip again, then confirm.")
        delivery_id = _post(desk, person_id, plan, request_key, content)
        return replace(_received(desk, delivery_id), warnings=plan.warnings)


def preview(practice: Practice, delivery: Delivery) -> Preview:
    """What `receive` would post, warn of and ask, without posting anything.

    Raises:
        BadInput, NotFound, NotAllowed: as `receive`.
    """
    with practice.reading() as desk:
        plan = _plan(desk, delivery)
        lines = tuple(_planned(line, known) for line, known in zip(plan.lines, plan.known, strict=True))
        dated = ((line.item.id or 0, line.units, line.use_by.day) for line in plan.lines)
        remarks = tuple(short_dated.remarks(desk, plan.received_on, dated))
        return Preview(lines, (*plan.warnings, *remarks), plan.asks)


def deliveries(practice: Practice, *, since: date | None = None, limit: int = 100) -> tuple[DeliveryCard, ...]:
    """Deliveries in the book, newest first."""
    with practice.reading() as desk:
        rows = queries.deliveries(desk.session, since=since, limit=limit)
        return tuple(
            DeliveryCard(row.delivery_id, row.supplier, row.received_on, row.slip_no, row.by, row.undone)
            for row in rows
        )


def delivery(practice: Practice, delivery_id: int) -> Received:
    """One delivery with its lines.

    Raises:
        NotFound: there is none with this number.
    """
    with practice.reading() as desk:
        return _received(desk, delivery_id)


# working out


def _plan(desk: Desk, delivery: Delivery) -> _Plan:
    supplier = _supplier(desk, delivery.supplier)
    received_on = delivery.received_on or desk.today
    if received_on > desk.today:
        raise BadInput(f"received on: {received_on} is still to come.", "Give the day it came.")
    slip_no = clean(delivery.slip_no, "slip number", 60, needed=False) or None
    queries.one_at_a_time(desk.session, f"delivery {supplier.id}")
    _refuse_slip_twice(desk, supplier, slip_no)
    lines = read_lines(desk, supplier, received_on, delivery)
    matched = match(desk, supplier, delivery.order, lines) if delivery.order.strip() else None
    lines = matched.lines if matched else lines
    warnings = matched.warnings if matched else ()
    asks = matched.asks if matched else ()
    lots = queries.lots_named(desk.session, [(line.item.id or 0, line.number) for line in lines if line.number])
    known = tuple(known_lot(lots.get((line.item.id or 0, line.number), ()), line.words("")) for line in lines)
    counted = () if delivery.at is not None else _counted_that_day(desk, received_on, lines, known)
    return _Plan(
        supplier, received_on, booked_late.moment(desk, received_on, delivery.at), slip_no, lines, known,
        warnings=tuple(dict.fromkeys([*_warnings(desk, received_on, lines, known), *warnings])),
        asks=tuple(
            dict.fromkeys([
                *_asks(desk, supplier, received_on, slip_no, lines), *_other_dates(lines, lots, known), *counted,
                *asks,
            ])
        ),
        order=matched.order if matched else None,
    )  # fmt: skip


def _supplier(desk: Desk, name: str) -> Supplier:
    rows = catalogue.suppliers(desk.session)
    for row in rows:
        if row.name.casefold() == name.strip().casefold():
            return row
    known = ", ".join(row.name for row in rows if row.active) or "none yet"
    raise NotFound(f"There is no supplier {name!r}.", f"Known are: {known}.")


def _refuse_slip_twice(desk: Desk, supplier: Supplier, slip_no: str | None) -> None:
    if slip_no is None:
        return
    for first in queries.deliveries(desk.session, supplier_id=supplier.id, slip_no=slip_no):
        if not first.undone:
            raise NotAllowed(
                f"Slip {slip_no} of {supplier.name} was received already: delivery {first.delivery_id} on "
                f"{first.received_on}, entered by {first.by}.",
                "Look at that delivery; undo it first if it was wrong.",
            )


def _asks(
    desk: Desk, supplier: Supplier, received_on: date, slip_no: str | None, lines: tuple[SlipLine, ...]
) -> Iterator[str]:
    for line in lines:
        if not in_date(line.use_by.day, received_on):
            yield f"{_named(line)}: its use-by date {line.use_by.day} has passed."
    if slip_no is None and (first := _same_content(desk, supplier, received_on, lines)) is not None:
        yield (
            f"The same was received from {supplier.name} on {first.received_on}, entered by {first.by} "
            f"(delivery {first.delivery_id})."
        )


def _other_dates(
    lines: tuple[SlipLine, ...], lots: queries.LotsByKey, known: tuple[LotRow | None, ...]
) -> Iterator[str]:
    """Lot numbers that are in the book with another date only: one of the two dates was probably misread."""
    for line, lot in zip(lines, known, strict=True):
        others = lots.get((line.item.id or 0, line.number), ())
        if lot is None and others and line.number != STANDING:
            dates = ", ".join(str(row.use_by or "without a date") for row in others)
            yield f"{_named(line)}: in the book with another date ({dates}); it will be a lot of its own."


def _counted_that_day(
    desk: Desk, received_on: date, lines: tuple[SlipLine, ...], known: tuple[LotRow | None, ...]
) -> Iterator[str]:
    """Shelves that were counted on the day of the delivery, which may have come before or after it."""
    stacks = counting.sealed_stacks(desk.session, {lot.lot_id for lot in known if lot is not None})
    named = {
        stacks[lot.lot_id, line.place_id]: line
        for line, lot in zip(lines, known, strict=True)
        if lot is not None and (lot.lot_id, line.place_id) in stacks
    }
    for holding, counted, after in booked_late.same_day(desk, list(named), received_on):
        yield f"{_named(named[holding])}: counted on {counted}. Without a time, it came {after} that."


def _same_content(desk: Desk, supplier: Supplier, received_on: date, lines: tuple[SlipLine, ...]) -> DeliveryRow | None:
    """An earlier delivery of the supplier, within two days, that brought exactly the same."""
    near = queries.deliveries(
        desk.session, supplier_id=supplier.id, since=received_on - TWICE_WITHIN, until=received_on + TWICE_WITHIN
    )
    content = Counter((line.item.id, "" if line.ours else line.number, line.use_by.day, line.units) for line in lines)
    earlier: dict[int, Counter[tuple[int | None, str, date | None, int]]] = {}
    for row in queries.delivery_lines(desk.session, [one.delivery_id for one in near if not one.undone]):
        number = "" if row.lot.number_is_ours else row.lot.number
        earlier.setdefault(row.delivery_id, Counter())[row.item_id, number, row.lot.use_by, row.units] += 1
    return next((one for one in near if earlier.get(one.delivery_id) == content), None)


def _warnings(
    desk: Desk,
    received_on: date,
    lines: tuple[SlipLine, ...],
    known: tuple[LotRow | None, ...],
) -> Iterator[str]:
    lives = queries.lives_at_delivery(desk.session, {line.item.id or 0 for line in lines})
    held = queries.held_lots(desk.session, {lot.lot_id for lot in known if lot is not None})
    recalls = _recalls(desk, received_on, lines, known)
    for line, lot, named in zip(lines, known, recalls, strict=True):
        what = _named(line)
        yield from (f"{what}: {words}." for words in named)
        if lot is not None and lot.lot_id in held and not named:
            yield f"{what}: it is on hold; set it aside."
        if lot is not None and lot.unit_qty != line.item.unit_qty:
            yield f"{what}: its first units held another amount; check the pack, or amend the lot number."
        if line.use_by.reading is UseByReading.NOT_READ:
            yield f"{what}: its use-by date was not read yet."
        yield from _short_life(what, line, received_on, lives.get(line.item.id or 0, []), desk)


def _recalls(
    desk: Desk, received_on: date, lines: Sequence[SlipLine], known: Sequence[LotRow | None]
) -> list[tuple[str, ...]]:
    """What recall notices say of each line's lot; it is put on hold when it is received."""
    lots = [
        (lot.lot_id if lot else None, LotFacts(line.item.id or 0, line.number, line.ours, (received_on,)))
        for line, lot in zip(lines, known, strict=True)
    ]
    return recalling.foretold(desk, lots)


def _named(line: SlipLine) -> str:
    return f"{line.item.code}, lot {line.number or 'without number'}"


def _short_life(what: str, line: SlipLine, received_on: date, lives: list[int], desk: Desk) -> Iterator[str]:
    if line.use_by.day is None or not in_date(line.use_by.day, received_on):
        return
    days = (line.use_by.day - received_on).days
    usual = int(median(lives)) if lives else 0
    if days < desk.settings["short_life_days"]:
        yield f"{what}: only {days} days left until {line.use_by.day}."
    elif days * 2 < usual:
        yield f"{what}: {days} days left until {line.use_by.day}, usually {usual}."


# posting


def _post(desk: Desk, person_id: int, plan: _Plan, request_key: str, content: str) -> int:
    """Write the delivery, its lots, its document and its lines; returns the delivery's number."""
    _free_slip(desk, person_id, plan)
    order_id = plan.order.order_id if plan.order else None
    delivery_id = desk.add(
        DeliveryTable(
            supplier_id=plan.supplier.id or 0, received_on=plan.received_on, slip_no=plan.slip_no, purchase_id=order_id
        )
    )  # fmt: skip
    house = f"R-{plan.received_on.year}-{delivery_id:04d}"
    words = [line.words(f"{house}-{number}") for number, line in enumerate(plan.lines, 1)]
    lots = save_lots(desk, person_id, words, plan.received_on, delivered=True)
    posted = booked_late.post(
        desk,
        Posting(
            request_key=request_key,
            request_hash=content,
            person_id=person_id,
            recorded_at=desk.now,
            happened_at=plan.moment,
            happened_on=plan.received_on,
            documents=tuple(_drafts(plan.lines, lots, delivery_id)),
        ),
    )
    desk.session.add_all(
        DeliveryLine(
            delivery_id=delivery_id, lot_id=lot.lot_id, units=line.units, pack_cents=line.pack_cents,
            units_per_pack=line.units_per_pack, damaged_units=line.damaged, document_id=posted.documents[0],
            purchase_line_id=line.order_line_id, settles_units=line.settles,
        )
        for line, lot in zip(plan.lines, lots, strict=True)
    )  # fmt: skip
    desk.session.flush()
    if order_id is not None:
        on_order.bring_up_to_date(desk, order_id, person_id, f"delivery {delivery_id}")
    return delivery_id


def _drafts(lines: Sequence[SlipLine], lots: Sequence[LotRow], delivery_id: int) -> Iterator[Draft]:
    """The receipt of what is sound; where nothing is, the receipt of all of it and its return."""
    sound = any(line.units for line in lines)
    entries = tuple(
        Entry(Sealed(lot.lot_id, line.place_id), MovementKind.RECEIPT, units * lot.unit_qty, lot_confirmed=True)
        for line, lot in zip(lines, lots, strict=True)
        if (units := line.units if sound else line.damaged)
    )
    yield Draft(DocumentKind.RECEIPT, entries, delivery_id=delivery_id)
    if not sound:
        back = tuple(replace(entry, kind=MovementKind.RETURN, qty=-entry.qty) for entry in entries)
        yield Draft(DocumentKind.RETURN, back, 1, reason=ALL_DAMAGED, delivery_id=delivery_id)


def _free_slip(desk: Desk, person_id: int, plan: _Plan) -> None:
    """A receipt that was undone gives its slip number back, so that it can be entered rightly."""
    if plan.slip_no is None:
        return
    for first in queries.deliveries(desk.session, supplier_id=plan.supplier.id, slip_no=plan.slip_no):
        row = desk.session.get_one(DeliveryTable, first.delivery_id)
        row.slip_no = None
        desk.log_change(person_id, "delivery", first.delivery_id, {"slip_no": (plan.slip_no, None)}, "receipt undone")
    desk.session.flush()


def _received(desk: Desk, delivery_id: int, *, again: bool = False) -> Received:
    found = queries.deliveries(desk.session, delivery_id=delivery_id)
    if not found:
        raise NotFound(f"There is no delivery {delivery_id}.", "Look it up in the list of deliveries.")
    head, rows = found[0], queries.delivery_lines(desk.session, [delivery_id])
    lines = tuple(
        ReceivedLine(
            row.item_id, row.item, row.name, row.lot.lot_id, row.lot.number, row.lot.number_is_ours, row.lot.use_by,
            row.lot.use_by_read, row.units, row.damaged_units,
        )
        for row in rows
    )  # fmt: skip
    return Received(
        delivery_id, rows[0].document_id, head.supplier, head.received_on, head.slip_no, lines, again=again,
        order=head.order,
    )  # fmt: skip


def _planned(line: SlipLine, known: LotRow | None) -> ReceivedLine:
    return ReceivedLine(
        line.item.id or 0, line.item.code, line.item.name, known.lot_id if known else None, line.number, line.ours,
        line.use_by.day, line.use_by.reading, line.units, line.damaged,
    )  # fmt: skip
