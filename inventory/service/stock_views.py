"""What stands where, as people look at it: lot by lot and place by place, item by item, trays by arch and size.

Stock is told as it is seen, "3 + 0.4 opened", with the exact amount beside it; every stack and every opened unit has
one word for its state. Of an item everything on the shelf is in exactly one of four heaps: usable; blocked (on hold or
recalled); expired; or elsewhere, at a place from which nothing is used (reprocessing, laboratory, set aside).
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from datetime import date

from inventory.domain.quantity import show_units
from inventory.domain.stock_lines import GRAVITY, StockState, state_of, value_of
from inventory.domain.vocabulary import Arch, BaseUnit, ItemKind, PlaceRole, UseByReading, WayOfUse
from inventory.service.practice import Desk, Practice
from inventory.store.queries import history, stock, views
from inventory.store.queries.stock import Stand
from inventory.store.queries.views import Price
from inventory.store.tables import Item


@dataclass(frozen=True, slots=True)
class OpenedUnit:
    """One opened unit: what is left (base units), its last day of use, its state."""

    holding_id: int
    opened_on: date
    qty: int
    last_day: date | None
    state: StockState


@dataclass(frozen=True, slots=True)
class LotLine:
    """One lot at one place.

    Attributes:
        sealed_id: holding of the sealed stack, None where nothing sealed is left; so is ``sealed_state``.
        sealed_units, opened, qty: what is there: units, opened units, base units together.
        amount: the same as people read it, ``3 + 0.4 opened``.
        last_day: the earliest effective use-by of what is there; ``days_left`` until then (0: today is the last day).
        month_only: the label gave a month; its last day was taken.
        state: the gravest of its parts.
        usable: something of it may be used today from this place.
        why_held: reasons of the holds that are not released.
        value_cents: at what was paid for the lot, else at today's price; None where neither is known.
    """

    lot_id: int
    lot_number: str
    number_is_ours: bool
    item_id: int
    item_code: str
    item_name: str
    base: BaseUnit
    unit_qty: int
    unit_name: str
    place_id: int
    place: str
    place_role: PlaceRole
    sealed_id: int | None
    sealed_units: int
    sealed_state: StockState | None
    opened: tuple[OpenedUnit, ...]
    qty: int
    amount: str
    use_by: date | None
    use_by_read: UseByReading
    month_only: bool
    last_day: date | None
    days_left: int | None
    state: StockState
    usable: bool
    why_held: tuple[str, ...]
    first_received_on: date
    value_cents: int | None


@dataclass(frozen=True, slots=True)
class Lots:
    """Lots by item, in issue order."""

    today: date
    lines: tuple[LotLine, ...]


@dataclass(frozen=True, slots=True)
class ItemLine:
    """One item and all that is left of it; amounts in base units, ``total = usable + blocked + expired + elsewhere``.

    Attributes:
        amount: what is usable, as people read it; ``sealed_units`` and ``opened_qty`` are its parts.
        soon: of what is usable, what expires soon; ``next_last_day`` is its earliest effective use-by.
        not_read: lots on the shelf whose date nobody has read yet.
        recalled: of what is blocked, what its maker or an authority recalled.
        value_cents: of everything; ``unvalued`` base units without any known price are not in it.
    """

    item_id: int
    code: str
    name: str
    kind: ItemKind
    base: BaseUnit
    unit_qty: int
    unit_name: str
    way_of_use: WayOfUse
    active: bool
    amount: str
    sealed_units: int
    opened_qty: int
    usable: int
    blocked: int
    expired: int
    elsewhere: int
    total: int
    soon: int
    next_last_day: date | None
    lots: int
    not_read: int
    value_cents: int
    unvalued: int
    recalled: int = 0


@dataclass(frozen=True, slots=True)
class Items:
    """Every item of the catalogue, and those given up of which some is left."""

    today: date
    lines: tuple[ItemLine, ...]
    value_cents: int

    @property
    def nothing_there(self) -> bool:
        """No item has any stock: a practice that has just begun."""
        return not any(line.total for line in self.lines)


@dataclass(frozen=True, slots=True)
class TrayCell:
    """Trays of one size: how many may be used now, how many are away and where, how many must not be used."""

    size: str
    item_ids: tuple[int, ...]
    reusable: bool
    available: int = 0
    reprocessing: int = 0
    laboratory: int = 0
    set_aside: int = 0
    blocked: int = 0
    expired: int = 0
    value_cents: int = 0

    @property
    def away(self) -> int:
        """At a place from which they come back."""
        return self.reprocessing + self.laboratory


@dataclass(frozen=True, slots=True)
class TrayRow:
    """One arch of a tray line, its sizes in the practice's order."""

    arch: Arch
    cells: tuple[TrayCell, ...]


@dataclass(frozen=True, slots=True)
class TrayGrid:
    """One tray line: arch by size."""

    line: str
    rows: tuple[TrayRow, ...]


