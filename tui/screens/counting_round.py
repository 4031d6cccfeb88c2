"""Count shelf after shelf: type the number, Enter keeps it and goes to the next line.

Each reading is kept at once with its moment, so a round can be left and gone on with at any time. A scanned label leads
to its lot's line, and scanned again counts one more where whole ones are counted; a lot that is on no line was found.
"""

from collections import deque
from collections.abc import Callable
from dataclasses import replace
from datetime import datetime

from textual.app import ComposeResult
from textual.binding import Binding
from textual.content import Content
from textual.widgets import Static

from inventory.domain.counting import Reading, counted_qty, parse_reading
from inventory.domain.vocabulary import BaseUnit, CountMethod
from inventory.errors import BadInput, PracticeError
from inventory.service import counting
from inventory.service.count_sheet import RoundCard, Sheet, SheetLine
from inventory.service.counting import Choices
from inventory.service.labels import Scanned
from tui import text as shown
from tui import workers
from tui.screens import counting_deeds as deeds
from tui.screens.base import StepScreen
from tui.screens.counting_review import CountReviewScreen
from tui.screens.scans import Scans
from tui.theme import Status
from tui.widgets.fields import Field
from tui.widgets.table import Column, ListTable, Row

HOW = "Number, Enter: next. 4t tenths, 62.5w grams with package. Scan again: +1."


class ReadingField(Field[Reading]):
    """The field for a reading; what is wrong with it is said below, where there is room for all of it."""

    def check(self) -> bool:
        right = super().check()
        self.post_message(self.Changed(self))
        return right


