"""The first catalogue of a new practice: what it works with, chosen from a list of common articles."""

from textual.app import ComposeResult
from textual.binding import Binding
from textual.content import Content
from textual.widgets import Static

from inventory.service import starting
from inventory.service.starting import Started, StartItem
from tui import text as shown
from tui import workers
from tui.dialogs.save import SaveDialog
from tui.screens.base import StepScreen
from tui.theme import Status
from tui.widgets.table import Column, ListTable, Row

TOLD = (
    "Choose what your practice works with: Enter marks a line. A tray of each of your sizes is added too. Names and "
    "all the rest can be changed afterwards, and more items added, typed or from a file."
)


class StarterScreen(StepScreen[Started]):
    """The list to choose from; answers what was taken in."""

    title_text = "Begin the catalogue"
    on_enter = "Mark the line, or take the mark away"
    cautions = ("The names are plain words of the trade: give each item the name on your own package later.",)
    BINDINGS = [
        Binding("space", "mark", "Mark"),
        Binding("a", "mark_all", "All or none"),
        Binding("f2,ctrl+s", "save", "Take in"),
        Binding("escape", "leave", "Not now"),
    ]

    def __init__(self) -> None:
        super().__init__()
        self._items: tuple[StartItem, ...] = ()
        self._marked: set[str] = set()

    @property
    def dirty(self) -> bool:
        """Whether something was marked and not taken in."""
        return bool(self._marked)

    def body(self) -> ComposeResult:
        yield Static("Begin the catalogue", classes="heading")
        yield Static(shown.muted(TOLD), id="told")
        yield ListTable(
            [Column("", most=8), Column("Item", grow=True, least=24), Column("Kind", most=14), Column("Unit", most=20)],
            empty="◦ Reading the list …",
        )

    def on_mount(self) -> None:
        self.query_one(ListTable).focus()

    def read(self) -> None:
        workers.run(self, starting.choice, self._show, name="choice", latest=True)

    def _show(self, items: tuple[StartItem, ...]) -> None:
        self._items = items
        self._draw()

    def _draw(self) -> None:
        self.query_one(ListTable).replace_rows(
            Row(
                item.code,
                (
                    shown.status(Status.OK, "take") if item.code in self._marked else shown.muted("-"),
                    item.name,
                    item.kind.value,
                    item.unit,
                ),
            )
            for item in self._items
        )

    def on_list_table_chosen(self, event: ListTable.Chosen) -> None:
        self._marked ^= {event.key}
        self._draw()

    def action_mark(self) -> None:
        code = self.query_one(ListTable).current
        if code is not None:
            self._marked ^= {code}
            self._draw()

    def action_mark_all(self) -> None:
        """Mark every line, or none where all are marked."""
        codes = {item.code for item in self._items}
        self._marked = set() if self._marked == codes else codes
        self._draw()

    def action_save(self) -> None:
        names = [item.name for item in self._items if item.code in self._marked]
        parts = [
            shown.plain("\n".join(names) or "No material is marked."),
            Content("A tray of each of your sizes is added too."),
        ]

        def answered(yes: bool | None) -> None:
            if yes:
                self.signed(self._take_in)

        self.app.push_screen(SaveDialog("Take these in?", parts, yes="Take in"), answered)

    def _take_in(self, by: str) -> None:
        practice, codes = self.practice, frozenset(self._marked)
        workers.run(
            self,
            lambda: starting.take_in(practice, codes, by=by),
            self._taken,
            name="take in",
            busy="Taking in the catalogue",
        )

    def _taken(self, started: Started) -> None:
        told = [f"{shown.count(started.items, 'item')} in the catalogue, {started.trays} of them trays."]
        self.notify("\n".join([*told, *started.warnings[:2]]), title="Catalogue begun", markup=False)
        self.dismiss(started)
