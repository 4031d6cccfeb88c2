"""What a scan means here: which item and how many units of it, which lots of ours, and what speaks against using them.

A label names an article by a number of its maker, and a box and a single unit have different ones. The practice says
once what such a number stands for, and it is remembered. Lots are found by item and number together, since two makers
may give the same number; a number typed by hand is looked for first, so a label field takes both.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from datetime import date
from typing import Any

from inventory.domain.allocation import earlier_than
from inventory.domain.labels.label import CodeKind, Label, join
from inventory.domain.labels.reading import read_label
from inventory.domain.vocabulary import BaseUnit, ItemKind, LateReason, UseByReading
from inventory.errors import BadInput, NeedsConfirmation, NotFound
from inventory.service import catalogue, filling_in
from inventory.service.catalogue import BarcodeCard
from inventory.service.delivery_lines import Arrival
from inventory.service.filling import Filling
from inventory.service.laying_out import LotChoice, stack_of
from inventory.service.lots import UseBy
from inventory.service.practice import Desk, Practice
from inventory.store.queries import catalogue as catalogue_query
from inventory.store.queries import labels as query
from inventory.store.queries.stock import Stand, stands
from inventory.store.tables import Item

LATE = {
    LateReason.EXPIRED: "past its last day of use",
    LateReason.HELD: "on hold",
    LateReason.RECALLED: "recalled",
}


@dataclass(frozen=True, slots=True)
class ScannedItem:
    """The item that a code stands for, and how many units of it one such package holds."""

    item_id: int
    code: str
    name: str
    kind: ItemKind
    base: BaseUnit
    unit_name: str
    unit_qty: int
    has_lots: bool
    units: int


@dataclass(frozen=True, slots=True)
class ScannedLot:
    """A lot of ours that the label points at; ``on_hand`` in base units, at all ``places`` together.

    ``late`` says why it may not be used today.
    """

    lot_id: int
    number: str
    item_id: int
    item_code: str
    item_name: str
    base: BaseUnit
    unit_name: str
    unit_qty: int
    use_by: date | None
    use_by_read: UseByReading
    on_hand: int = 0
    places: tuple[str, ...] = ()
    late: LateReason | None = None


@dataclass(frozen=True, slots=True)
class Scanned:
    """What was scanned or typed, and what is known about it here.

    Attributes:
        text: as it came.
        label: what it says; None where it was a lot number.
        item: what it stands for; None where the article is not known yet, or not named.
        lots: with an item its lots of the label's number, without a number those that are there; else by number alone.
        warnings: what speaks against using it now.
        questions: what may have been read wrongly.
        joined: it is a package's second code, read together with the first.
    """

    text: str
    label: Label | None
    item: ScannedItem | None
    lots: tuple[ScannedLot, ...]
    warnings: tuple[str, ...] = ()
    questions: tuple[str, ...] = ()
    joined: bool = False

    @property
    def unknown(self) -> bool:
        """The label names an article, and nobody has said yet which item it is."""
        return self.label is not None and bool(self.label.code) and self.item is None

    @property
    def lot_number(self) -> str:
        """The lot's number, as the label has it; empty where it has none."""
        if self.label is None or (self.label.own_lot is not None and self.lots):
            return self.lots[0].number
        return self.label.lot or ""

    @property
    def use_by(self) -> UseBy | None:
        """The label's date as it was read, None where it gives none."""
        if self.label is None or self.label.use_by is None:
            return None
        return UseBy(self.label.use_by_read, self.label.use_by)


@dataclass(frozen=True, slots=True)
class Package:
    """What a code stands for: an item, and how many units of it one such package holds."""

    scheme: str
    code: str
    item_code: str
    item_name: str
    units: int


def find(practice: Practice, text: str, *, first: Label | None = None) -> Scanned:
    """Read a label, or a lot number typed by hand, and look up what it means here.

    Args:
        practice: the practice at work.
        text: as a scanner sent it, or as it was typed.
        first: the code read before it: a package's second code (lot and date) goes with its first.

    Raises:
        BadInput: neither a label that can be read nor the number of a lot in the book.
    """
    with practice.reading() as desk:
        of_number = query.lots_like(desk.session, item_id=None, number=text.strip()) if text.strip() else []
        if of_number:
            return Scanned(text, None, None, _lots(desk, of_number))
        alone = _likelier(desk, _label(text, desk.today), first)
        label = alone if first is None or alone.code else join(first, alone)
        item = _item(desk, label)
        item_id = item.item_id if item else None
        named = item is not None or label.lot is not None
        rows = []
        if named:
            rows = query.lots_like(desk.session, item_id=item_id, number=label.lot, lot_id=label.own_lot)
        same = [row for row in rows if _same_date(label, row.use_by)]
        lots = _lots(desk, same) if item or not label.code else ()
        warnings = (*_of_other_date(label, item, rows, same), *_against(desk, label, lots))
        return Scanned(text, label, item, lots, warnings, label.questions, joined=label is not alone)


