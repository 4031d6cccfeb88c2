"""Today: the visits of the next days with what they wait for, and the most urgent lines of the weekly check.

The cursor begins on the first visit of today that is still to be booked out.
"""

from collections.abc import Iterator

from textual.app import ComposeResult
from textual.binding import Binding
from textual.containers import Vertical
from textual.content import Content
from textual.widgets import Static

from inventory.domain.alerts import Alert
from inventory.domain.vocabulary import VisitState
from inventory.service import stock_views, weekly_check
from inventory.service import today as service
from inventory.service.today import DayList, VisitAhead
from inventory.service.weekly_check import WeeklyCheck
from tui import text as shown
from tui import workers
from tui.screens import visit_deeds, visit_ways
from tui.screens import visit_words as words
from tui.screens.base import BEGIN, CAUTION, ModeScreen
from tui.widgets.table import Column, ListTable, Row

NO_VISITS = "No visits are planned for the next days. Plan one with n."


class TodayScreen(ModeScreen):
    """The start screen."""

    title_text = "Today"
    on_enter = "Open the line: book out, lay out, or look at the record"
    cautions = (CAUTION, "No patient names anywhere: case references only.")
    BINDINGS = [
        Binding("b", "book_out", "Book out"),
        Binding("n", "plan", "Plan a visit"),
        Binding("w", "week", "Weekly check"),
        Binding("a", "read_again", "Read again"),
    ]

    def __init__(self) -> None:
        super().__init__()
        self._seen: DayList | None = None
        self._advice = ""  # what a practice with empty shelves does next

    def body(self) -> ComposeResult:
        yield ListTable(
            [
                Column("Day", most=14),
                Column("Case", most=18),
                Column("Visit", grow=True, least=13),
                Column("Arches", spare=1),
                Column("Place", spare=2, most=14),
                Column("State", grow=True, least=26, most=60, first=True),
            ],
            empty="◦ Reading the visits …",
            id="visits",
        )
        yield Static(id="about")
        with Vertical(classes="panel", id="check") as panel:
            panel.border_title = "Weekly check"
            yield Static(shown.muted("◦ looking through the stock …"), id="counts")
            yield ListTable(
                [Column("Matter"), Column("What", grow=True, least=20, most=70), Column("Do", grow=True, least=20)],
                empty="",
                id="urgent",
            )
        yield Static(Content(CAUTION), classes="caution")

    def on_mount(self) -> None:
        self.query_one("#visits").focus()

    def read(self) -> None:
        practice = self.practice
        workers.run(self, lambda: service.day_list(practice), self._show_visits, name="visits", latest=True)

    def _read_check(self) -> None:
        """Look through the stock; only after the visits are shown, for it takes longer."""
        practice = self.practice
        workers.run(self, lambda: weekly_check.weekly_check(practice), self._show_check, name="check", latest=True)

    def action_read_again(self) -> None:
        self.read()

    def on_list_table_chosen(self, event: ListTable.Chosen) -> None:
        if event.table.id == "visits":
            visit_ways.open_visit(self, event.key, self._came_back)
        elif event.key.visit_id is not None:
            visit_ways.open_visit(self, event.key.visit_id, self._came_back)
        else:
            self.stock_app.go("week", event.key)

    def action_book_out(self) -> None:
        """Book out the visit under the cursor, whatever its day."""
        cards = {one.card.visit_id: one.card for one in self._seen.visits} if self._seen else {}
        card = cards.get(self.query_one("#visits", ListTable).current or 0)
        if card is not None and card.state is VisitState.PLANNED:
            visit_ways.book_out(self, card, self._came_back)

    def action_plan(self) -> None:
        visit_deeds.plan(self, lambda _: None)

    def action_week(self) -> None:
        self.stock_app.go("week")

    def _came_back(self, result: object) -> None:
        """After a booking the cursor goes to the next visit to be booked out."""
        if result is not None:
            self._seen = None
            self.read()

    def _show_visits(self, seen: DayList) -> None:
        first_time, self._seen = self._seen is None, seen
        self.it_is(seen.today)
        table = self.query_one("#visits", ListTable)
        table.empty = NO_VISITS
        table.replace_rows(Row(one.card.visit_id, tuple(self._cells(one, seen))) for one in seen.visits)
        if first_time and seen.first_to_book is not None:
            table.select(seen.first_to_book.card.visit_id)
        self._tell()
        self._read_check()
        if not seen.visits:
            self._look_whether_empty()

    def _look_whether_empty(self) -> None:
        """Where there is no stock either, say what a new practice does first."""
        practice = self.practice

        def show(nothing: bool) -> None:
            self._advice = f"Nothing is in stock yet. Next, on 5 Stock: {BEGIN}; then plan visits." if nothing else ""
            self._tell()

        workers.run(self, lambda: stock_views.items(practice).nothing_there, show, name="stock", latest=True)

    def on_list_table_moved(self) -> None:
        self._tell()

    def on_descendant_focus(self) -> None:
        self._tell()

    def _tell(self) -> None:
        """Say in full what the table in use has to cut of its line."""
        urgent: ListTable[Alert] = self.query_one("#urgent", ListTable)
        if not urgent.has_focus:
            said = self._in_full(self.query_one("#visits", ListTable).current)
        elif (alert := urgent.current) is not None:
            said = shown.plain(f"{', '.join(filter(None, (alert.subject, alert.where)))}: {alert.what}")
        else:
            said = Content("")
        self.query_one("#about", Static).update(said)

    def _in_full(self, visit_id: int | None) -> Content:
        one = next((one for one in self._seen.visits if one.card.visit_id == visit_id), None) if self._seen else None
        if one is None:
            return shown.plain(self._advice)
        card = one.card
        state = words.state(card, self.work.today, one.missing, one.waits).plain
        rest = (*one.missing[1:], *(one.waits if one.missing else one.waits[1:]), *one.notes)
        parts = [card.case_ref, state, *rest, card.note, f"Enter: {words.way(card, self.work.today)}",
                 card.case_kind_name, words.arches(card)]  # fmt: skip
        return shown.plain(" · ".join(filter(None, parts)))

    def _cells(self, one: VisitAhead, seen: DayList) -> Iterator[str | Content]:
        card = one.card
        yield shown.near_day(card.on, seen.today, self.work.formats)
        yield card.case_ref
        yield card.case_kind_name
        yield words.arches(card)
        yield card.place or shown.NOTHING
        yield words.state(card, seen.today, one.missing, one.waits)

    def _show_check(self, check: WeeklyCheck) -> None:
        self.query_one("#counts", Static).update(words.counts(check))
        table = self.query_one("#urgent", ListTable)
        table.empty = "Nothing wants a decision."
        table.replace_rows(Row(alert, self._alert_cells(alert)) for alert in check.lines)

    def _alert_cells(self, alert: Alert) -> tuple[str | Content, ...]:
        matter = shown.status(words.urgency(alert.kind), words.KINDS[alert.kind])
        return matter, ", ".join(filter(None, (alert.subject, alert.where))), alert.todo
