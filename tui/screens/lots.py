"""The lots of one item, place by place, each sealed stack and opened unit a line, and what can be done with it."""

from textual.app import ComposeResult
from textual.binding import Binding
from textual.containers import Vertical
from textual.content import Content
from textual.widgets import Static

from inventory.service import stock_views
from inventory.service.stock_views import Lots
from tui import text as shown
from tui import workers
from tui.screens import label_sheet, lot_deeds
from tui.screens.base import CAUTION, StepScreen
from tui.screens.heaps import STATES, Heap, heaps
from tui.widgets.table import Column, ListTable, Row

MORE_KEYS = "o open a unit   z write off a rest   e amend number or date   s return   l labels   Enter its story"


class LotsScreen(StepScreen[None]):
    """Lots of one item.

    Args:
        item_id: whose.
        lot_id: where the cursor begins.
    """

    title_text = "Lots"
    on_enter = "The story of the lot: where it came from and which visits used it"
    cautions = (CAUTION, "A lot's number or date typed wrongly is amended here; what was used since stays booked.")
    BINDINGS = [
        Binding("d", "deed('discard')", "Discard"),
        Binding("h", "deed('hold')", "Hold/release"),
        Binding("m", "deed('move')", "Move"),
        Binding("c", "deed('count')", "Correct count"),
        Binding("o", "deed('open_unit')", "Open a unit", show=False),
        Binding("z", "deed('write_off')", "Write off an opened rest", show=False),
        Binding("e", "deed('amend')", "Amend number or date", show=False),
        Binding("s", "deed('send_back')", "Return to the supplier", show=False),
        Binding("l", "labels", "Shelf labels of the item, as PDF", show=False),
        Binding("escape", "leave", "Back"),
    ]

    def __init__(self, item_id: int, lot_id: int | None = None) -> None:
        super().__init__()
        self._item_id, self._lot_id = item_id, lot_id
        self._heaps: dict[int, Heap] = {}

    def body(self) -> ComposeResult:
        yield Static("", classes="heading", id="item")
        yield ListTable(
            [
                Column("Lot", most=24),
                Column("Use by", most=18),
                Column("Place", most=18),
                Column("There", most=24),
                Column("Opened", most=10, spare=2),
                Column("State", grow=True, least=14, most=60),
            ],
            empty="◦ Reading the lots …",
        )
        with Vertical(classes="panel", id="deeds") as panel:
            panel.border_title = "This line"
            yield Static("", id="said")
            yield Static(shown.muted(MORE_KEYS), id="more-keys")
        yield Static(Content(CAUTION), classes="caution")

    def on_mount(self) -> None:
        self.query_one(ListTable).focus()

    def read(self) -> None:
        practice, item_id = self.practice, self._item_id
        workers.run(self, lambda: stock_views.lots(practice, item_id=item_id), self._show, name="lots", latest=True)

    def _show(self, seen: Lots) -> None:
        self.it_is(seen.today)
        found = list(heaps(seen))
        name = found[0].lot.item_name if found else "Nothing of this item is on any shelf."
        self.query_one("#item", Static).update(shown.plain(name))
        table = self.query_one(ListTable)
        table.empty = "No lot of this item is left anywhere."
        self._heaps = {heap.holding_id: heap for heap in found}
        table.replace_rows(Row(heap.holding_id, self._cells(heap)) for heap in found)
        if self._lot_id is not None:
            wanted = next((heap for heap in found if heap.lot.lot_id == self._lot_id), None)
            if wanted is not None:
                table.select(wanted.holding_id)
            self._lot_id = None
        self._tell(self._heap)

    def _cells(self, heap: Heap) -> tuple[str | Content, ...]:
        lot = heap.lot
        number = f"{lot.lot_number} (ours)" if lot.number_is_ours else lot.lot_number
        opened = shown.day(heap.opened_on, self.work.formats) if heap.opened_on else shown.NOTHING
        return (
            number,
            shown.use_by(lot.use_by, lot.use_by_read, self.work.formats),
            lot.place,
            heap.amount,
            opened,
            shown.status(STATES[heap.state], heap.state.value),
        )

    def on_list_table_moved(self, event: ListTable.Moved) -> None:
        self._tell(self._heaps.get(event.key))

    def _tell(self, heap: Heap | None) -> None:
        if heap is None:
            self.query_one("#said", Static).update("")
            return
        last = f"last day of use {shown.day(heap.last_day, self.work.formats)}" if heap.last_day else "no last day"
        parts = [heap.words, last, *heap.lot.why_held]
        self.query_one("#said", Static).update(shown.plain(" · ".join(parts)))

    def on_list_table_chosen(self, event: ListTable.Chosen) -> None:
        lot_deeds.story(self, self._heaps[event.key])

    def action_deed(self, name: str) -> None:
        """Do what a key says with the line under the cursor."""
        if (heap := self._heap) is not None:
            lot_deeds.DEEDS[name](self, heap)

    def action_labels(self) -> None:
        """Write shelf labels of the item's lots."""
        if (heap := self._heap) is not None:
            label_sheet.write(self, heap.lot.item_code)

    @property
    def _heap(self) -> Heap | None:
        return self._heaps.get(self.query_one(ListTable).current or 0)
