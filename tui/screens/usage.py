"""Use and waste of a period: a chart of what became of the stock, the items below it, and what visits cost."""

from datetime import date
from pathlib import Path

from textual.app import ComposeResult
from textual.binding import Binding
from textual.containers import Vertical
from textual.content import Content
from textual.widgets import Static

from inventory.domain.quantity import show
from inventory.domain.usage import PERIODS, ItemUse, KindCost, Usage, period
from inventory.errors import BadInput
from inventory.service import usage
from tui import text as shown
from tui import usage_chart as chart
from tui import usage_words as words
from tui import workers
from tui.dialogs.ask import AskDialog
from tui.dialogs.choose import ChooseDialog
from tui.dialogs.reading import ReadingDialog
from tui.screens.base import StepScreen
from tui.widgets.fields import date_field, text_field
from tui.widgets.table import Column, ListTable, Row

OTHER = "other days"
ALL = "all"
ITEMS = [
    Column("Item", grow=True, least=18, most=44, first=True),
    Column("Used", right=True, most=14),
    Column("Wasted", right=True, most=14),
    Column("Money", right=True, most=12),
    Column("Share", right=True, most=8),
]
KINDS = [
    Column("Kind of visit", grow=True, least=18, most=56, first=True),
    Column("Visits", right=True),
    Column("Mean", right=True, most=10),
    Column("Deviation", right=True, most=10),
    Column("Lowest", right=True, most=10, spare=1),
    Column("Highest", right=True, most=10, spare=1),
    Column("In all", right=True, most=12),
]


