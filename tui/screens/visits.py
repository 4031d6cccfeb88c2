"""Visits: the list of all of them, to plan, change, cancel, book out, look at, undo or do again."""

from textual.app import ComposeResult
from textual.binding import Binding
from textual.containers import HorizontalGroup
from textual.content import Content
from textual.widgets import Input, Static

from inventory.domain.vocabulary import VisitState
from inventory.errors import NotAllowed
from inventory.service import visit_desk
from inventory.service.visit_desk import VisitList
from inventory.service.visits import VisitCard
from tui import text as shown
from tui import workers
from tui.dialogs.reading import ErrorDialog
from tui.screens import visit_deeds, visit_ways
from tui.screens import visit_words as words
from tui.screens.base import ModeScreen
from tui.screens.booked import undo
from tui.screens.laboratory import LaboratoryScreen
from tui.screens.visit_form import NO_NAMES
from tui.widgets.safe_input import SafeInput
from tui.widgets.table import Column, ListTable, Row

PAUSE = 0.15  # seconds after the last key before the list is read for what was typed
STATES: tuple[tuple[VisitState | None, str], ...] = (
    (VisitState.PLANNED, "planned"),
    (VisitState.DONE, "done"),
    (VisitState.CANCELLED, "cancelled"),
    (None, "all"),
)


class VisitsScreen(ModeScreen):
    """The list of visits, narrowed by state and by part of a case reference."""

    title_text = "Visits"
    on_enter = "Open the visit: book out, lay out, or look at the record"
    cautions = (NO_NAMES,)
    BINDINGS = [
        Binding("n", "plan", "Plan a visit"),
        Binding("e", "change", "Change"),
        Binding("x", "cancel_visit", "Cancel the visit", show=False),
        Binding("f", "next_state", "Planned, done, ..."),
        Binding("slash", "find", "Find", key_display="/"),
        Binding("l", "laboratory", "Laboratory"),
        Binding("b", "book_out", "Book out", show=False),
        Binding("u", "undo", "Undo the booking", show=False),
        Binding("m", "remake", "Plan a remake", show=False),
    ]

    def __init__(self) -> None:
        super().__init__()
        self._state = 0
        self._cards: dict[int, VisitCard] = {}
        self._saved: int | None = None  # the visit that the cursor goes to once it is listed

    def body(self) -> ComposeResult:
        with HorizontalGroup(id="filter"):
            yield Static(id="states")
            yield SafeInput(placeholder="part of a case reference", id="case")
        yield ListTable(
            [
                Column("Day", most=14),
                Column("Case", most=24),
                Column("Visit", grow=True, least=16),
                Column("Arches", spare=1),
                Column("Place", spare=2, most=14),
                Column("State", most=30),
            ],
            empty="◦ Reading the visits …",
        )
        yield Static(id="more", classes="caution")

    def on_mount(self) -> None:
        self._typed = self.set_timer(PAUSE, self.read, pause=True)
        self.query_one(ListTable).focus()

    def read(self) -> None:
        practice, case_part = self.practice, self.query_one("#case", SafeInput).value
        state, _ = STATES[self._state]
        workers.run(
            self,
            lambda: visit_desk.visit_list(practice, state=state, case_part=case_part),
            self._show,
            name="visits",
            latest=True,
        )

    def _show(self, found: VisitList) -> None:
        self.it_is(found.today)
        self._cards = {card.visit_id: card for card in found.visits}
        _, word = STATES[self._state]
        names = [(f" {name} ", "reverse" if name == word else "$muted") for _, name in STATES]
        self.query_one("#states", Static).update(Content.assemble(*names))
        table = self.query_one(ListTable)
        table.empty = f"No visits here ({word}). Plan one with n."
        formats = self.work.formats
        table.replace_rows(
            Row(
                card.visit_id,
                (
                    shown.near_day(card.on, found.today, formats),
                    card.case_ref,
                    card.case_kind_name,
                    words.arches(card),
                    card.place or shown.NOTHING,
                    words.plain_state(card, found.today),
                ),
            )
            for card in found.visits
        )
        if self._saved is not None:
            table.select(self._saved)
            self._saved = None
        more = f"Only the first {len(found.visits)} are shown: type part of a case reference." if found.more else ""
        self.query_one("#more", Static).update(shown.muted(more or NO_NAMES))

    @property
    def _card(self) -> VisitCard | None:
        return self._cards.get(self.query_one(ListTable).current or 0)

    def on_input_changed(self, event: Input.Changed) -> None:
        event.stop()
        self._typed.reset()
        self._typed.resume()

    def on_input_submitted(self, event: Input.Submitted) -> None:
        event.stop()
        self.query_one(ListTable).focus()

    def action_find(self) -> None:
        self.query_one("#case").focus()

    def action_next_state(self) -> None:
        self._state = (self._state + 1) % len(STATES)
        self.read()

    def on_list_table_chosen(self, event: ListTable.Chosen) -> None:
        visit_ways.open_visit(self, event.key, self._came_back)

    def _came_back(self, result: object) -> None:
        """After a remake was planned the cursor goes to it."""
        if isinstance(result, VisitCard) and result.state is VisitState.PLANNED and result.remake_of is not None:
            self._planned(result)
            self.read()

    def about(self, subject: object) -> None:
        """Show the visits of a case."""
        self._state = len(STATES) - 1
        self.query_one("#case", SafeInput).value = str(subject)
        self.read()

    # what can be done

    def action_plan(self) -> None:
        visit_deeds.plan(self, self._planned)

    def _planned(self, card: VisitCard | None) -> None:
        """The cursor goes to the visit that was just saved."""
        if card is not None:
            self._state, self._saved = 0, card.visit_id
            self.query_one("#case", SafeInput).value = ""

    def action_change(self) -> None:
        if (card := self._only(VisitState.PLANNED, "Only a planned visit can be changed.")) is not None:
            visit_deeds.change(self, card, self._planned)

    def action_cancel_visit(self) -> None:
        if (card := self._only(VisitState.PLANNED, "Only a planned visit can be cancelled.")) is not None:
            visit_deeds.cancel(self, card, self.read)

    def action_undo(self) -> None:
        if (card := self._only(VisitState.DONE, "Only a booked visit can be undone.")) is not None:
            undo(self, card, self.read)

    def action_remake(self) -> None:
        if (card := self._only(VisitState.DONE, "A remake does a booked visit again.")) is not None:
            visit_deeds.remake(self, card, self._planned)

    def _only(self, state: VisitState, otherwise: str) -> VisitCard | None:
        """The visit under the cursor, if it is in this state; says so where it is not."""
        card = self._card
        if card is None or card.state is state:
            return card
        said = NotAllowed(otherwise, f"This one is {card.state}; choose another line.")
        self.app.push_screen(ErrorDialog.of(said))
        return None

    def action_laboratory(self) -> None:
        """What goes to the laboratory, the visit under the cursor first where something of it does."""
        card = self._card
        self.app.push_screen(LaboratoryScreen(card.visit_id if card is not None else None))

    def action_book_out(self) -> None:
        """Book out the visit under the cursor."""
        if (card := self._only(VisitState.PLANNED, "Only a planned visit can be booked out.")) is not None:
            visit_ways.book_out(self, card)