def remember_article(
    practice: Practice, scheme: str, code: str, item: str, units: int, *, by: str, confirmed: bool = False
) -> BarcodeCard:
    """Say once what a code stands for: an item, and how many units of it one such package holds.

    Args:
        practice: the practice at work.
        scheme: ``gtin``, ``hibc`` or ``own``, as `Label.scheme` says.
        code: as `Label.code` has it.
        item: the item's code.
        units: in one such package; a box and a single unit have different codes.
        by: initials, for the log.
        confirmed: somebody said yes where the code stood for something else.

    Raises:
        BadInput: unknown scheme, wrong check digit, or no sensible number of units.
        NotFound: no such item or initials.
        NeedsConfirmation: the code stands for something else already.
    """
    if not confirmed:
        with practice.reading() as desk:
            known = _known(desk, scheme, code)
        if known is not None and (known.code, known.units) != (item.strip().upper(), units):
            raise NeedsConfirmation(
                f"{code} stands for {_units(known)} of {known.name} so far.",
                "Confirm if it was wrong: what is scanned from now on counts as the new one.",
            )
    return catalogue.add_barcode(practice, scheme, code, item=item, units=units, by=by)


def packages(practice: Practice, *, item: str = "") -> tuple[Package, ...]:
    """What codes of packages stand for, by item and code; of one item where it is named.

    Raises:
        NotFound: no such item.
    """
    item_id = catalogue.item(practice, item).item_id if item.strip() else None
    with practice.reading() as desk:
        return tuple(Package(*row) for row in query.packages(desk.session, item_id))


def _units(item: ScannedItem) -> str:
    return "1 unit" if item.units == 1 else f"{item.units} units"


# how a label becomes what it means


def _label(text: str, today: date) -> Label:
    try:
        return read_label(text, today)
    except BadInput as wrong:
        typed = text.strip()
        if len(typed) <= 40 and typed.isprintable():
            raise NotFound(f"No lot in the book has the number {typed!r}. {wrong.message}", wrong.todo) from None
        raise


def _likelier(desk: Desk, label: Label, first: Label | None) -> Label:
    """Digits that are a date and an article number are the article, unless a package's first code came before them.

    The question stays until the practice knows the article.
    """
    if label.gtin_instead is None:
        return label
    known = catalogue_query.barcode(desk.session, "gtin", label.gtin_instead) is not None
    if known or (first is None and not label.lot):
        return Label(CodeKind.ARTICLE, gtin=label.gtin_instead, questions=() if known else label.questions)
    return label


def _item(desk: Desk, label: Label) -> ScannedItem | None:
    return _known(desk, label.scheme, label.code) if label.code else None


def _known(desk: Desk, scheme: str, code: str) -> ScannedItem | None:
    row = catalogue_query.barcode(desk.session, scheme, code)
    if row is not None:
        return _scanned_item(desk.session.get_one(Item, row.item_id), row.units)
    own = catalogue_query.item_by_code(desk.session, code) if scheme == "own" else None
    return _scanned_item(own, 1) if own else None


def _scanned_item(item: Item, units: int) -> ScannedItem:
    return ScannedItem(
        item.id or 0, item.code, item.name, item.kind, item.base, item.unit_name, item.unit_qty, item.has_lots, units
    )


def _same_date(label: Label, use_by: date | None) -> bool:
    """Whether a lot of ours may be the label's: one of the two has no date, or both have the same."""
    return label.use_by is None or use_by is None or label.use_by == use_by


def _lots(desk: Desk, rows: Iterable[Any]) -> tuple[ScannedLot, ...]:
    """The lots with what is left of them, those that are there first."""
    found = []
    for row in rows:
        lot = ScannedLot(*row)
        there = stands(desk.session, lot_id=lot.lot_id)
        places = tuple(dict.fromkeys(stand.place_name for stand in there))
        late = _late(there, lot.use_by, desk.today)
        found.append(replace(lot, on_hand=sum(stand.on_hand for stand in there), places=places, late=late))
    return tuple(sorted(found, key=lambda lot: not lot.on_hand))


