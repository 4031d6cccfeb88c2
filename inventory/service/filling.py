"""A form while it is filled in: what the form proposed, what a person said, and what follows from both, line by line.

Only what was said is kept (`Edit`). The lines are computed from it in the form's order, as a colleague at the shelf
would go through them, cartridge in hand: each line takes from its lot, units freshly opened serve the lines after it,
and what is left in each unit at the end is known.
"""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field, replace
from datetime import date, time

from inventory.domain.quantity import show
from inventory.domain.vocabulary import Arch, BaseUnit, ItemKind, LateReason, Viscosity
from inventory.errors import NotFound
from inventory.service.booking import FoundLot
from inventory.service.laying_out import Form, FormLine, LotChoice

_KINDS = {
    ItemKind.IMPRESSION: "impression material",
    ItemKind.BITE: "bite registration material",
    ItemKind.TRAY: "a tray",
    ItemKind.TIP: "a mixing tip",
    ItemKind.ACCESSORY: "an accessory",
}

Retakes = tuple[tuple[str, Arch | None], ...]


@dataclass(frozen=True, slots=True)
class Article:
    """An item that a line could take; a tray has an arch and a size."""

    item_id: int
    code: str
    name: str
    kind: ItemKind
    base: BaseUnit
    unit_qty: int
    unit_name: str
    family: str
    reusable: bool
    arch: Arch | None
    tray_line: str | None
    tray_size: str | None
    viscosity: Viscosity | None = None


@dataclass(frozen=True, slots=True)
class Edit:
    """What a person said about one line; None where the form's own stands."""

    qty: int | None = None
    holding_id: int | None = None
    found: FoundLot | None = None
    confirmed: bool = False
    dropped: bool = False


@dataclass(frozen=True, slots=True)
class Tried:
    """A tray that was in the mouth and did not fit."""

    arch: Arch
    article: Article
    lot: LotChoice | None


@dataclass(frozen=True, slots=True)
class Line:
    """One line as it stands now; quantities in base units of its article.

    Attributes:
        key: names the line in every function here.
        form: what the form proposed.
        article: what is taken; None where none is known yet.
        qty: what left the stock, tip volume and purge included.
        purge_qty: the part of it that stayed in the tip or was purged.
        lot: where it comes from; None where nothing usable is known, or the lot is not in the book.
        fresh: 1, 2 ... numbers the units that this visit opens of one sealed lot; 0 where none is opened.
        found: a lot that is not in the book.
        confirmed: somebody read or scanned the lot, else it is assumed.
        dropped: was not done.
        left: what its unit (or the stack of pieces) holds after all lines, below nothing where the book has less.
    """

    key: str
    form: FormLine
    article: Article | None
    qty: int
    purge_qty: int
    lot: LotChoice | None = None
    fresh: int = 0
    found: FoundLot | None = None
    confirmed: bool = False
    dropped: bool = False
    left: int | None = None

    @property
    def is_tray(self) -> bool:
        return self.form.kind is ItemKind.TRAY

    @property
    def base(self) -> BaseUnit:
        return self.article.base if self.article else self.form.base

    @property
    def unit_qty(self) -> int:
        return self.lot.unit_qty if self.lot else self.article.unit_qty if self.article else self.form.unit_qty

    @property
    def lot_number(self) -> str:
        """The lot's number, empty where none is chosen."""
        return self.lot.lot_number if self.lot else self.found.number if self.found else ""

    @property
    def unit_name(self) -> str:
        return self.article.unit_name if self.article else self.form.unit_name

    @property
    def unresolved(self) -> bool:
        """Somebody has to say which lot it was, or that it was not done."""
        return not self.dropped and self.qty > 0 and self.lot is None and self.found is None

    @property
    def name(self) -> str:
        """Step, arch and attempt in words."""
        arch = {Arch.MAXILLARY: " upper", Arch.MANDIBULAR: " lower"}.get(self.form.arch, "") if self.form.arch else ""
        again = f", attempt {self.form.attempt}" if self.form.attempt > 1 else ""
        return f"{self.form.step_name or self.form.step}{arch}{again}"


