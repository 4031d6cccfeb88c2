"""History: every document, newest first, narrowed by item, lot, case or person; and undone from here, with a reason."""

from dataclasses import dataclass, field, replace

from textual.app import ComposeResult
from textual.binding import Binding
from textual.containers import Vertical
from textual.content import Content
from textual.widgets import Static

from inventory.errors import NotAllowed
from inventory.service import catalogue, stock_views, tracing, visits
from inventory.service.changes import Which
from inventory.service.practice import Practice
from inventory.service.tracing import Entry, Filter
from tui import text as shown
from tui import workers
from tui.dialogs.choose import ChooseDialog
from tui.dialogs.reading import ErrorDialog, ReadingDialog
from tui.screens.base import ModeScreen
from tui.screens.changes import ChangesScreen
from tui.screens.posted import undo
from tui.theme import Status
from tui.widgets.table import Column, ListTable, Row

PAGE = 100
MOST_CASES = 1000
EVERYTHING = "everything"


@dataclass(frozen=True)
class Narrow:
    """What the list is narrowed to: for the store, and in words."""

    which: Filter = field(default_factory=Filter)
    person: str = ""
    words: str = EVERYTHING


class HistoryScreen(ModeScreen):
    """What was posted, by whom, when and why."""

    title_text = "History"
    on_enter = "Look at all of an entry's movements"
    cautions = (
        "Nothing is ever deleted: undoing is an entry of its own, and both stay in the list.",
        "Undoing a visit gives back what it used; a cartridge that was opened stays open.",
    )
    BINDINGS = [
        Binding("u", "undo", "Undo"),
        Binding("f", "narrow", "Narrow"),
        Binding("x", "everything", "Everything"),
        Binding("o", "older", "Older"),
        Binding("c", "changes", "Changes"),
        Binding("a", "read_again", "Read again", show=False),
    ]

    def __init__(self) -> None:
        super().__init__()
        self._narrow = Narrow()
        self._entries: dict[int, Entry] = {}
        self._more = False

    def body(self) -> ComposeResult:
        yield Static("", id="shows")
        yield ListTable(
            [
                Column("No.", right=True),
                Column("Day", most=14),
                Column("By", most=6),
                Column("What", grow=True, least=30, most=90),
                Column("Lines", right=True, spare=1),
                Column("Stands", most=14),
            ],
            empty="◦ Reading the history …",
        )
        with Vertical(classes="panel", id="document") as panel:
            panel.border_title = "This entry"
            yield Static("", id="told")
            yield Static("", id="moved")

    def on_mount(self) -> None:
        self.query_one(ListTable).focus()

    def read(self) -> None:
        self._read(None)

    def _read(self, before_id: int | None) -> None:
        practice, narrow = self.practice, self._narrow
        which = replace(narrow.which, before_id=before_id)
        workers.run(
            self,
            lambda: tracing.history(practice, which, person=narrow.person, limit=PAGE),
            lambda entries: self._show(entries, older=before_id is not None),
            name="history",
            latest=True,
            busy="Reading the history",
        )

    def _show(self, entries: tuple[Entry, ...], *, older: bool) -> None:
        found = {entry.document.document_id: entry for entry in entries}
        self._entries = {**self._entries, **found} if older else found
        self._more = len(entries) == PAGE
        table = self.query_one(ListTable)
        table.empty = f"No entry here ({self._narrow.words})."
        table.replace_rows(Row(number, self._cells(entry)) for number, entry in self._entries.items())
        more = f"the newest {len(self._entries)}, o reads older ones" if self._more else "all of them"
        told = f"{self._narrow.words}: {more}" if self._entries else self._narrow.words
        self.query_one("#shows", Static).update(shown.muted(told))
        self._tell(self._entry)

    def _cells(self, entry: Entry) -> tuple[str | Content, ...]:
        document = entry.document
        if document.reverses_id is not None:
            stands = shown.muted(f"undid {document.reverses_id}")
        elif document.reversed_by_id is not None:
            stands = shown.status(Status.BLOCKED, "undone")
        else:
            stands = shown.status(Status.OK, "stands")
        return (
            str(document.document_id),
            shown.near_day(document.happened_on, self.work.today, self.work.formats),
            document.by,
            _what(entry),
            str(len(entry.lines)),
            stands,
        )

    @property
    def _entry(self) -> Entry | None:
        return self._entries.get(self.query_one(ListTable).current or 0)

    def on_list_table_moved(self, event: ListTable.Moved) -> None:
        self._tell(self._entries.get(event.key))

    def _tell(self, entry: Entry | None) -> None:
        self.query_one("#told", Static).update(shown.plain(entry.words if entry else ""))
        lines = [line.words for line in entry.lines[:2]] if entry else []
        if entry and entry.lines[2:]:
            lines[1:] = [f"and {shown.count(len(entry.lines) - 1, 'line')} more: Enter shows all"]
        self.query_one("#moved", Static).update(shown.plain("\n".join(lines), "$muted"))

    def on_list_table_chosen(self, event: ListTable.Chosen) -> None:
        entry = self._entries[event.key]
        document = entry.document
        recorded = f"recorded {shown.day(document.recorded_at.date(), self.work.formats)} {document.recorded_at:%H:%M}"
        proof = f", proof: {document.proof}" if document.proof else ""
        parts = [shown.plain(entry.words, "bold"), shown.muted(f"{recorded} UTC{proof}")]
        parts += [shown.plain(line.words) for line in entry.lines]
        self.app.push_screen(ReadingDialog(f"Entry {document.document_id}", parts))

    # undoing

    def action_undo(self) -> None:
        """Undo the document under the cursor, with a reason."""
        entry = self._entry
        if entry is None:
            return
        if not entry.document.stands:
            said = NotAllowed("This entry was undone, or undoes another one.", "Choose one that stands.")
            self.app.push_screen(ErrorDialog.of(said))
            return
        undo(
            self, entry.document.document_id, "\n".join([entry.words, *(line.words for line in entry.lines)]), self.read
        )

    # narrowing

    def about(self, subject: object) -> None:
        """Show the documents of what the person came for."""
        if isinstance(subject, Narrow):
            self._show_only(subject)

    def _show_only(self, narrow: Narrow) -> None:
        self._narrow = narrow
        self.read()

    def action_everything(self) -> None:
        self._show_only(Narrow())

    def action_older(self) -> None:
        """Add the next page of older documents."""
        if self._more:
            self._read(min(self._entries))
        else:
            self.notify("There are no older ones.", markup=False)

    def action_changes(self) -> None:
        """What was changed beside the stock itself, of what the list is narrowed to."""
        which, person = self._narrow.which, self._narrow.person
        asked = Which(which.item_id, which.lot_id, which.case_ref or "", person)
        self.app.push_screen(ChangesScreen(asked, self._narrow.words))

    def action_read_again(self) -> None:
        self.read()

    def action_narrow(self) -> None:
        """Ask for an item, a lot, a case or a person, found by typing part of its name."""
        practice, people = self.practice, self.work.people
        workers.run(self, lambda: _choices(practice, people), self._ask, name="narrow")

    def _ask(self, choices: list[Narrow]) -> None:
        def chosen(narrow: Narrow | None) -> None:
            if narrow is not None:
                self._show_only(narrow)

        names = [(narrow, narrow.words) for narrow in [Narrow(), *choices]]
        self.app.push_screen(ChooseDialog("Show only", names, "A case, item, lot on the shelf, or person"), chosen)


def _choices(practice: Practice, people: tuple[str, ...]) -> list[Narrow]:
    """What the list can be narrowed to; runs in a thread."""
    lots = {(lot.lot_id, lot.lot_number, lot.item_name): None for lot in stock_views.lots(practice).lines}
    return [
        *(Narrow(Filter(case_ref=ref), words=f"case {ref}") for ref in visits.case_refs(practice, limit=MOST_CASES)),
        *(Narrow(Filter(item_id=item.item_id), words=f"item {item.name}") for item in catalogue.items(practice)),
        *(Narrow(Filter(lot_id=lot_id), words=f"lot {number} of {name}") for lot_id, number, name in lots),
        *(Narrow(person=initials, words=f"person {initials}") for initials in people),
    ]


def _what(entry: Entry) -> str:
    """A document in the fewest words: its verb, its case, and what it moved."""
    document = entry.document
    verb, _, _ = entry.words.partition(f" on {document.happened_on}")
    items = list(dict.fromkeys(line.line.item_name for line in entry.lines))
    more = f" and {shown.count(len(items) - 1, 'item')} more" if items[1:] else ""
    why = f" ({document.reason})" if document.reason else ""
    return f"{verb}: {items[0]}{more}{why}" if items else f"{verb}{why}"
