"""The record of a visit: which lots it took, who posted what and when, and the case's other visits."""

from collections.abc import Iterator

from textual.app import ComposeResult
from textual.binding import Binding
from textual.containers import VerticalScroll
from textual.content import Content
from textual.widgets import Static

from inventory.domain.vocabulary import TrialOutcome, VisitState
from inventory.service import visit_desk
from inventory.service.booking import UsedLot
from inventory.service.visit_desk import VisitRecord
from tui import text as shown
from tui import workers
from tui.screens import book_out_lines as words
from tui.screens import case_file, visit_deeds, visit_words
from tui.screens.base import StepScreen
from tui.screens.booked import undo
from tui.screens.laboratory import LaboratoryScreen
from tui.theme import Status
from tui.widgets.table import Column, ListTable, Row

OUTCOMES = {
    TrialOutcome.FITTED: "fitted",
    TrialOutcome.LAID_OUT_UNUSED: "laid out, not used",
    TrialOutcome.TRIED_REPROCESS: "tried, to reprocessing",
    TrialOutcome.TRIED_THROWN: "tried, thrown away",
}
ASKED_BY = {"chair": "the chair", "laboratory": "the laboratory"}


class RecordScreen(StepScreen[object]):
    """One visit for the record; answers something where it was undone or a remake was planned."""

    title_text = "Record of a visit"
    cautions = ("An assumed lot is the one the tool filled in: nobody has read it from the package.",)
    BINDINGS = [
        Binding("u", "undo", "Undo the booking"),
        Binding("m", "remake", "Remake"),
        Binding("r", "record", "Record as PDF"),
        Binding("l", "laboratory", "Laboratory"),
        Binding("escape", "leave", "Back"),
    ]

    def __init__(self, visit_id: int) -> None:
        super().__init__()
        self._visit_id = visit_id
        self._record: VisitRecord | None = None

    def body(self) -> ComposeResult:
        yield Static(classes="heading")
        yield ListTable(
            [
                Column("Step", grow=True, least=21),
                Column("Arch"),
                Column("Item", grow=True, least=20),
                Column("Amount", right=True),
                Column("Lot", most=24),
                Column("Use by", spare=1),
                Column("Lot read", least=9),
            ],
            empty="◦ Reading the record …",
        )
        yield VerticalScroll(Static(id="about"), Static(id="story"), can_focus=False)

    def on_mount(self) -> None:
        self.query_one(ListTable).focus()

    def read(self) -> None:
        practice, visit_id = self.practice, self._visit_id
        workers.run(
            self,
            lambda: visit_desk.record(practice, visit_id),
            self._show,
            name="record",
            latest=True,
            failed=self.leave_with,
        )

    def _show(self, record: VisitRecord) -> None:
        self._record = record
        self.it_is(record.today)
        card = record.card
        day = shown.near_day(card.on, record.today, self.work.formats)
        state = visit_words.plain_state(card, record.today)
        rest = shown.clean(f" · {day} · {card.case_kind_name}")
        self.query_one(".heading", Static).update(Content.assemble(f"{shown.clean(card.case_ref)} · ", state, rest))
        table = self.query_one(ListTable)
        table.empty = "Nothing is booked for this visit."
        table.replace_rows(Row(at, self._cells(lot, record)) for at, lot in enumerate(record.lots))
        self.query_one("#story", Static).update(Content("\n").join([*self._story(record)]))
        self._tell()
        self.refresh_bindings()

    def on_list_table_moved(self) -> None:
        self._tell()

    def _tell(self) -> None:
        """Say in full what the table has to cut of its line."""
        at = self.query_one(ListTable).current
        if self._record is None or at is None:
            return
        lot = self._record.lots[at]
        dated = words.dated(lot, self.work.formats)
        parts = [lot.item, f"lot {lot.lot_number}", f"use by {dated}"] if dated != shown.NOTHING else [lot.item]
        self.query_one("#about", Static).update(shown.plain(" · ".join(parts), "bold"))

    def _cells(self, lot: UsedLot, record: VisitRecord) -> tuple[str | Content, ...]:
        step = record.step_names.get(lot.step or "", lot.step or shown.NOTHING)
        again = f"{words.nth(lot.attempt)} " if lot.attempt > 1 else ""
        if lot.late_reason is not None:
            read = shown.status(Status.BLOCKED, words.LATE[lot.late_reason])
        else:
            read = words.read_or_assumed(lot.lot_number, read=lot.lot_confirmed)
        return (
            f"{again}{step}",
            words.arch(lot.arch),
            lot.item,
            shown.amount(lot.qty, lot.base, self.work.formats),
            words.numbered(lot.lot_number),
            words.dated(lot, self.work.formats),
            read,
        )

    def _story(self, record: VisitRecord) -> Iterator[Content]:
        card = record.card
        where = f", {card.place}" if card.place else ""
        yield shown.plain(f"{visit_words.arches(card)}{where}")
        if card.remake_asked_by is not None:
            yield shown.plain(f"A remake, asked for by {ASKED_BY[card.remake_asked_by]}.")
        if card.note:
            yield shown.plain(f"Note: {card.note}")
        if record.trays:
            trays = (f"{visit_words.ARCH[tray.arch]} {tray.item} {OUTCOMES[tray.outcome]}" for tray in record.trays)
            yield shown.plain(f"Trays: {'; '.join(trays)}")
        for entry in record.entries:
            why = f": {entry.reason}" if entry.reason else ""
            moment = f"{shown.day(entry.at.date(), self.work.formats)} {entry.at:%H:%M}"
            yield shown.muted(f"{moment}  {entry.by}  {entry.what} (entry {entry.document_id}){why}")
        for other in record.others:
            state = visit_words.plain_state(other, record.today).plain
            day = shown.day(other.on, self.work.formats)
            yield shown.muted(f"also of this case: {day}  {other.case_kind_name}  {state}")

    def check_action(self, action: str, parameters: tuple[object, ...]) -> bool | None:  # noqa: ARG002 - Textual's signature
        """Undoing and remakes are for visits that are booked out."""
        if action in ("undo", "remake", "record", "laboratory"):
            return self._record is not None and self._record.card.state is VisitState.DONE
        return True

    def action_undo(self) -> None:
        if self._record is not None:
            card = self._record.card
            undo(self, card, lambda: self.finish(card))

    def action_record(self) -> None:
        """Write the record for the patient's file and the laboratory."""
        if self._record is not None:
            case_file.write(self, self._record.card.case_ref, self._visit_id)

    def action_laboratory(self) -> None:
        """Pack what goes to the laboratory, say that it was sent, or what was answered."""
        self.app.push_screen(LaboratoryScreen(self._visit_id))

    def action_remake(self) -> None:
        if self._record is not None:
            visit_deeds.remake(self, self._record.card, self._remade)

    def _remade(self, planned: object) -> None:
        if planned is not None:
            self.finish(planned)