@dataclass(frozen=True, slots=True)
class Trays:
    """All tray lines of the practice."""

    today: date
    grids: tuple[TrayGrid, ...]


def lots(
    practice: Practice, *, item_id: int | None = None, lot_id: int | None = None, place: str | None = None
) -> Lots:
    """What is left, lot by lot and place by place, in issue order within each item.

    Args:
        practice: the practice.
        item_id: only this item's.
        lot_id: only this lot.
        place: only what stands at the place of this name.

    Raises:
        NotFound: no such place.
    """
    with practice.reading() as desk:
        shelf = _Shelf.read(desk, item_id=item_id, lot_id=lot_id)
        only = desk.place(place).id if place is not None else None
        groups: dict[tuple[int, int], list[_Part]] = {}
        for part in shelf.parts:
            if only is None or part.stand.place_id == only:
                groups.setdefault((part.stand.lot_id, part.stand.place_id), []).append(part)
        held = _why_held(desk, {lot for lot, _ in groups})
        lines = [_lot_line(shelf, group, held.get(lot, ())) for (lot, _), group in groups.items()]
        return Lots(desk.today, tuple(sorted(lines, key=_issue_order)))


def items(practice: Practice, *, kind: ItemKind | None = None) -> Items:
    """Every item with all that is left of it, by name."""
    with practice.reading() as desk:
        shelf = _Shelf.read(desk)
        parts: dict[int, list[_Part]] = {}
        for part in shelf.parts:
            parts.setdefault(part.stand.item_id, []).append(part)
        lines = tuple(
            _item_line(item, parts.get(number, []))
            for number, item in shelf.items.items()
            if kind is None or item.kind is kind
        )
        return Items(desk.today, lines, sum(line.value_cents for line in lines))


def trays(practice: Practice) -> Trays:
    """The trays by line, arch and size: what is available and what is away."""
    with practice.reading() as desk:
        shelf = _Shelf.read(desk, kind=ItemKind.TRAY)
        runs = views.tray_sizes(desk.session)
        for item in shelf.items.values():
            if item.tray_line and item.arch and item.tray_size:
                run = runs.setdefault((item.tray_line, item.arch), [])
                if item.tray_size not in run:  # a size given up, of which some are left, comes last
                    run.append(item.tray_size)
        rows: dict[str, list[TrayRow]] = {}
        for line, arch in sorted(runs, key=lambda key: (key[0], list(Arch).index(key[1]))):
            cells = tuple(_tray_cell(shelf, line, arch, size) for size in runs[line, arch])
            rows.setdefault(line, []).append(TrayRow(arch, cells))
        return Trays(desk.today, tuple(TrayGrid(line, tuple(of_line)) for line, of_line in rows.items()))


@dataclass(frozen=True, slots=True)
class _Part:
    """One holding, judged and valued."""

    stand: Stand
    state: StockState
    value_cents: int | None

    @property
    def usable(self) -> bool:
        return self.state.usable and self.stand.place_role.usable


@dataclass(frozen=True, slots=True)
class _Shelf:
    """Everything with something in it, with its items."""

    today: date
    items: dict[int, Item]
    parts: tuple[_Part, ...] = field(default=())

    @classmethod
    def read(
        cls, desk: Desk, *, item_id: int | None = None, lot_id: int | None = None, kind: ItemKind | None = None
    ) -> "_Shelf":
        stands = stock.stands(desk.session, None if item_id is None else [item_id], lot_id)
        known = views.items(desk.session, {stand.item_id for stand in stands})
        stands = [stand for stand in stands if kind is None or known[stand.item_id].kind is kind]
        costs = views.costs(desk.session, {stand.lot_id for stand in stands})
        prices = views.prices(desk.session, desk.today)
        warn_days = int(desk.settings["warn_days"])
        parts = tuple(
            _Part(
                stand,
                state_of(stand.last_day, stand.use_by_read, stand.blocked, desk.today, warn_days),
                _value(stand, costs.get(stand.lot_id) or prices.get(stand.item_id)),
            )
            for stand in stands
        )
        return cls(desk.today, known, parts)


def _value(stand: Stand, price: Price | None) -> int | None:
    if price is None:
        return None
    return value_of(stand.on_hand, stand.unit_qty, price.pack_cents, price.units_per_pack)


def _why_held(desk: Desk, lot_ids: Iterable[int]) -> dict[int, tuple[str, ...]]:
    found: dict[int, tuple[str, ...]] = {}
    for hold in history.open_holds(desk.session, set(lot_ids)):
        found[hold.lot_id] = (*found.get(hold.lot_id, ()), hold.reason)
    return found


