"""What to count how often: the items by value of use and by need, which of them are due, and why."""

from textual.app import ComposeResult
from textual.binding import Binding
from textual.content import Content
from textual.widgets import Static

from inventory.domain.quantity import show_money
from inventory.service import counting, item_classes
from inventory.service.count_shelves import Scope
from inventory.service.item_classes import ItemClass, ItemClasses
from tui import class_words as words
from tui import text as shown
from tui import workers
from tui.dialogs.confirm import ConfirmDialog, Confirmed
from tui.dialogs.reading import WhyDialog
from tui.screens import item_form
from tui.screens.base import StepScreen
from tui.screens.counting_round import CountScreen
from tui.theme import Status
from tui.widgets.table import Column, ListTable, Row


class ClassesScreen(StepScreen[None]):
    """All items in use, most value first, with their class and their counts."""

    title_text = "What to count how often"
    on_enter = "Why an item is in its class"
    cautions = (
        "A, B and C go by the value of a year's use; vital, essential and normal is the practice's own judgement.",
        "What is A or vital is counted most often. The weeks, and where the classes end, are settings.",
    )
    BINDINGS = [
        Binding("w", "why", "Why"),
        Binding("d", "due", "Only due"),
        Binding("c", "count", "Count what is due"),
        Binding("e", "change_item", "Edit item"),
        Binding("a", "read_again", "Read again", show=False),
        Binding("escape", "leave", "Back"),
    ]

    def __init__(self, *, only_due: bool = False) -> None:
        super().__init__()
        self._only_due = only_due
        self._found: ItemClasses | None = None

    def body(self) -> ComposeResult:
        yield Static(shown.muted("◦ looking through the book …"), id="summary")
        yield ListTable(
            [
                Column("Item", grow=True, least=18, most=44, first=True),
                Column("A year", right=True, most=10, spare=1),
                Column("Class", most=5),
                Column("Need", most=9),
                Column("Every", right=True, most=9),
                Column("Counted", most=10),
                Column("Next", most=24),
            ],
            empty="No item is due to be counted.",
        )

    def on_mount(self) -> None:
        self.query_one(ListTable).focus()

    def read(self) -> None:
        practice = self.practice
        workers.run(self, lambda: item_classes.item_classes(practice), self._show, name="classes", latest=True)

    def action_read_again(self) -> None:
        self.read()

    def action_due(self) -> None:
        """Turn between the items that are due and all of them."""
        self._only_due = not self._only_due
        if self._found is not None:
            self._show(self._found)

    def _show(self, found: ItemClasses) -> None:
        self.it_is(found.today)
        self._found = found
        classes = ", ".join(f"{each.items} of class {each.value}" for each in found.sums)
        said = f"{shown.count(len(found.due), 'item')} due to be counted; in use are {classes}"
        self.query_one("#summary", Static).update(shown.noted(Status.WATCH if found.due else Status.OK, said))
        lines = found.due if self._only_due else found.lines
        self.query_one(ListTable).replace_rows(Row(line.code, self._cells(line, found)) for line in lines)

    def _cells(self, line: ItemClass, found: ItemClasses) -> tuple[str | Content, ...]:
        classed, formats = line.classed, self.work.formats
        last = shown.day(line.last_counted, formats) if line.last_counted else "never"
        return (
            line.name, show_money(classed.item.cents), classed.value.value, classed.item.criticality.value,
            f"{classed.weeks} wk{' *' if classed.own else ''}", last, self._next(line, found),
        )  # fmt: skip

    def _next(self, line: ItemClass, found: ItemClasses) -> Content:
        if line.due_on is None:
            return shown.muted("none there")
        day = shown.day(line.due_on, self.work.formats)
        return shown.status(Status.WATCH, f"due {day}") if line.due(found.today) else shown.plain(f"  {day}")

    @property
    def _line(self) -> ItemClass | None:
        code = self.query_one(ListTable).current
        return next((line for line in self._found.lines if line.code == code), None) if self._found else None

    def on_list_table_chosen(self, event: ListTable.Chosen) -> None:
        event.stop()
        self.action_why()

    def action_why(self) -> None:
        """The arithmetic of the line under the cursor."""
        if (line := self._line) is not None and self._found is not None:
            note = words.line(line, self._found.today)
            self.app.push_screen(WhyDialog(f"Why: {line.name}", list(line.classed.why), note=note))

    def action_change_item(self) -> None:
        """Change how vital the item is, or its own weeks, in the item's form."""
        if (line := self._line) is not None:
            item_form.change_item(self, line.code)

    def action_count(self) -> None:
        """Begin a blind round of the items that are due."""
        due = self._found.due if self._found else ()
        if not due:
            self.notify("No item is due to be counted.", markup=False)
            return
        practice, scope = self.practice, Scope(items=tuple(line.code for line in due))

        def answered(answer: Confirmed | None) -> None:
            if answer is not None:
                self.signed(lambda by: workers.run(
                    self, lambda: counting.start(practice, scope, by=by),
                    lambda card: self.app.push_screen(CountScreen(card)), name="start",
                ))  # fmt: skip

        message = f"A round of {shown.count(len(due), 'item')}, everywhere; what the book expects is hidden."
        todo = "Nothing changes in the book before the round is approved."
        self.app.push_screen(ConfirmDialog("Count what is due?", message, todo, yes="Begin"), answered)
