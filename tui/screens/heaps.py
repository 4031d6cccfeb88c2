"""The lines of a lot list: each sealed stack and each opened unit of a lot at a place is a heap of its own."""

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date

from inventory.domain.quantity import show
from inventory.domain.stock_lines import StockState
from inventory.domain.vocabulary import BaseUnit
from inventory.domain.words import item_and_lot
from inventory.service.stock_views import LotLine, Lots
from tui import text as shown
from tui.theme import Status

STATES = {
    StockState.RECALLED: Status.BLOCKED,
    StockState.HELD: Status.BLOCKED,
    StockState.EXPIRED: Status.BLOCKED,
    StockState.SOON: Status.WATCH,
    StockState.NOT_READ: Status.UNKNOWN,
    StockState.IN_DATE: Status.OK,
    StockState.NONE_STATED: Status.OK,
}


@dataclass(frozen=True)
class Heap:
    """One sealed stack or one opened unit of a lot at a place; ``qty`` in base units."""

    holding_id: int
    lot: LotLine
    qty: int
    opened_on: date | None
    last_day: date | None
    state: StockState

    @property
    def sealed(self) -> bool:
        return self.opened_on is None

    @property
    def units(self) -> int:
        """Whole units in a sealed stack."""
        return self.qty // self.lot.unit_qty

    @property
    def amount(self) -> str:
        """What is there, as people read it."""
        if self.lot.base is BaseUnit.PIECE and self.lot.unit_qty == 1:
            return show(self.qty, self.lot.base)
        if self.sealed:
            return shown.count(self.units, self.lot.unit_name)
        return f"opened, {show(self.qty, self.lot.base)}"

    @property
    def words(self) -> str:
        """What it is, in one line for forms and dialogs."""
        return f"{item_and_lot(self.lot.item_name, self.lot.lot_number)}, {self.lot.place}: {self.amount}"


def heaps(seen: Lots) -> Iterator[Heap]:
    """All heaps, lots in their order, opened units before sealed ones as they are used."""
    for lot in seen.lines:
        for unit in lot.opened:
            yield Heap(unit.holding_id, lot, unit.qty, unit.opened_on, unit.last_day, unit.state)
        if lot.sealed_id is not None and lot.sealed_state is not None:
            yield Heap(lot.sealed_id, lot, lot.sealed_units * lot.unit_qty, None, lot.use_by, lot.sealed_state)