def _late(there: Sequence[Stand], use_by: date | None, today: date) -> LateReason | None:
    blocked = next((stand.blocked for stand in there if stand.blocked), None)
    return blocked or (LateReason.EXPIRED if use_by is not None and use_by < today else None)


def _of_other_date(
    label: Label, item: ScannedItem | None, rows: Sequence[object], same: Sequence[object]
) -> tuple[str, ...]:
    if item is None or not label.lot or same or not rows:
        return ()
    return (f"The book has lot {label.lot} of {item.name} with another use-by date: one of the two was read wrongly.",)


def _against(desk: Desk, label: Label, lots: Sequence[ScannedLot]) -> tuple[str, ...]:
    """Why a lot should not be used now: it may not, or another one goes first."""
    if label.lot is None and label.own_lot is None:
        return ()
    said = [
        f"{lot.item_name}, lot {lot.number}: {LATE[lot.late]}. Such material is not used." for lot in lots if lot.late
    ]
    if not said and len(lots) == 1 and lots[0].on_hand:
        said += _out_of_turn(desk, lots[0])
    return tuple(said)


def _out_of_turn(desk: Desk, lot: ScannedLot) -> list[str]:
    """The lot that should go before this one: opened already, or of an earlier date."""
    there = {s.holding_id: s for s in stands(desk.session, [lot.item_id]) if s.place_role.usable}
    stacks = [replace(stack_of(stand), at_place=True) for stand in there.values()]
    own = next((stack for stack in stacks if stack.lot_id == lot.lot_id), None)
    first = [other for other in earlier_than(own, stacks, desk.today) if other.lot_id != lot.lot_id] if own else []
    if not first or (first[0].opened_on is None and first[0].last_day == lot.use_by):
        return []
    stand = there[first[0].holding_id]
    why = "is open" if stand.opened_on else f"is good until {stand.last_day} only" if stand.last_day else "came earlier"
    return [f"Lot {stand.lot_number} ({stand.place_name}) goes first: it {why}."]


# where a scan saves typing


def count_in(
    lines: Sequence[Arrival], scanned: Scanned, packs: Sequence[int] = ()
) -> tuple[tuple[Arrival, ...], int, bool]:
    """A package scanned while a delivery is entered: a new line, or one more on the line of its lot.

    Args:
        lines: of the delivery so far.
        scanned: with its item.
        packs: sizes in which the supplier sells the item; a package of such a size counts as a pack, so that the
            further articles in it come along.

    Returns:
        The lines, which of them it is, and whether it is new.

    Raises:
        BadInput: nobody has said yet which item the label stands for.
    """
    line = _arrival(scanned, packs)
    if scanned.joined:  # its first code was counted without lot and date
        lines = _one_less(lines, replace(line, lot="", use_by=None, made_on=None))
    for at, known in enumerate(lines):
        if _key(known) == _key(line):
            more = replace(known, packs=known.packs + line.packs, units=known.units + line.units)
            return (*lines[:at], more, *lines[at + 1 :]), at, False
    return (*lines, line), len(lines), True


def _one_less(lines: Sequence[Arrival], line: Arrival) -> tuple[Arrival, ...]:
    """The lines without one package, where there is one like it."""
    at = next((at for at, known in enumerate(lines) if _key(known) == _key(line)), None)
    if at is None:
        return tuple(lines)
    less = replace(lines[at], packs=lines[at].packs - line.packs, units=lines[at].units - line.units)
    rest = (less,) if less.packs > 0 or less.units > 0 else ()
    return (*lines[:at], *rest, *lines[at + 1 :])


def _arrival(scanned: Scanned, packs: Sequence[int]) -> Arrival:
    label, item = scanned.label, scanned.item
    if label is None and len({lot.item_id for lot in scanned.lots}) == 1:  # a number typed by hand
        lot = scanned.lots[0]
        return Arrival(item=lot.item_code, lot=lot.number, use_by=UseBy(lot.use_by_read, lot.use_by), units=1)
    if item is None or label is None:
        raise BadInput("This label names no item of the practice.", "Scan the article's code first, or type the line.")
    pack = item.units in packs
    return Arrival(
        item=item.code, lot=scanned.lot_number, use_by=scanned.use_by, packs=int(pack), units=0 if pack else item.units,
        pack_of=item.units if pack and len(packs) > 1 else None, made_on=label.made_on,
    )  # fmt: skip


