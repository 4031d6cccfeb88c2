"""The weekly check: one list of what to act on, most urgent first, each line with its reason and its arithmetic.

Each rule looks at plain facts and yields lines; none of them knows the database. The order of urgency is the order of
what can hurt: material that must not be used but can still be grabbed, visits that can't take place, orders that don't
come, stock that runs short, stock that will be lost, and facts that nobody has read yet.
"""

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from enum import IntEnum, StrEnum

from inventory.domain.lead_time import LeadTime
from inventory.domain.quantity import show, show_money, show_units
from inventory.domain.recall_work import Outstanding
from inventory.domain.reordering import Proposal
from inventory.domain.shelf import Fate
from inventory.domain.use_by import in_date
from inventory.domain.vocabulary import BaseUnit, LateReason, UseByReading
from inventory.domain.why import CENTS, DAYS, Derivation, Op, Term, derive

MILLION = 1_000_000
MOST_NAMED = 3  # items named in the one line about counts


class AlertKind(IntEnum):
    """What a line is about; the number is its rank, most urgent first."""

    NOTICE_OPEN = 0
    RECALLED = 1
    EXPIRED = 2
    OPENED_TOO_LONG = 3
    VISIT_NOT_READY = 4
    NOT_SENT = 5
    VISIT_NOT_BOOKED = 6
    ORDER_OVERDUE = 7
    RUNS_SHORT = 8
    WILL_EXPIRE = 9
    DATE_NOT_READ = 10
    REST_OF_NO_USE = 11
    ON_HOLD = 12
    COUNT_DUE = 13


class Action(StrEnum):
    """What a key on the line does."""

    OPEN_NOTICE = "open the recall notice"
    DISCARD = "discard"
    SET_ASIDE = "set aside"
    OPEN_VISIT = "open the visit"
    SEND = "pack and send it"
    OPEN_ORDER = "open the order"
    RECEIVE = "receive"
    ORDER = "order it"
    READ_DATE = "read the date"
    LOOK = "look at the lot"
    COUNT = "see what is to be counted"


@dataclass(frozen=True, slots=True)
class Shelf:
    """One holding as the check sees it; quantities in the item's base unit, ``cents`` is what it cost.

    ``taken_back_by`` names the supplier it came from where that one takes back what has a short life; else empty.
    """

    holding_id: int
    lot_id: int
    item_id: int
    item: str
    base: BaseUnit
    unit_qty: int
    unit_name: str
    lot_number: str
    place: str
    usable_place: bool
    on_hand: int
    opened_on: date | None
    opened_days: int | None
    use_by: date | None
    use_by_read: UseByReading
    last_day: date | None
    blocked: LateReason | None
    cents: int
    taken_back_by: str = ""

    @property
    def amount(self) -> str:
        """What is there, in words."""
        if self.base is BaseUnit.PIECE:
            return show(self.on_hand, self.base)
        if self.opened_on is not None:
            return f"opened {self.unit_name}, {show(self.on_hand, self.base)}"
        return f"{show_units(self.on_hand // self.unit_qty, 0, self.unit_qty, self.base)} x {self.unit_name}"


@dataclass(frozen=True, slots=True)
class Alert:
    """One line of the check.

    Attributes:
        kind: what it is about and how urgent.
        subject: the item, or the visit's case reference.
        where: lot and place, or the visit's day; empty where neither applies.
        what: what is the matter, in words.
        todo: what to do, in words.
        action: what a key does.
        why: the arithmetic behind it.
        due: the day that matters (expiry, visit, runs out), for the order within a kind.
        item_id, lot_id, holding_id, visit_id: what the action takes.
        qty: base units concerned.
        base: their unit.
        cents: money concerned.
        order: the order's number; empty where it is about none.
        notice: the recall notice's reference; empty where it is about none.
    """

    kind: AlertKind
    subject: str
    where: str
    what: str
    todo: str
    action: Action
    why: tuple[Derivation, ...] = ()
    due: date | None = None
    item_id: int | None = None
    lot_id: int | None = None
    holding_id: int | None = None
    visit_id: int | None = None
    qty: int = 0
    base: BaseUnit = BaseUnit.PIECE
    cents: int = 0
    order: str = ""
    notice: str = ""


