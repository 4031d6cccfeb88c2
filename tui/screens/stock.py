"""Stock: every item with what is usable of it, narrowed as one types; Enter shows its lots."""

from textual.app import ComposeResult
from textual.binding import Binding
from textual.containers import HorizontalGroup
from textual.content import Content
from textual.widgets import Input, Static

from inventory.domain.alerts import Alert
from inventory.domain.quantity import show
from inventory.service import stock_views
from inventory.service.labels import ScannedLot
from inventory.service.stock_views import ItemLine, Items
from tui import text as shown
from tui import workers
from tui.screens import item_form, label_sheet
from tui.screens.base import BEGIN, CAUTION, ModeScreen
from tui.screens.classes import ClassesScreen
from tui.screens.counting import CountRoundsScreen
from tui.screens.fits import show_fits
from tui.screens.import_file import ImportScreen
from tui.screens.lots import LotsScreen
from tui.screens.notices import NoticesScreen
from tui.screens.pictures import Picture, PictureScreen
from tui.screens.places import PlacesScreen
from tui.screens.receive import ReceiveScreen
from tui.screens.starter import StarterScreen
from tui.screens.usage import UsageScreen
from tui.theme import Status
from tui.widgets.form import unsaved
from tui.widgets.safe_input import SafeInput
from tui.widgets.table import Column, ListTable, Row


