"""Book out: what a visit really used, prefilled with what it was expected to use.

Keys and dialogs only change a form that is kept in memory; nothing is posted before the summary, which names every
lot. A scanned label, or a lot number, picks and confirms its lot wherever the form takes that article.
"""

from uuid import uuid4

from textual.app import ComposeResult
from textual.binding import Binding
from textual.content import Content
from textual.widgets import Static

from inventory.errors import AlreadyDone, BadInput, PracticeError, StockChanged
from inventory.service import booking, filling, filling_in
from inventory.service.booking import Booked
from inventory.service.filling import Filling
from tui import text as shown
from tui import workers
from tui.dialogs.reading import ErrorDialog
from tui.dialogs.save import SaveDialog
from tui.screens import book_out_lines as words
from tui.screens.base import CAUTION
from tui.screens.book_out_edits import FillingScreen
from tui.screens.booked import BookedDialog, undo
from tui.theme import Status
from tui.widgets.scan_input import ScanInput
from tui.widgets.table import ListTable, Row


class BookOutScreen(FillingScreen):
    """The form of one visit; answers what was booked."""

    title_text = "Book out a visit"
    on_enter = "Type the amount, or choose the tray"
    cautions = (
        CAUTION,
        "Lots are assumed until somebody has read or scanned them; the record shows which.",
        "A tray that was in a mouth never goes back to stock.",
    )
    BINDINGS = [Binding("escape", "leave", "Back", show=False)]

    def __init__(self, visit_id: int) -> None:
        super().__init__()
        self._visit_id = visit_id
        self._request_key = uuid4().hex

    def body(self) -> ComposeResult:
        yield Static(classes="heading", id="heading")
        yield ListTable(words.COLUMNS, empty="◦ Reading the form …", id="lines")
        yield Static(id="detail")
        yield Static(id="said")
        yield ScanInput("Scan a label or type a lot number: it picks and confirms that lot", id="scan")

    def on_mount(self) -> None:
        self.query_one("#lines").focus()

    def read(self) -> None:
        self._scans.go_on()
        if self._filling is None:
            practice, visit_id = self.practice, self._visit_id
            workers.run(
                self, lambda: filling_in.begin(practice, visit_id), self._begin, name="form", failed=self.leave_with
            )

    def _begin(self, read: Filling) -> None:
        """Take the form; a visit that is booked out late happened on its own day until somebody says otherwise."""
        self.it_is(read.form.today)
        if read.form.visit.on < read.form.today:
            read = filling_in.on_day(read, read.form.visit.on)
        self._take(read)
        self._scans.go_on()

    @property
    def dirty(self) -> bool:
        """Whether something would be lost by leaving."""
        return self._filling is not None and self._filling.dirty

    def _take(self, changed: Filling) -> None:
        self._filling = changed
        table = self.query_one("#lines", ListTable)
        rows = [Row(line.key, words.cells(line, self.work.formats)) for line in changed.lines]
        rows += [
            Row(f"tried/{number}", words.tried_cells(one, self.work.formats))
            for number, one in enumerate(changed.tried)
        ]
        table.replace_rows(rows)
        self._show_heading(changed)
        self._show_detail()
        self._show_doubts(changed)

    def _show_heading(self, now: Filling) -> None:
        visit = now.form.visit
        day = shown.near_day(now.on or self.work.today, self.work.today, self.work.formats)
        heading = f"Book out {visit.case_ref} · {day} · {now.form.place} · {visit.case_kind_name}"
        self.query_one("#heading", Static).update(Content(shown.clean(heading)))

    def _show_detail(self) -> None:
        line = self._line()
        detail = words.detail(line, self.work.formats) if line else Content("")
        self.query_one("#detail", Static).update(detail)

    def _show_doubts(self, now: Filling) -> None:
        doubts = [*filling.open_questions(now), *filling.doubts(now), *now.form.warnings]
        if not doubts:
            self.query_one("#said", Static).update(shown.muted(CAUTION))
            return
        more = f" ({len(doubts) - 1} more: F2 lists them)" if doubts[1:] else ""
        self.query_one("#said", Static).update(shown.noted(Status.WATCH, doubts[0] + more))

    def _say(self, wrong: PracticeError) -> None:
        self.query_one("#said", Static).update(shown.noted(Status.ACT, "; ".join(str(wrong).splitlines())))

    def on_list_table_moved(self) -> None:
        self._show_detail()

    def action_book_out(self) -> None:
        """Show the summary once what is typed in the label field is taken; Enter posts it."""
        if self._filling is not None:
            self._scans.take_typed(self._summarize)

    def _summarize(self) -> None:
        if (now := self._filling) is None:
            return
        try:
            request = filling_in.book_out(now)
        except BadInput as wrong:
            self._say(wrong)
            first = next((line.key for line in now.lines if line.unresolved), None)
            self.query_one("#lines", ListTable).select(first)
            return

        def answered(yes: bool | None) -> None:
            if yes:
                self.signed(lambda by: self._post(request, by))

        parts = [words.of_filling(now, self.work.formats)]
        parts += [shown.noted(Status.WATCH, doubt) for doubt in (*filling.doubts(now), *now.form.warnings)]
        self.app.push_screen(SaveDialog(f"Book out {now.form.visit.case_ref}", parts, yes="Book out"), answered)

    def _post(self, request: booking.BookOut, by: str) -> None:
        practice, key = self.practice, self._request_key
        workers.run(
            self,
            lambda: booking.book_out(practice, request, by=by, request_key=key),
            self._booked,
            name="book",
            again=lambda answer: booking.book_out(
                practice, request, by=by, request_key=key, confirmed=True, reason=answer.reason
            ),
            failed=self._not_booked,
            busy="Booking the visit",
        )

    def _booked(self, booked: Booked) -> None:
        def answered(answer: str | None) -> None:
            if answer == "undo":
                undo(self, booked.visit, self.finish, lambda: self.finish(booked))
            else:
                self.finish(booked)

        self.app.push_screen(BookedDialog(booked, self.work.formats), answered)

    def _not_booked(self, error: PracticeError) -> bool:
        """Somebody else was faster: their booking ends this form, their use of the stock makes it ask anew."""
        practice = self.practice
        if isinstance(error, AlreadyDone):
            return self.leave_with(error)
        if isinstance(error, StockChanged):
            self.app.push_screen(
                ErrorDialog.of(error), lambda _: self._read_anew(lambda now: filling_in.ask_again(practice, now))
            )
            return True
        return False