@dataclass(frozen=True, slots=True)
class Awaited:
    """A sent order of which something is still to come: units by their names, and what they cost."""

    number: str
    supplier: str
    sent_on: date
    expected_on: date
    lead: LeadTime
    still_to_come: tuple[str, ...]
    cents: int


@dataclass(frozen=True, slots=True)
class Due:
    """An item to be counted: every so many weeks, and how many days ago it was, or came where it never was."""

    name: str
    weeks: int
    days: int
    counted: bool


@dataclass(frozen=True, slots=True)
class OpenNotice:
    """A recall notice that is open, or closed with stock in the house again, and what of it is outstanding."""

    reference: str
    on: date
    class_words: str
    closed: bool
    outstanding: Outstanding


def most_urgent_first(alerts: Iterable[Alert]) -> tuple[Alert, ...]:
    """Sorted by kind, then by day, then by name."""
    return tuple(sorted(alerts, key=lambda a: (a.kind, a.due or date.max, a.subject, a.where)))


def recalls(notices: Iterable[OpenNotice]) -> Iterator[Alert]:
    """Recall notices that ask for something: one line each, with the next thing to do."""
    for one in notices:
        yield Alert(
            kind=AlertKind.NOTICE_OPEN, subject=f"Recall {one.reference}", where=one.class_words,
            what=f"{'closed, but ' if one.closed else ''}{one.outstanding.counts}", todo=one.outstanding.next_step,
            action=Action.OPEN_NOTICE, due=one.outstanding.answer_by or one.on, notice=one.reference,
        )  # fmt: skip


def on_the_shelf(shelves: Iterable[Shelf], today: date) -> Iterator[Alert]:
    """Stock that must not be used but stands where it could be, and what waits for a decision."""
    for shelf in shelves:
        if not shelf.usable_place:
            continue
        if shelf.blocked is LateReason.RECALLED:
            yield _alert(shelf, AlertKind.RECALLED, "recalled", "Set it aside; don't use it.", Action.SET_ASIDE)
        elif shelf.blocked is LateReason.HELD:
            yield _alert(
                shelf, AlertKind.ON_HOLD, "on hold", "Set it aside until the hold is decided.", Action.SET_ASIDE
            )
        elif shelf.use_by is not None and today > shelf.use_by:
            yield _expired(shelf, shelf.use_by, today)
        elif shelf.opened_on is not None and not in_date(shelf.last_day, today):
            yield _opened_too_long(shelf, shelf.opened_on, today)


def not_read(shelves: Iterable[Shelf]) -> Iterator[Alert]:
    """Lots whose date nobody has read yet, once each; those whose maker states none are no alert."""
    seen: set[int] = set()
    for shelf in shelves:
        if shelf.use_by_read is UseByReading.NOT_READ and shelf.lot_id not in seen:
            seen.add(shelf.lot_id)
            yield _alert(
                shelf, AlertKind.DATE_NOT_READ, "use-by date not read yet", "Read it from the package and enter it.",
                Action.READ_DATE,
            )  # fmt: skip


def rests(shelves: Iterable[Shelf], smallest: dict[int, int], today: date) -> Iterator[Alert]:
    """Opened rests too small for any step: written off knowingly, never silently.

    Args:
        shelves: what stands where.
        smallest: by item, the least that any step draws, in base units.
        today: practice-local date.
    """
    for shelf in shelves:
        least = smallest.get(shelf.item_id, 0)
        usable = shelf.usable_place and shelf.blocked is None and in_date(shelf.last_day, today)
        if shelf.opened_on is not None and usable and 0 < shelf.on_hand < least:
            unit = shelf.base.value
            terms = [
                Term("left in the opened unit", shelf.on_hand, unit),
                Term("the least that a step draws, tip and purge included", least, unit, Op.MINUS),
            ]
            why = derive(f"{shelf.item}, lot {shelf.lot_number}: what is left", terms, "beyond the least", unit)
            yield _alert(
                shelf,
                AlertKind.REST_OF_NO_USE,
                "rest too small for any step",
                "Write it off.",
                Action.DISCARD,
                why=(why,),
            )