class UsageScreen(StepScreen[None]):
    """The report; the chart is about the line under the cursor."""

    title_text = "Use and waste"
    on_enter = "The line in words"
    cautions = (
        "Every change of stock stands under one heading; what was undone cancels itself.",
        "Money is what was last paid for each lot, else today's price; what has neither is told, and not in the sums.",
    )
    BINDINGS = [
        Binding("p", "period", "Period"),
        Binding("v", "visits", "Items or visits"),
        Binding("w", "words", "In words"),
        Binding("c", "csv", "CSV files"),
        Binding("a", "read_again", "Read again", show=False),
        Binding("escape", "leave", "Back"),
    ]

    def __init__(self) -> None:
        super().__init__()
        self._word, self._days = "this month", None
        self._found: Usage | None = None

    _days: tuple[date, date] | None

    def body(self) -> ComposeResult:
        yield Static(shown.muted("◦ looking through the book …"), id="summary")
        with Vertical(classes="panel", id="chart-panel"):
            yield Static(id="chart")
        yield ListTable(ITEMS, empty="", id="items")
        yield ListTable(KINDS, empty="No visit was booked out in this period.", id="kinds")

    def on_mount(self) -> None:
        self.query_one("#kinds").display = False
        self.query_one("#items").focus()

    @property
    def period(self) -> tuple[date, date]:
        """First and last day of what is looked at."""
        return self._days or period(self._word, self.work.today)

    def read(self) -> None:
        practice, (since, until) = self.practice, self.period
        workers.run(
            self, lambda: usage.usage(practice, since, until), self._show, name="usage", latest=True,
            busy="Looking through the book",
        )  # fmt: skip

    def action_read_again(self) -> None:
        self.read()

    def _show(self, found: Usage) -> None:
        self._found = found
        since, until = (shown.day(day, self.work.formats) for day in (found.since, found.until))
        gone = found.cents.used + found.cents.wasted
        told = f"{since} to {until}: {found.currency} {shown.money(gone)} went"
        share = f", {words.percent(found.cents.used, gone)} at a first attempt" if gone > 0 else ""
        self.query_one("#summary", Static).update(shown.plain(told + share))
        items = self.query_one("#items", ListTable)
        items.empty = "Nothing moved in this period."
        rows: list[Row[str | int]] = [Row(item.item_id, _item_cells(item)) for item in found.items]
        whole = Row(ALL, ("All items", "", "", shown.money(gone), _wasted(found.cents.wasted, gone)))
        items.replace_rows([whole, *rows] if rows else [])
        self.query_one("#kinds", ListTable).replace_rows(Row(each.case_kind, _kind_cells(each)) for each in found.kinds)
        self._draw()

    def on_list_table_moved(self, event: ListTable.Moved) -> None:
        event.stop()
        self._draw()

    def on_resize(self) -> None:
        self.call_after_refresh(self._draw)

    @property
    def _of_visits(self) -> bool:
        return bool(self.query_one("#kinds").display)

    @property
    def _item(self) -> ItemUse | None:
        """The item under the cursor; None on the line of all of them."""
        key = self.query_one("#items", ListTable).current
        return next((one for one in self._found.items if one.item_id == key), None) if self._found else None

    @property
    def _kind(self) -> KindCost | None:
        key = self.query_one("#kinds", ListTable).current
        return next((one for one in self._found.kinds if one.case_kind == key), None) if self._found else None

    def _draw(self) -> None:
        """Draw the chart of the present line, as wide as there is room."""
        if self._found is None:
            return
        panel, canvas = self.query_one("#chart-panel"), self.query_one("#chart", Static)
        room = max(canvas.content_size.width, 40)
        if self._of_visits:
            panel.border_title = f"Materials of a visit, {self._found.currency}: lowest, mean, highest"
            lines = list(chart.of_kinds(self._found.kinds, room))
        else:
            item = self._item
            when = "these days" if self._days else self._word
            panel.border_title = shown.clean(item.name if item else f"All items, {when}, in money")
            lines = list(chart.drawn(chart.of_item(item) if item else chart.of_items(self._found), room))
        drawn = [Content.assemble(shown.clean(label), (bar, "$primary"), figures) for label, bar, figures in lines]
        canvas.update(Content("\n").join(drawn))

    # Deeds

    def on_list_table_chosen(self, event: ListTable.Chosen) -> None:
        event.stop()
        if self._found is None:
            return
        item, kind = self._item, self._kind
        if self._of_visits and kind is not None:
            self._tell(kind.name, [words.kind(kind)])
        elif item is not None:
            self._tell(item.name, [words.item(item)])
        else:
            self._tell("All items", list(words.summary(self._found)))

    def action_words(self) -> None:
        """The whole report as sentences, for whoever does not read a chart."""
        if self._found is not None:
            found = self._found
            lines = [*words.summary(found), *map(words.item, found.items), *map(words.kind, found.kinds)]
            self._tell(words.title(found), [*lines, words.beside(found)])

    def _tell(self, heading: str, lines: list[str]) -> None:
        self.app.push_screen(ReadingDialog(heading, [shown.plain(line) for line in lines]))

    def action_visits(self) -> None:
        """Turn between the items and the kinds of visits."""
        items, kinds = self.query_one("#items"), self.query_one("#kinds")
        items.display, kinds.display = kinds.display, items.display
        (kinds if kinds.display else items).focus()
        self._draw()

    def action_period(self) -> None:
        """Look at another period."""

        def chosen(word: str | None) -> None:
            if word == OTHER:
                self._ask_days()
            elif word is not None:
                self._word, self._days = word, None
                self.read()

        today = self.work.today
        days = {word: " to ".join(shown.day(day, self.work.formats) for day in period(word, today)) for word in PERIODS}
        choices = [(word, f"{word}, {told}") for word, told in days.items()]
        dialog = ChooseDialog("Period", [*choices, (OTHER, "other days: type them")], of=("period", "periods"))
        self.app.push_screen(dialog, chosen)

    def _ask_days(self) -> None:
        work, (since, until) = self.work, self.period
        today = work.today
        first, last = (
            date_field(label, today, on=on, order=work.order, formats=work.formats, id=label.lower().replace(" ", "-"))
            for label, on in (("First day", since), ("Last day", until))
        )

        def taken() -> tuple[date, date]:
            days = (first.value.day if first.value else since), (last.value.day if last.value else until)
            if days[1] < days[0]:
                raise BadInput(f"last day: {days[1]} is before the first one.", "Type the last day of the period.")
            return days

        def answered(days: tuple[date, date] | None) -> None:
            if days is not None:
                self._days = days
                self.read()

        self.app.push_screen(AskDialog("Period", [first, last], taken, yes="Look"), answered)

    def action_csv(self) -> None:
        """Write the items and the kinds of visits as CSV files."""
        if self._found is None:
            return
        found, folder = self._found, text_field("Folder", text=str(Path.home()), hint="where the files go", id="folder")

        def answered(path: Path | None) -> None:
            if path is not None:
                workers.run(self, lambda: _write(path, found), self._written, name="csv", busy="Writing the files")

        question = "Two files: the items, and the kinds of visits. No file is written over."
        ask = AskDialog("CSV files", [folder], lambda: Path(folder.text).expanduser(), question=question, yes="Write")
        self.app.push_screen(ask, answered)

    def _written(self, paths: list[Path]) -> None:
        self.notify(shown.clean(f"Written: {', '.join(map(str, paths))}."), markup=False, timeout=8)


def _wasted(wasted: int, whole: int) -> str:
    return f"{100 * wasted / whole:.0f} %" if whole > 0 and wasted > 0 else shown.NOTHING


def _item_cells(item: ItemUse) -> tuple[str | Content, ...]:
    qty, cents = item.qty, item.cents
    return (
        item.name, show(qty.used, item.base), show(qty.wasted, item.base), shown.money(cents.used + cents.wasted),
        _wasted(qty.wasted, qty.used + qty.wasted),
    )  # fmt: skip


def _kind_cells(kind: KindCost) -> tuple[str | Content, ...]:
    cost = kind.cost
    deviation = shown.NOTHING if cost.sd is None else shown.money(cost.sd)
    return (
        kind.name, str(cost.number), shown.money(cost.mean), deviation, shown.money(cost.lowest),
        shown.money(cost.highest), shown.money(cost.total),
    )  # fmt: skip


def _write(folder: Path, found: Usage) -> list[Path]:
    """Write the files; runs in a thread."""
    written = []
    for name, text in usage.as_csv(found).items():
        path = folder / f"use and waste {found.since} to {found.until}, {name}.csv"
        try:
            with path.open("x", encoding="utf-8", newline="") as file:
                file.write(text)
        except FileExistsError:
            raise BadInput(f"{path} is there already.", "Name another folder, or remove it first.") from None
        except OSError as wrong:
            raise BadInput(f"{path} can't be written: {wrong.strerror}.", "Name another folder.") from None
        written.append(path)
    return written
