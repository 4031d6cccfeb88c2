"""What was changed beside the stock itself: items and prices, lots and holds, visits and parcels, orders, settings."""

from textual.app import ComposeResult
from textual.binding import Binding
from textual.containers import Vertical
from textual.content import Content
from textual.widgets import Static

from inventory.service import changes
from inventory.service.changes import SUBJECTS, ChangeEntry, Which
from tui import text as shown
from tui import workers
from tui.dialogs.choose import ChooseDialog
from tui.screens.base import StepScreen
from tui.widgets.table import Column, ListTable, Row

PAGE = 200


class ChangesScreen(StepScreen[None]):
    """The log of changes, newest first.

    Args:
        which: what it is narrowed to.
        words: the same in words.
    """

    title_text = "What was changed"
    cautions = ("Old and new stay for good: nobody can change or delete a line of this log.",)
    BINDINGS = [
        Binding("f", "narrow", "Narrow"),
        Binding("escape", "leave", "Back"),
    ]

    def __init__(self, which: Which | None = None, words: str = "everything") -> None:
        super().__init__()
        self._which, self._words = which or Which(), words
        self._entries: dict[int, ChangeEntry] = {}

    def body(self) -> ComposeResult:
        yield Static("", classes="heading")
        yield ListTable(
            [
                Column("When", most=16),
                Column("By", most=6),
                Column("What was changed", grow=True, least=40, most=120),
            ],
            empty="◦ Reading the log …",
        )
        with Vertical(classes="panel", id="detail") as panel:
            panel.border_title = "This change"
            yield Static("", id="said")
        yield Static(Content(self.cautions[0]), classes="caution")

    def on_mount(self) -> None:
        self.query_one(ListTable).focus()

    def read(self) -> None:
        practice, which = self.practice, self._which
        workers.run(self, lambda: changes.changes(practice, which, limit=PAGE), self._show, name="changes", latest=True)

    def _show(self, found: tuple[ChangeEntry, ...]) -> None:
        self._entries = {one.change_id: one for one in found}
        more = f"the newest {PAGE}" if len(found) == PAGE else "all of them"
        self.query_one(".heading", Static).update(shown.plain(f"What was changed, {self._words}: {more}"))
        table = self.query_one(ListTable)
        table.empty = f"Nothing was changed here ({self._words})."
        table.replace_rows(Row(one.change_id, (f"{one.at:%Y-%m-%d %H:%M}", one.by, one.words)) for one in found)
        self._tell()

    def on_list_table_moved(self, event: ListTable.Moved) -> None:
        event.stop()
        self._tell()

    def _tell(self) -> None:
        one = self._entries.get(self.query_one(ListTable).current or 0)
        self.query_one("#said", Static).update(shown.plain(f"{one.change_id}. {one.words}" if one else ""))

    def action_narrow(self) -> None:
        """Show only what was changed of one kind of thing."""
        choices = [("", "everything"), *SUBJECTS.items()]

        def chosen(subject: str | None) -> None:
            if subject is not None:
                self._which = Which(subject=subject)
                self._words = SUBJECTS.get(subject, "everything")
                self.read()

        self.app.push_screen(ChooseDialog("Show only changes of", choices), chosen)
