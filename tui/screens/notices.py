"""Recalls: the notices, open ones first; Enter works one off, n enters another."""

from textual.app import ComposeResult
from textual.binding import Binding
from textual.containers import Vertical
from textual.content import Content
from textual.widgets import Static

from inventory.domain.recall_work import CLASS_WORDS
from inventory.service import notice_work
from inventory.service.notice_work import NoticeCard
from tui import text as shown
from tui import workers
from tui.screens import notice_deeds
from tui.screens.base import CAUTION, StepScreen
from tui.screens.notice_form import NoticeForm
from tui.screens.notice_list import NoticeScreen
from tui.theme import Status
from tui.widgets.table import Column, ListTable, Row


class NoticesScreen(StepScreen[None]):
    """All recall notices.

    Args:
        reference: the notice where the cursor begins.
    """

    title_text = "Recalls"
    on_enter = "Work the notice off: find, set aside, tell, answer, return, close"
    cautions = (CAUTION, "The class is the authority's; what it means for a patient is for the dentist to decide.")
    BINDINGS = [
        Binding("n", "enter_notice", "New notice"),
        Binding("p", "print", "Print"),
        Binding("escape", "leave", "Back"),
    ]

    def __init__(self, reference: str = "") -> None:
        super().__init__()
        self._wanted = reference
        self._seen: dict[str, NoticeCard] = {}

    def body(self) -> ComposeResult:
        yield Static("Recall notices", classes="heading")
        yield ListTable(
            [
                Column("State", most=12),
                Column("Notice", grow=True, least=16, most=40),
                Column("Dated", most=10),
                Column("Class", most=6),
                Column("Lots", right=True),
                Column("Left", grow=True, least=24, most=60),
            ],
            empty="◦ Reading the notices …",
        )
        with Vertical(classes="panel", id="detail") as panel:
            panel.border_title = "This notice"
            yield Static("", id="said")
        yield Static(Content(CAUTION), classes="caution")

    def on_mount(self) -> None:
        self.query_one(ListTable).focus()

    def read(self) -> None:
        practice = self.practice
        workers.run(self, lambda: notice_work.notices(practice), self._show, name="notices", latest=True)

    def _show(self, seen: tuple[NoticeCard, ...]) -> None:
        self._seen = {card.head.reference: card for card in seen}
        table = self.query_one(ListTable)
        table.empty = "No recall notice came yet: n enters one, and all it names is on hold."
        table.replace_rows(Row(card.head.reference, self._cells(card)) for card in seen)
        if self._wanted:
            table.select(self._wanted)
            self._wanted = ""
        self._tell()

    def _cells(self, card: NoticeCard) -> tuple[str | Content, ...]:
        head = card.head
        state = shown.status(Status.ACT, "open") if not head.closed else shown.status(Status.OK, "closed")
        day = shown.day(head.on, self.work.formats)
        return state, head.reference, day, head.notice_class.value, str(card.lots), card.outstanding.counts

    @property
    def _card(self) -> NoticeCard | None:
        return self._seen.get(self.query_one(ListTable).current or "")

    def on_list_table_moved(self, event: ListTable.Moved) -> None:
        event.stop()
        self._tell()

    def _tell(self) -> None:
        card = self._card
        said: list[Content] = []
        if card is not None:
            said = [shown.plain(f"{card.head.reference}, {CLASS_WORDS[card.head.notice_class]}", "bold")]
            said += [shown.plain(card.head.text)] if card.head.text else []
            said += [shown.plain(f"Next: {card.outstanding.next_step}")] if not card.head.closed else []
        self.query_one("#said", Static).update(Content("\n").join(said))

    def on_list_table_chosen(self, event: ListTable.Chosen) -> None:
        event.stop()
        self.app.push_screen(NoticeScreen(event.key))

    def action_enter_notice(self) -> None:
        """Enter a notice, then work it off."""
        notice_deeds.with_items(self, lambda items: self.app.push_screen(NoticeForm(items), self._entered))

    def _entered(self, reference: str | None) -> None:
        if reference:
            self._wanted = reference
            self.app.push_screen(NoticeScreen(reference))

    def action_print(self) -> None:
        if (card := self._card) is not None:
            notice_deeds.write(self, card.head.reference)