def _lot_line(shelf: _Shelf, parts: Sequence[_Part], why_held: tuple[str, ...]) -> LotLine:
    stand = parts[0].stand
    item = shelf.items[stand.item_id]
    opened = tuple(
        OpenedUnit(part.stand.holding_id, part.stand.opened_on, part.stand.on_hand, part.stand.last_day, part.state)
        for part in parts
        if part.stand.opened_on is not None
    )
    sealed = next((part for part in parts if part.stand.opened_on is None), None)
    last_day = _earliest(parts)
    values = [part.value_cents for part in parts if part.value_cents is not None]
    return LotLine(
        lot_id=stand.lot_id, lot_number=stand.lot_number, number_is_ours=stand.number_is_ours, item_id=stand.item_id,
        item_code=item.code, item_name=item.name, base=item.base, unit_qty=stand.unit_qty, unit_name=item.unit_name,
        place_id=stand.place_id, place=stand.place_name, place_role=stand.place_role,
        sealed_id=sealed.stand.holding_id if sealed else None, sealed_units=_units(parts),
        sealed_state=sealed.state if sealed else None, opened=opened,
        qty=_sum(parts), amount=show_units(_units(parts), _opened_qty(parts), stand.unit_qty, item.base),
        use_by=stand.use_by, use_by_read=stand.use_by_read, month_only=stand.use_by_read is UseByReading.MONTH,
        last_day=last_day, days_left=None if last_day is None else (last_day - shelf.today).days,
        state=min((part.state for part in parts), key=GRAVITY.__getitem__),
        usable=any(part.usable for part in parts), why_held=why_held, first_received_on=stand.first_received_on,
        value_cents=sum(values) if values else None,
    )  # fmt: skip


def _issue_order(line: LotLine) -> tuple[object, ...]:
    """By item; opened before sealed, earliest effective use-by first, undated last, then the earliest received."""
    return (
        line.item_name, line.item_id, not line.usable, not line.opened, line.last_day or date.max,
        line.first_received_on, line.lot_number, line.place,
    )  # fmt: skip


def _item_line(item: Item, parts: Sequence[_Part]) -> ItemLine:
    usable = [part for part in parts if part.usable]
    blocked = [part for part in parts if part.state in (StockState.RECALLED, StockState.HELD)]
    expired = [part for part in parts if part.state is StockState.EXPIRED]
    total = _sum(parts)
    return ItemLine(
        item_id=item.id or 0, code=item.code, name=item.name, kind=item.kind, base=item.base, unit_qty=item.unit_qty,
        unit_name=item.unit_name, way_of_use=item.way_of_use, active=item.active,
        amount=show_units(_units(usable), _opened_qty(usable), item.unit_qty, item.base),
        sealed_units=_units(usable), opened_qty=_opened_qty(usable), usable=_sum(usable), blocked=_sum(blocked),
        expired=_sum(expired), elsewhere=total - _sum(usable) - _sum(blocked) - _sum(expired), total=total,
        soon=_sum([part for part in usable if part.state is StockState.SOON]), next_last_day=_earliest(usable),
        lots=len({part.stand.lot_id for part in parts}),
        not_read=len({part.stand.lot_id for part in parts if part.stand.use_by_read is UseByReading.NOT_READ}),
        value_cents=sum(part.value_cents or 0 for part in parts),
        unvalued=_sum([part for part in parts if part.value_cents is None]),
        recalled=_sum([part for part in parts if part.state is StockState.RECALLED]),
    )  # fmt: skip


def _tray_cell(shelf: _Shelf, line: str, arch: Arch, size: str) -> TrayCell:
    of_size = {
        number: item
        for number, item in shelf.items.items()
        if (item.tray_line, item.arch, item.tray_size) == (line, arch, size)
    }
    parts = [part for part in shelf.parts if part.stand.item_id in of_size]
    free = [part for part in parts if part.state.usable]

    def at(*roles: PlaceRole) -> int:
        return _sum([part for part in free if part.stand.place_role in roles])

    return TrayCell(
        size=size, item_ids=tuple(of_size), reusable=any(item.reusable for item in of_size.values()),
        available=at(PlaceRole.STORE, PlaceRole.CHAIR), reprocessing=at(PlaceRole.REPROCESSING),
        laboratory=at(PlaceRole.LABORATORY), set_aside=at(PlaceRole.SET_ASIDE),
        blocked=_sum([part for part in parts if part.state in (StockState.RECALLED, StockState.HELD)]),
        expired=_sum([part for part in parts if part.state is StockState.EXPIRED]),
        value_cents=sum(part.value_cents or 0 for part in parts),
    )  # fmt: skip


def _sum(parts: Iterable[_Part]) -> int:
    return sum(part.stand.on_hand for part in parts)


def _units(parts: Iterable[_Part]) -> int:
    return sum(part.stand.on_hand // part.stand.unit_qty for part in parts if part.stand.opened_on is None)


def _opened_qty(parts: Iterable[_Part]) -> int:
    return sum(part.stand.on_hand for part in parts if part.stand.opened_on is not None)


def _earliest(parts: Iterable[_Part]) -> date | None:
    return min((part.stand.last_day for part in parts if part.stand.last_day is not None), default=None)