def will_expire(
    shelves: Sequence[Shelf], proposals: dict[int, Proposal], today: date, warn_days: int
) -> Iterator[Alert]:
    """Lots of which something will expire before it is used, if use goes on as expected.

    Args:
        shelves: what stands where.
        proposals: by item, with the shelf walk in it.
        today: practice-local date.
        warn_days: how far ahead a line is shown, in days.
    """
    by_holding = {str(shelf.holding_id): shelf for shelf in shelves}
    for proposal in proposals.values():
        for fate in proposal.outlook.fates:
            shelf = by_holding.get(fate.key)
            if shelf is None or shelf.last_day is None or fate.lost <= 0:
                continue
            if (shelf.last_day - today).days <= warn_days:
                yield _will_expire(shelf, shelf.last_day, fate, today)


def overdue(orders: Iterable[Awaited], today: date) -> Iterator[Alert]:
    """Orders that are later than their supplier usually is."""
    for order in orders:
        if today <= order.lead.overdue_after(order.expected_on):
            continue
        late = (today - order.expected_on).days
        terms = [
            Term("from the day it was sent", (today - order.sent_on).days, DAYS, Op.TOLD),
            Term(f"usual spread of {order.supplier}, from {order.lead.orders} orders that came",
                 order.lead.spread_days, DAYS, Op.TOLD),
            Term("from the day it was expected", late, DAYS),
            Term("the usual spread", order.lead.spread_days, DAYS, Op.MINUS),
        ]  # fmt: skip
        title = f"Order {order.number}, {order.supplier}: expected {order.expected_on.isoformat()}"
        yield Alert(
            kind=AlertKind.ORDER_OVERDUE, subject=f"Order {order.number}", where=order.supplier,
            what=f"{late} day{'s' if late != 1 else ''} late; still to come: {', '.join(order.still_to_come)}",
            todo="Ask the supplier; receive it, or give up what won't come.", action=Action.OPEN_ORDER,
            why=(derive(title, terms, "later than usual by", DAYS),), due=order.expected_on, cents=order.cents,
            order=order.number,
        )  # fmt: skip


def runs_short(proposals: dict[int, Proposal], names: dict[int, tuple[str, BaseUnit]]) -> Iterator[Alert]:
    """Items at or under their reorder point."""
    for item_id, proposal in proposals.items():
        if not proposal.runs_short:
            continue
        name, base = names[item_id]
        order = f"Order {proposal.packs} pack{'s' if proposal.packs != 1 else ''} ({show_money(proposal.cents)})."
        nothing = "No supplier is set: add one, then order." if proposal.warnings else "Nothing to order yet: see why."
        yield Alert(
            AlertKind.RUNS_SHORT,
            name,
            "",
            f"{show(proposal.counted, base)} counts, reorder point {show(proposal.reorder_point, base)}",
            order if proposal.packs else nothing,
            Action.ORDER if proposal.packs else Action.RECEIVE,
            proposal.why,
            proposal.outlook.runs_out[1],
            item_id=item_id,
            qty=proposal.qty,
            base=base,
            cents=proposal.cents,
        )