class ItemsScreen(ModeScreen):
    """All items."""

    title_text = "Stock"
    on_enter = "Look at the lots of an item"
    cautions = (CAUTION, "Usable is what may be used today: in date, not on hold, in an operatory or the store room.")
    BINDINGS = [
        Binding("r", "receive", "Receive"),
        Binding("n", "new_item", "New item"),
        Binding("e", "change_item", "Edit item"),
        Binding("i", "import_file", "Import a file", show=False),
        Binding("slash", "find", "Find by part of a name or code", key_display="/", show=False),
        Binding("c", "count", "Count"),
        Binding("o", "opening_stock", "Opening stock"),
        Binding("p", "pack", "How the item is bought: supplier, pack, price", show=False),
        Binding("t", "fits", "What fits: the item's tips, adhesives or materials", show=False),
        Binding("s", "supplier", "Supplier and its terms", show=False),
        Binding("l", "labels", "Shelf labels of the item, as PDF", show=False),
        Binding("f", "pictures", "Forecast of the item, its lots and weeks as pictures", show=False),
        Binding("u", "usage", "Use and waste of a period", show=False),
        Binding("k", "classes", "What to count how often", show=False),
        Binding("b", "by_place", "By place: what stands where, topping up", show=False),
        Binding("v", "recalls", "Recall notices", show=False),
        Binding("a", "read_again", "Read again", show=False),
    ]

    def __init__(self) -> None:
        super().__init__()
        self._seen: Items | None = None

    def body(self) -> ComposeResult:
        with HorizontalGroup(id="filter"):
            yield SafeInput(placeholder="part of a name or code", id="part")
            yield Static("", id="value")
        yield Static(f"Next: {BEGIN}; then plan visits.", id="next")
        yield ListTable(
            [
                Column("Code", most=14, spare=1),
                Column("Item", grow=True, least=20, most=44),
                Column("Usable", most=20),
                Column("", right=True, most=12, spare=2),
                Column("State", grow=True, least=22, most=60),
                Column("Use by", most=10),
            ],
            empty="◦ Reading the stock …",
        )
        yield Static(Content(CAUTION), classes="caution")

    def on_mount(self) -> None:
        self.query_one("#next").display = False
        self.query_one(ListTable).focus()

    def read(self) -> None:
        practice = self.practice
        workers.run(self, lambda: stock_views.items(practice), self._show, name="items", latest=True)

    def about(self, subject: object) -> None:
        """Go on to what the person came for: an item's lots, or a delivery; what is only looked at makes way."""
        while len(self.app.screen_stack) > 1 and not unsaved(self.app.screen):
            self.app.pop_screen()
        if len(self.app.screen_stack) > 1:
            self.notify("Something is typed here and not saved yet: save it or leave it first.", markup=False)
        elif isinstance(subject, Alert | ScannedLot) and subject.item_id is not None:
            self._lots(subject.item_id, subject.lot_id)
        elif isinstance(subject, tuple):
            self._way(*subject)

    def _way(self, what: str, item_id: int | None) -> None:
        if what == "item" and item_id is not None:
            self._lots(item_id)
        elif what == "receive":
            self._receive(item_id)
        elif what == "begin":  # the first thing in a new practice: what it stocks
            self.app.push_screen(StarterScreen())

    def _lots(self, item_id: int, lot_id: int | None = None) -> None:
        self.app.push_screen(LotsScreen(item_id, lot_id))

    def _receive(self, item_id: int | None = None) -> None:
        self.app.push_screen(ReceiveScreen(item_id))

    def _show(self, seen: Items) -> None:
        self._seen = seen
        self.it_is(seen.today)
        money = f"{self.work.currency} {shown.money(seen.value_cents)}".strip()
        self.query_one("#next").display = bool(seen.lines) and seen.nothing_there
        self.query_one("#value", Static).update(shown.muted(f"worth {money}"))
        self._narrow()

    def _narrow(self) -> None:
        if self._seen is None:
            return
        part = self.query_one("#part", SafeInput).value.casefold().strip()
        lines = [line for line in self._seen.lines if part in f"{line.code} {line.name}".casefold()]
        table = self.query_one(ListTable)
        table.empty = "No item has this in its name or code." if part else "No items yet: import them or add one."
        table.replace_rows(Row(line.item_id, self._cells(line)) for line in lines)

    def _cells(self, line: ItemLine) -> tuple[str | Content, ...]:
        return (
            line.code,
            line.name,
            line.amount,
            shown.muted(show(line.usable, line.base)),
            self._state(line),
            shown.day(line.next_last_day, self.work.formats) if line.next_last_day else shown.NOTHING,
        )

    def _state(self, line: ItemLine) -> Content:
        told = [
            (Status.BLOCKED, line.expired, "expired"),
            (Status.BLOCKED, line.recalled, "recalled"),
            (Status.BLOCKED, line.blocked - line.recalled, "on hold"),
            (Status.WATCH, line.soon, "expires soon"),
            (Status.WAITING, line.elsewhere, "elsewhere"),
        ]
        parts = [(status, f"{show(qty, line.base)} {word}") for status, qty, word in told if qty]
        if line.not_read:
            parts.append((Status.UNKNOWN, f"{shown.count(line.not_read, 'date')} not read"))
        if not parts:
            return shown.status(Status.OK, "in date") if line.usable else shown.muted("none there")
        return shown.noted(parts[0][0], ", ".join(words for _, words in parts))

    def on_input_changed(self, event: Input.Changed) -> None:
        event.stop()
        self._narrow()

    def on_input_submitted(self, event: Input.Submitted) -> None:
        event.stop()
        self.query_one(ListTable).focus()

    def on_list_table_chosen(self, event: ListTable.Chosen) -> None:
        self._lots(event.key)

    def action_find(self) -> None:
        self.query_one("#part").focus()

    def action_receive(self) -> None:
        """Receive a delivery, whatever line the cursor is on."""
        self._receive()

    @property
    def _code(self) -> str | None:
        """The code of the item under the cursor."""
        item_id = self.query_one(ListTable).current
        lines = self._seen.lines if self._seen else ()
        return next((line.code for line in lines if line.item_id == item_id), None)

    def action_new_item(self) -> None:
        item_form.new_item(self)

    def action_change_item(self) -> None:
        if self._code is not None:
            item_form.change_item(self, self._code)

    def action_pack(self) -> None:
        """Say how the item under the cursor is bought."""
        if self._code is not None:
            item_form.new_pack(self, self._code)

    def action_fits(self) -> None:
        """Say which tips and adhesives go with which materials."""
        if self._code is not None:
            show_fits(self, self._code)

    def action_opening_stock(self) -> None:
        """Type in what of the item stood on the shelf when the book was begun."""
        if self._code is not None:
            item_form.opening_stock(self, self._code)

    def action_labels(self) -> None:
        """Write shelf labels of the item under the cursor."""
        if self._code is not None:
            label_sheet.write(self, self._code)

    def action_usage(self) -> None:
        """What was used and what was wasted."""
        self.app.push_screen(UsageScreen())

    def action_recalls(self) -> None:
        """All recall notices, and a new one."""
        self.app.push_screen(NoticesScreen())

    def action_count(self) -> None:
        """Count the stock, or a part of it, in a round."""
        self.app.push_screen(CountRoundsScreen())

    def action_pictures(self) -> None:
        """Look at the item under the cursor: what is ahead of its stock."""
        self.app.push_screen(PictureScreen(Picture.COURSE, self._code or ""))

    def action_classes(self) -> None:
        """Which items are counted how often, and which are due."""
        self.app.push_screen(ClassesScreen())

    def action_supplier(self) -> None:
        item_form.new_supplier(self)

    def action_import_file(self) -> None:
        self.app.push_screen(ImportScreen())

    def action_by_place(self) -> None:
        """What stands where, and topping operatories up."""
        self.app.push_screen(PlacesScreen())

    def action_read_again(self) -> None:
        self.read()