@dataclass(frozen=True, slots=True)
class Filling:
    """A form while it is filled in.

    Attributes:
        form: as last asked for.
        articles: everything in the catalogue, by number.
        lots: every lot in usable places in issue order, those that should not be used last.
        ranks: by need, its articles: the practice's own first, then its substitutes.
        wanted: by need, the kind of material it takes, and its viscosity where it has one.
        trays: the trays that this visit could take.
        edits: what was said, by line.
        further: lines that somebody added.
        tried: trays tried in vain.
        retakes: steps taken again.
        on: the day it happened; None: today.
        at: the time of that day, where somebody said it.
        lines: as they stand now.
    """

    form: Form
    articles: Mapping[int, Article]
    lots: tuple[LotChoice, ...]
    ranks: Mapping[int, tuple[int, ...]]
    trays: tuple[Article, ...]
    edits: Mapping[str, Edit] = field(default_factory=dict)
    further: tuple[FormLine, ...] = ()
    tried: tuple[Tried, ...] = ()
    retakes: tuple[tuple[str, Arch | None], ...] = ()
    on: date | None = None
    at: time | None = None
    wanted: Mapping[int, tuple[ItemKind, Viscosity | None]] = field(default_factory=dict)
    lines: tuple[Line, ...] = field(init=False)

    def __post_init__(self) -> None:
        object.__setattr__(self, "lines", _settled(self))

    def line(self, key: str) -> Line:
        """The line of this key.

        Raises:
            NotFound: the form has none.
        """
        for line in self.lines:
            if line.key == key:
                return line
        raise NotFound(f"The form has no line {key!r}.", "Choose one of its lines.")

    def lot(self, holding_id: int) -> LotChoice:
        """The lot of a stock number.

        Raises:
            NotFound: nothing usable stands under it.
        """
        for lot in self.lots:
            if lot.holding_id == holding_id:
                return lot
        raise NotFound(f"Stock {holding_id} is not in an operatory or the store room.", "Choose another lot.")

    @property
    def dirty(self) -> bool:
        """Somebody has said something that would be lost."""
        return bool(self.edits or self.further or self.tried or self.retakes)


# what is still to be said, and what is unusual


def open_questions(filling: Filling) -> tuple[str, ...]:
    """What has to be said before it can be booked, in words."""
    return tuple(
        f"{line.name}: its size is not said." if line.is_tray and line.article is None
        else f"{line.name}: {line.form.item}: no lot is chosen."
        for line in filling.lines
        if line.unresolved
    )  # fmt: skip


def doubts(filling: Filling) -> tuple[str, ...]:
    """What can be booked but is unusual, in words."""
    return (
        *_late(filling), *_unlike(filling), *_overdrawn(filling), *_out_of_turn(filling), *_families(filling),
    )  # fmt: skip


def _active(filling: Filling) -> Iterator[Line]:
    return (line for line in filling.lines if not line.dropped and line.qty > 0)


def _late(filling: Filling) -> Iterator[str]:
    words = {
        LateReason.EXPIRED: "past its last day of use",
        LateReason.HELD: "on hold",
        LateReason.RECALLED: "recalled",
    }
    lots = {line.lot for line in _active(filling)} | {one.lot for one in filling.tried}
    for lot in sorted((lot for lot in lots if lot and lot.late), key=lambda lot: lot.holding_id):
        yield f"{lot.item}, lot {lot.lot_number}: {words[lot.late or LateReason.EXPIRED]}. Such material is not used."


def _unlike(filling: Filling) -> Iterator[str]:
    """Materials of another kind or viscosity than their step takes."""
    for line in _active(filling):
        if line.article is None or line.article.item_id in filling.ranks.get(line.form.need_id, ()):
            continue
        wanted = filling.wanted.get(line.form.need_id)
        if wanted is None or "/main/" not in line.key:
            continue
        used, takes = _material(line.article.kind, line.article.viscosity), _material(*wanted)
        if used != takes:
            yield f"{line.name}: {line.article.name} is {used}; this step takes {takes}."


def _material(kind: ItemKind, viscosity: Viscosity | None) -> str:
    """What a material is, in words."""
    if viscosity is None or kind is not ItemKind.IMPRESSION:
        return _KINDS[kind]
    return "putty" if viscosity is Viscosity.PUTTY else f"{viscosity.name.lower()} body"


def _overdrawn(filling: Filling) -> Iterator[str]:
    said: list[str] = []
    for line in _active(filling):
        if line.found is not None:
            said.append(f"{line.name}: lot {line.found.number} is not in the book; it will be recorded as found.")
        elif line.left is not None and line.left < 0:
            said.append(f"Lot {line.lot_number}: {show(-line.left, line.base)} more than the book has there.")
        elif line.lot is not None and line.fresh * line.unit_qty > line.lot.on_hand:
            said.append(f"Lot {line.lot_number}: one {line.unit_name} more than the book has there.")
    yield from dict.fromkeys(said)


def _out_of_turn(filling: Filling) -> Iterator[str]:
    places = {lot.holding_id: place for place, lot in enumerate(filling.lots)}
    for line in _active(filling):
        first = next((lot for lot in filling.lots if lot.holding_id == line.form.holding_id), None)
        if first is None or line.lot is None or line.lot.item_id != first.item_id or not _gives(first, line.qty):
            continue
        if places[first.holding_id] < places[line.lot.holding_id] and line.key in filling.edits:
            yield f"{line.name}: lot {first.lot_number} of {first.item} should go first."


def _gives(lot: LotChoice, qty: int) -> bool:
    """Whether one unit of a lot can give an amount."""
    whole = lot.opened_on is None and lot.base is not BaseUnit.PIECE
    return (min(lot.on_hand, lot.unit_qty) if whole else lot.on_hand) >= qty