def counts_due(items: Sequence[Due], today: date) -> Iterator[Alert]:
    """One line for all items that were not counted for longer than their weeks, longest due first."""
    if not items:
        return
    names = ", ".join(item.name for item in items[:MOST_NAMED])
    more = f" and {len(items) - MOST_NAMED} more" if items[MOST_NAMED:] else ""
    why = tuple(
        derive(
            f"{item.name}: to be counted every {item.weeks} weeks",
            [Term("since it was counted" if item.counted else "since it came, never counted", item.days, DAYS),
             Term("its weeks", 7 * item.weeks, DAYS, Op.MINUS)],
            "over its time by", DAYS,
        )
        for item in items[:MOST_NAMED]
    )  # fmt: skip
    subject = f"{len(items)} item{'s' if len(items) != 1 else ''} to count"
    yield Alert(
        AlertKind.COUNT_DUE, subject, "", f"not counted for longer than planned: {names}{more}",
        "Count them in a round; dear and vital ones first.", Action.COUNT, why,
        today - timedelta(days=max(item.days - 7 * item.weeks for item in items)),
    )  # fmt: skip


def _expired(shelf: Shelf, use_by: date, today: date) -> Alert:
    days = (today - use_by).days
    why = derive(
        f"{shelf.item}, lot {shelf.lot_number}: use-by {use_by.isoformat()}, inclusive",
        [Term("today is after the use-by date by", days, DAYS)],
        "past its date by",
        DAYS,
    )
    what = f"expired {days} day{'s' if days != 1 else ''} ago ({use_by.isoformat()})"
    return _alert(shelf, AlertKind.EXPIRED, what, "Don't use it; discard it.", Action.DISCARD, why=(why,))


def _opened_too_long(shelf: Shelf, opened_on: date, today: date) -> Alert:
    days = (today - opened_on).days
    life = shelf.opened_days or 0
    why = derive(
        f"{shelf.item}, lot {shelf.lot_number}: opened {opened_on.isoformat()}",
        [Term("opened for", days, DAYS), Term("opened life", life, DAYS, Op.MINUS)],
        "past its opened life by",
        DAYS,
    )
    what = f"opened {days} days ago, opened life {life} days"
    return _alert(shelf, AlertKind.OPENED_TOO_LONG, what, "Don't use it; discard it.", Action.DISCARD, why=(why,))


def _will_expire(shelf: Shelf, last_day: date, fate: Fate, today: date) -> Alert:
    unit = shelf.base.value
    lost = derive(
        f"{shelf.item}, lot {shelf.lot_number}: until its last day, {last_day.isoformat()}",
        [
            Term("days left, today included", (last_day - today).days + 1, DAYS, Op.TOLD),
            Term("there now", fate.qty, unit),
            Term("expected to be used in time, earliest expiry first", fate.qty - fate.lost, unit, Op.MINUS),
        ],
        "expected to expire unused",
        unit,
    )
    money = derive("its cost", [Term("share of what the lot cost", fate.lost_cents, CENTS)], "money lost", CENTS)
    what = f"{show(fate.lost, shelf.base)} will expire unused by {last_day.isoformat()}"
    return _alert(
        shelf, AlertKind.WILL_EXPIRE, what, _save_it(shelf, fate), Action.LOOK,
        why=(lost, money), qty=fate.lost, cents=fate.lost_cents,
    )  # fmt: skip


def _save_it(shelf: Shelf, fate: Fate) -> str:
    """What may still save stock that will expire: sealed units of which none will be used can be exchanged."""
    if shelf.opened_on is None and shelf.taken_back_by and fate.lost >= shelf.unit_qty:
        return f"Use it first; {shelf.taken_back_by} takes back what has a short life: ask for an exchange."
    return "Use it first."


def _alert(
    shelf: Shelf,
    kind: AlertKind,
    what: str,
    todo: str,
    action: Action,
    *,
    why: tuple[Derivation, ...] = (),
    qty: int | None = None,
    cents: int | None = None,
) -> Alert:
    return Alert(
        kind, shelf.item, f"lot {shelf.lot_number}, {shelf.place}", f"{shelf.amount}: {what}", todo, action, why,
        shelf.last_day, shelf.item_id, shelf.lot_id, shelf.holding_id, None,
        shelf.on_hand if qty is None else qty, shelf.base, shelf.cents if cents is None else cents,
    )  # fmt: skip