def _key(line: Arrival) -> tuple[object, ...]:
    packs = line.pack_of if line.packs else None
    return (line.item, line.lot, line.use_by.day if line.use_by else None, bool(line.packs), packs)


def read_on(filling: Filling, scanned: Scanned, *, confirmed: bool = False) -> Filling:
    """A package was scanned while a visit is booked out: every line of its article came from that lot.

    Args:
        filling: the form so far.
        scanned: the label, or a lot number.
        confirmed: somebody said yes to a lot that should not have been used.

    Raises:
        NotFound: no such lot stands in a usable place, or no line takes its article.
        NeedsConfirmation: the lot is past its date, on hold or recalled. The record will show it, with a reason.
    """
    fitting = [lot for lot in filling.lots if _points_at(scanned, lot)]
    if not fitting:
        raise NotFound(_not_there(scanned), "Check the number, or receive it.")
    read = scanned.label is None or bool(scanned.lot_number) or not (scanned.item and scanned.item.has_lots)
    if not read and scanned.item and scanned.item.kind is not ItemKind.TRAY:
        raise BadInput("This code names no lot.", "Scan the package's other code, or type the lot's number.")
    filling = _with_its_tray(filling, fitting[0])
    if not read:
        return filling  # the size is known now, its lot is still assumed
    changed, taken = filling, False
    for line in filling.lines:
        same = [lot for lot in fitting if line.article and lot.item_id == line.article.item_id]
        if not same or line.dropped or (line.confirmed and line.lot not in same):
            continue
        lot = line.lot if line.lot in same else same[0]
        if lot is not None:
            if lot.late and not confirmed:
                raise _late_lot(lot)
            changed, taken = filling_in.choose_lot(changed, line.key, lot.holding_id), True
    if not taken:
        raise _no_line(filling, fitting[0])
    return changed


def _with_its_tray(filling: Filling, lot: LotChoice) -> Filling:
    """The form with the scanned tray as the one that fitted, where it had another size."""
    tray = next((tray for tray in filling.trays if tray.item_id == lot.item_id), None)
    taken = any(line.article and line.article.item_id == lot.item_id and not line.dropped for line in filling.lines)
    if tray is None or taken or tray.arch is None or tray.tray_size is None:
        return filling
    return filling_in.choose_tray(filling, tray.arch, tray.tray_size)


def _late_lot(lot: LotChoice) -> NeedsConfirmation:
    late = LATE[lot.late] if lot.late else ""
    return NeedsConfirmation(
        f"{lot.item}, lot {lot.lot_number}, is {late}. Such material is not used.",
        "Choose it only if it really was used: the record will show it, with your reason.",
    )


def _no_line(filling: Filling, lot: LotChoice) -> BadInput:
    if any(line.article and line.article.item_id == lot.item_id and line.confirmed for line in filling.lines):
        return BadInput(
            f"Every line of {lot.item} has a lot that was read before.",
            "Choose the lot on its line, or enter what came from a second one.",
        )
    return NotFound(f"No line of this form takes {lot.item}.", "Choose the lot on its line, or add a line.")


def _points_at(scanned: Scanned, lot: LotChoice) -> bool:
    if scanned.label is None:
        return lot.lot_number.casefold() == scanned.lot_number.casefold()
    of_item = scanned.item is None or lot.item_id == scanned.item.item_id
    of_number = not scanned.lot_number or lot.lot_number.casefold() == scanned.lot_number.casefold()
    return of_item and of_number and bool(scanned.item or scanned.lot_number) and _same_date(scanned.label, lot.use_by)


def _not_there(scanned: Scanned) -> str:
    if scanned.unknown:
        return "Nobody has said yet which item this label stands for."
    of_item = f" of {scanned.item.name}" if scanned.item else ""
    number = f"Lot {scanned.lot_number!r}{of_item}" if scanned.lot_number else f"Nothing{of_item}"
    return f"{number} is not in an operatory or the store room." if scanned.lot_number else f"{number} is there."


__all__ = [
    "Package", "Scanned", "ScannedItem", "ScannedLot", "count_in", "find", "packages", "read_on", "remember_article",
]  # fmt: skip