def _families(filling: Filling) -> Iterator[str]:
    families = {
        line.article.family: line.article.name
        for line in _active(filling)
        if line.article and line.article.family and line.article.kind is ItemKind.IMPRESSION
    }
    if len(families) > 1:
        named = ", ".join(f"{name} ({family})" for family, name in families.items())
        yield f"Materials of different families in one case: {named}."


# how the lines follow from what was said

_Unit = tuple[int | str, int]  # a holding's number or a found lot's, and which freshly opened unit of it (0: none)


def _settled(filling: Filling) -> tuple[Line, ...]:
    shelf = _Shelf(filling.lots)
    by_holding = {lot.holding_id: lot for lot in filling.lots}
    lines = []
    for row in _in_order(filling):
        edit = filling.edits.get(row.key, Edit())
        line = _stated(row, edit, filling.articles, by_holding)
        lines.append(shelf.serve(line, chosen=edit.holding_id is not None))
    return tuple(shelf.with_left(line) for line in lines)


def _in_order(filling: Filling) -> Iterator[FormLine]:
    """The form's lines, each followed by the lines that finish its load from another lot; then what was added."""
    waiting = list(filling.further)
    for row in filling.form.lines:
        yield row
        for added in [one for one in waiting if one.key.startswith(f"{row.key}/")]:
            waiting.remove(added)
            yield added
    yield from waiting


def _stated(row: FormLine, edit: Edit, articles: Mapping[int, Article], lots: Mapping[int, LotChoice]) -> Line:
    """A line as it was said to be, before it takes from a unit."""
    holding_id = edit.holding_id if edit.holding_id is not None else row.holding_id
    lot = None if edit.found or holding_id is None else lots.get(holding_id)
    item_id = lot.item_id if lot else row.item_id
    qty = row.qty if edit.qty is None else edit.qty
    return Line(
        key=row.key, form=row, article=articles.get(item_id) if item_id is not None else None, qty=qty,
        purge_qty=min(row.purge_qty, qty), lot=lot, found=edit.found, confirmed=edit.confirmed, dropped=edit.dropped,
    )  # fmt: skip


class _Shelf:
    """The units that the lines draw from, as they empty."""

    def __init__(self, lots: tuple[LotChoice, ...]) -> None:
        self._lots = lots
        self._left: dict[_Unit, int] = {}

    def serve(self, line: Line, *, chosen: bool) -> Line:
        """The line with the unit it takes from; a lot that nobody chose gives way where it can't give the amount."""
        if line.dropped or line.qty == 0:
            return line
        if line.found is not None:
            pieces = line.base is BaseUnit.PIECE
            unit = 0 if pieces else self._fresh(line.found.number, line.unit_qty, line.qty)
            return self._take(line, (line.found.number, unit))
        if line.lot is None:
            return line
        others = () if chosen else tuple(lot for lot in self._lots if lot.item_id == line.lot.item_id and not lot.late)
        for lot in (line.lot, *others):
            fresh = self._room(lot, line.qty)
            if fresh is not None:
                return self._take(replace(line, lot=lot), (lot.holding_id, fresh))
        return self._take(line, (line.lot.holding_id, self._overdrawn(line.lot, line.qty)))

    def with_left(self, line: Line) -> Line:
        """The line with what its unit holds at the end; of a lot nothing was taken from, what it holds now."""
        if line.dropped or (line.lot is None and line.found is None):
            return line
        if line.lot is None:
            return replace(line, left=self._left.get((line.lot_number, line.fresh), line.unit_qty))
        fresh = line.fresh or int(_opens(line.lot))
        full = line.unit_qty if fresh else line.lot.on_hand
        return replace(line, left=self._left.get((line.lot.holding_id, fresh), full))

    def _take(self, line: Line, unit: _Unit) -> Line:
        full = line.unit_qty if unit[1] else line.lot.on_hand if line.lot else line.qty
        self._left[unit] = self._left.get(unit, full) - line.qty
        return replace(line, fresh=unit[1])

    def _room(self, lot: LotChoice, qty: int) -> int | None:
        """Which unit of a holding can give an amount: 0 the opened one or the pieces, 1, 2 ... a freshly opened one."""
        if not _opens(lot):
            return 0 if self._left.get((lot.holding_id, 0), lot.on_hand) >= qty else None
        fresh = self._fresh(lot.holding_id, lot.unit_qty, qty)
        return fresh if fresh * lot.unit_qty <= lot.on_hand and qty <= lot.unit_qty else None

    def _overdrawn(self, lot: LotChoice, qty: int) -> int:
        return self._fresh(lot.holding_id, lot.unit_qty, qty) if _opens(lot) else 0

    def _fresh(self, source: int | str, unit_qty: int, qty: int) -> int:
        """The first freshly opened unit with enough left, else the next one."""
        number = 1
        while self._left.get((source, number), unit_qty) < qty and (source, number) in self._left:
            number += 1
        return number


def _opens(lot: LotChoice) -> bool:
    """Whether taking from a lot opens a sealed unit of it."""
    return lot.opened_on is None and lot.base is not BaseUnit.PIECE