class CountScreen(StepScreen[None]):
    """One round while it is counted.

    Args:
        card: which.
    """

    title_text = "Count"
    on_enter = "Keep what was typed and go to the next line"
    cautions = (
        "Count what stands there, not what should; each reading keeps its moment.",
        "Sealed: whole ones. Opened: tenths by eye (4 or 4t), or grams with the package (62.5w).",
    )
    BINDINGS = [
        Binding("up", "move(-1)", "Line above", show=False),
        Binding("down", "move(1)", "Line below", show=False),
        Binding("f2,ctrl+s", "review", "Review"),
        Binding("f3", "found", "Found"),
        Binding("f4", "take_back", "Take back"),
        Binding("f6", "next_open", "Next uncounted"),
        Binding("f7", "time", "Time"),
        Binding("escape", "leave", "Back"),
    ]

    def __init__(self, card: RoundCard) -> None:
        super().__init__()
        self.round_id, self._blind = card.round_id, card.blind
        self.at: datetime | None = None  # when it was read, where that was not now
        self.sheet: Sheet | None = None
        self._lines: dict[str, SheetLine] = {}
        self._wanted: str | None = None
        self._field_of: str | None = None
        self._keeping = False  # a reading is being kept; labels scanned meanwhile wait
        self._waiting: deque[Scanned] = deque()
        self._scans = Scans(self, self._scanned, lambda: bool(self.sheet))

    def body(self) -> ComposeResult:
        book = [] if self._blind else [Column("Book", right=True, most=9)]
        yield Static("Count", classes="heading", id="heading")
        yield ListTable(
            [
                Column("Place", most=14, spare=2),
                Column("Item", grow=True, least=20, most=44),
                Column("Lot", most=12),
                Column("Use by", most=12, spare=1),
                Column("What", most=18),
                *book,
                Column("Counted", most=16),
            ],
            empty="◦ Reading the sheet …",
        )
        yield ReadingField("Counted", self._read_typed, tell=self._told, needed=False, id="typing")
        yield Static("", id="line-said")
        yield Static(Content(HOW), classes="caution", id="how")

    def on_mount(self) -> None:
        self._typing.focus_input()

    @property
    def dirty(self) -> bool:
        """Whether a number was typed that is not kept."""
        return self._typing.dirty

    @property
    def _typing(self) -> Field[Reading]:
        return self.query_one("#typing", Field)

    @property
    def line(self) -> SheetLine | None:
        """The line under the cursor."""
        return self._lines.get(self.query_one(ListTable).current or "")

    # reading and showing

    def read(self) -> None:
        practice, number = self.practice, self.round_id
        workers.run(
            self, lambda: counting.sheet(practice, number), self.show, name="sheet", latest=True,
            failed=self.leave_with,
        )  # fmt: skip
        self._scans.go_on()

    def show(self, sheet: Sheet) -> None:
        """Show the sheet, the cursor where it was, or at the first line that was not counted."""
        first = self.sheet is None
        self.sheet, self._lines = sheet, {line.key: line for line in sheet.lines}
        table = self.query_one(ListTable)
        table.empty = "The book has nothing there. What stands there all the same: F3, or scan it."
        table.replace_rows(Row(line.key, self._cells(line)) for line in sheet.lines)
        if first:
            table.select(next((line.key for line in sheet.lines if not line.counted), ""))
        if self._wanted is not None:
            table.select(self._wanted)
            self._wanted = None
        self._to_line()
        self._scans.go_on()

    def _cells(self, line: SheetLine) -> tuple[str | Content, ...]:
        formats = self.work.formats
        expected = "" if line.expected_qty is None else deeds.amount(line, line.expected_qty, formats)
        return (
            line.place,
            line.item_name,
            line.lot_number,
            shown.use_by(line.use_by, line.use_by_read, formats),
            deeds.what(line, formats),
            *(() if self._blind else (expected,)),
            shown.status(Status.OK, line.reading) if line.reading is not None else shown.muted("..."),
        )

    def _heading(self) -> None:
        if self.sheet is None:
            return
        card, lines = self.sheet.round, self.sheet.lines
        read = sum(line.counted for line in lines)
        parts = [f"Round {card.round_id}", "blind" if card.blind else "", f"{read} of {len(lines)} lines counted"]
        parts += [f"as of {self.at:%Y-%m-%d %H:%M}"] if self.at else []
        self.query_one("#heading", Static).update(Content(shown.clean(" · ".join(filter(None, parts)))))

    def _to_line(self) -> None:
        """The field below belongs to the line under the cursor."""
        line = self.line
        self._field_of = line.key if line is not None else None
        self._typing.fill(deeds.typed(line) if line is not None else "")
        self._typing.input.select_all()
        self._say()
        self._heading()

    def _say(self) -> None:
        """Below the field: what is wrong with it, at full length, or how its line is read."""
        wrong, line = self._typing.error, self.line
        about = shown.muted(deeds.about(line, self.work.formats)) if line is not None else Content("")
        self.query_one("#line-said", Static).update(
            shown.noted(Status.ACT, wrong[:1].upper() + wrong[1:]) if wrong else about
        )

    def _read_typed(self, text: str) -> Reading:
        line = self.line
        if line is None:
            raise BadInput("There is no line to count.", "Add what was found with F3.")
        read = parse_reading(text, line.facts)
        counted_qty(read, line.facts)
        return read

    def _told(self, read: Reading) -> str:
        line = self.line
        if line is None or not line.facts.in_part:
            return f"{line.unit_name}, whole ones" if line and line.base is not BaseUnit.PIECE else ""
        return shown.amount(counted_qty(read, line.facts), line.base, self.work.formats)

    # keeping and moving

    def on_field_changed(self, event: Field.Changed) -> None:
        event.stop()
        self._say()

    def on_field_entered(self, event: Field.Entered) -> None:
        event.stop()
        self._keep(1)

    def action_move(self, by: int) -> None:
        """Go up or down; what was typed is kept first."""
        if self.dirty:
            self._keep(by)
        else:
            self._go(by)

    def _keep(self, then: int, after: Callable[[], object] = lambda: None) -> None:
        """Keep what was typed, then go so many lines on, and do what comes after."""
        line = self.line
        if line is None or not self._typing.check():
            self._say()
            return
        read = self._typing.value
        if read is None or (line.counted and not self.dirty):
            self._go(then)
            after()
            return

        def kept(new: SheetLine) -> None:
            self._keeping = False
            self.put(new)
            self._go(then)
            after()
            while self._waiting and not self._keeping:
                self._use(self._waiting.popleft())

        self.signed(lambda by: self._record(line, read, by, kept))

    def _record(self, line: SheetLine, read: Reading, by: str, kept: Callable[[SheetLine], None]) -> None:
        practice, number, at = self.practice, self.round_id, self.at
        self._keeping = True
        workers.run(
            self, lambda: counting.record(practice, number, line.key, read, by=by, at=at), kept, name="record",
            failed=self._beside,
        )  # fmt: skip

    def _beside(self, error: PracticeError) -> bool:
        self._keeping = False
        if isinstance(error, BadInput):
            self._typing.complain(error)
            self._say()
            return True
        return False

    def put(self, new: SheetLine) -> None:
        """Show one line as it is now."""
        if self.sheet is not None:
            self._lines[new.key] = new
            self.sheet = replace(self.sheet, lines=tuple(self._lines.values()))
            self.query_one(ListTable).replace_rows(Row(line.key, self._cells(line)) for line in self.sheet.lines)
            self._to_line()

    def _go(self, by: int) -> None:
        table = self.query_one(ListTable)
        at = table.cursor_row + by
        if 0 <= at < len(table.keys):
            table.select(table.keys[at])
        elif by > 0:
            self.notify("That was the last line. F2 reviews the round, F6 finds lines not counted.", markup=False)
        self._to_line()

    def on_list_table_moved(self, event: ListTable.Moved) -> None:
        event.stop()
        if event.key != self._field_of:  # a scan may have gone there and counted one already
            self._to_line()

    def on_list_table_chosen(self, event: ListTable.Chosen) -> None:
        event.stop()
        self._typing.focus_input()

    def action_next_open(self) -> None:
        """Go to the next line that was not counted."""
        keys = self.query_one(ListTable).keys
        at = self.query_one(ListTable).cursor_row
        key = next((key for key in keys[at + 1 :] + keys[: at + 1] if not self._lines[key].counted), None)
        if key is None:
            self.notify("Every line is counted: F2 reviews the round.", markup=False)
        else:
            self.query_one(ListTable).select(key)

    # labels

    def take_stray_scan(self, label: str) -> None:
        """A label was scanned, wherever the focus is."""
        self._scans.add(label)

    def _scanned(self, scanned: Scanned) -> None:
        if self._keeping:
            self._waiting.append(scanned)
        else:
            self._use(scanned)

    def _use(self, scanned: Scanned) -> None:
        """One more on the line of the label; else keep what was typed on the line left, and go to the label's."""
        lots = {lot.lot_id for lot in scanned.lots} if scanned.lot_number or scanned.label is None else set()
        here = self.line
        if here is not None and here.lot_id in lots:
            self._one_more(here)
        elif self.dirty:
            self._keep(0, lambda: self._jump(scanned, lots))
        else:
            self._jump(scanned, lots)

    def _jump(self, scanned: Scanned, lots: set[int]) -> None:
        """Go to the line of a label's lot, at the same place first; what is on no line was found."""
        here = self.line
        fitting = [line for line in self._lines.values() if line.lot_id in lots]
        fitting.sort(key=lambda line: (here is None or line.place != here.place, line.facts.opened))
        if not fitting:
            self._scans.ask(lambda: self._found(scanned))
            return
        self.query_one(ListTable).select(fitting[0].key)
        self._to_line()
        if not fitting[0].counted:
            self._one_more(fitting[0])

    def _one_more(self, line: SheetLine) -> None:
        """One more of what is counted in whole ones stands in the field; Enter keeps it."""
        if line.facts.in_part:
            self.notify("An opened one is read in tenths, or weighed.", markup=False)
            return
        try:
            read = self._typing.value
        except BadInput:
            read = None
        number = read.number if read is not None and read.method is CountMethod.UNITS else 0
        self._typing.input.value = str(number + 1)

    # what the keys do

    def action_review(self) -> None:
        """Look at the round as a whole; what was typed is kept first."""
        if self.dirty:
            self._keep(0, self.action_review)
        else:
            self.app.push_screen(CountReviewScreen(self.round_id), self._reviewed)

    def _reviewed(self, result: str | None) -> None:
        if result == "approved":
            self.finish()
        elif result is not None:
            self._wanted = result

    def action_found(self) -> None:
        self._found(None)

    def _found(self, scanned: Scanned | None) -> None:
        practice, number = self.practice, self.round_id

        def show(choices: Choices) -> None:
            place = self.line.place if self.line else ""
            self.app.push_screen(deeds.found(self, choices, scanned, place), added)

        def added(line: SheetLine | None) -> None:
            if line is not None:
                self._wanted = line.key

        workers.run(self, lambda: counting.choices(practice, number), show, name="choices")

    def action_take_back(self) -> None:
        """Take back the reading of the line under the cursor."""
        line = self.line
        if line is None or not line.counted:
            self.notify("This line was not counted yet.", markup=False)
        else:
            deeds.take_back(self, line)

    def action_time(self) -> None:
        """Say when what is entered next was counted, where it is entered from paper."""
        self.app.push_screen(deeds.time_dialog(self), self._timed)

    def _timed(self, asked: tuple[datetime | None] | None) -> None:
        if asked is not None:
            self.at = asked[0]
            self._heading()
