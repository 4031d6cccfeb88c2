"""One recall notice, worked off: what is to be found, who is to be told, what leaves the house; a key for each."""

from collections.abc import Iterator
from dataclasses import dataclass

from textual.app import ComposeResult
from textual.binding import Binding
from textual.containers import Vertical
from textual.content import Content
from textual.widgets import Static

from inventory.domain.notices import Match
from inventory.domain.quantity import show
from inventory.domain.recall_work import CLASS_WORDS
from inventory.domain.vocabulary import ContactStatus
from inventory.errors import PracticeError
from inventory.service import notice_work
from inventory.service.notice_work import CaseWork, Heap, LotWork, Worklist
from tui import text as shown
from tui import workers
from tui.dialogs.reading import ReadingDialog
from tui.screens import notice_deeds
from tui.screens.base import CAUTION, StepScreen
from tui.theme import Status
from tui.widgets.table import Column, ListTable, Row

CONTACT = {
    ContactStatus.OPEN: (Status.ACT, "to tell"),
    ContactStatus.TOLD: (Status.OK, "told"),
    ContactStatus.NOT_REACHED: (Status.WATCH, "not reached"),
    ContactStatus.NOT_NEEDED: (Status.OK, "not needed"),
}
NAMED = {Match.SURE: "", Match.PERHAPS: "perhaps named: compare the package", Match.NO: "put on hold by hand"}


@dataclass(frozen=True)
class Key:
    """What a line stands for: a stack or opened unit, a lot of which nothing is left, a case, or the answer."""

    holding_id: int | None = None
    lot_id: int | None = None
    case_ref: str = ""


ANSWER = Key()


class NoticeScreen(StepScreen[None]):
    """The worklist of a notice.

    Args:
        reference: which notice.
    """

    title_text = "Recall notice"
    on_enter = "Do the line's next thing: set aside, tell, answer, send back or destroy"
    cautions = (CAUTION, notice_deeds.DENTIST, "Assumed lots were not read: compare the case's record first.")
    BINDINGS = [
        Binding("f", "found", "Found"),
        Binding("m", "missing", "Missing"),
        Binding("t", "told", "Told"),
        Binding("a", "answer", "Answer"),
        Binding("c", "close_notice", "Close"),
        Binding("escape", "leave", "Back"),
        Binding("b", "returned", "Send back to the supplier, with proof", show=False),
        Binding("d", "destroyed", "Destroy, with proof", show=False),
        Binding("n", "add_line", "Name something more", show=False),
        Binding("x", "withdraw", "Withdraw a line that was wrong", show=False),
        Binding("e", "entries", "What was done under it, and what to look at", show=False),
        Binding("p", "print", "Write it into a file for the records", show=False),
    ]

    def __init__(self, reference: str) -> None:
        super().__init__()
        self._reference = reference
        self._work: Worklist | None = None

    def body(self) -> ComposeResult:
        yield Static(shown.plain(self._reference), classes="heading", id="head")
        yield ListTable(
            [
                Column("State", most=15),
                Column("What", grow=True, least=22, most=44),
                Column("Where, when", most=16),
                Column("How", grow=True, least=22, most=60),
            ],
            empty="◦ Reading the notice …",
        )
        with Vertical(classes="panel", id="detail") as panel:
            panel.border_title = "This line"
            yield Static("", id="said")
        yield Static(Content(CAUTION), classes="caution")

    def on_mount(self) -> None:
        self.query_one(ListTable).focus()

    def read(self) -> None:
        practice, reference = self.practice, self._reference
        workers.run(
            self, lambda: notice_work.worklist(practice, reference), self._show, name="notice-work", latest=True,
            failed=self._gone,
        )  # fmt: skip

    def _gone(self, error: PracticeError) -> bool:
        return self.leave_with(error)

    def _show(self, work: Worklist) -> None:
        self._work = work
        head = work.head
        state = "closed" if head.closed else "open"
        self.query_one("#head", Static).update(
            shown.plain(f"{head.reference} · {CLASS_WORDS[head.notice_class]} · {state}")
        )
        table = self.query_one(ListTable)
        table.empty = "The practice has no lot that it names, and no case used one."
        before = list(table.keys)
        at = before.index(table.current) if table.current in before else 0
        table.replace_rows(self._rows(work))
        if after := list(table.keys):  # what is settled moves down; the cursor stays where the next thing comes up
            table.select(after[min(at, len(after) - 1)])
        self._tell()

    def on_list_table_moved(self, event: ListTable.Moved) -> None:
        event.stop()
        self._tell()

    def _tell(self) -> None:
        """The line under the cursor in full and what Enter does with it; then what is left of the whole notice."""
        work = self._work
        if work is None:
            return
        said = [shown.plain(words, "bold") for words in filter(None, [self._line(work)])]
        if work.head.closed:
            said += [shown.plain("Closed. Its lots stay on hold; c opens it again.")]
        else:
            left = f"Left: {work.outstanding.counts}" if work.left else "Nothing is left: c closes it"
            said += [shown.plain(f"{left}. e shows the whole of it.")]
        said += [shown.noted(Status.WATCH, caution) for caution in work.cautions]
        self.query_one("#said", Static).update(Content("\n").join(said))

    def _line(self, work: Worklist) -> str:
        key = self._key
        if key is None:
            return ""
        if key == ANSWER:
            return f"{work.head.answer_proof or 'Answer the notice'}. Enter: note the answer."
        heaps = {heap.holding_id: (lot, heap) for lot in work.lots for heap in lot.heaps}
        if key.holding_id is not None and key.holding_id in heaps:
            lot, heap = heaps[key.holding_id]
            deed = "send it back or destroy it" if heap.aside else "set it aside"
            return f"{lot.name}, {heap.words}, {heap.place}. Enter: {deed}."
        case = next((one for one in work.cases if one.case_ref == key.case_ref), None)
        if case is not None:
            return f"{_used(case)}. Enter: note how far the patient was told."
        return next((lot.name for lot in work.lots if lot.lot_id == key.lot_id), "")

    def _rows(self, work: Worklist) -> Iterator[Row[Key]]:
        """What is to be found, then whom to tell, the answer, what is set aside; then what is settled."""
        heaps = [(lot, heap) for lot in work.concerned for heap in lot.heaps]
        yield from (self._heap(lot, heap) for lot, heap in heaps if not heap.aside)
        yield from (self._case(case) for case in work.cases if case.uses and case.status is ContactStatus.OPEN)
        if work.head.answer_by is not None and work.head.answered_on is None:
            yield self._answer(work)
        yield from (self._heap(lot, heap) for lot, heap in heaps if heap.aside)
        yield from (self._case(case) for case in work.cases if not case.uses or case.status is not ContactStatus.OPEN)
        if work.head.answered_on is not None:
            yield self._answer(work)
        yield from (self._lot(lot) for lot in work.lots if lot.released is not None or not lot.heaps)

    def _heap(self, lot: LotWork, heap: Heap) -> Row[Key]:
        state = (Status.WATCH, "set aside") if heap.aside else (Status.BLOCKED, "to find")
        how = ", ".join(filter(None, (heap.words, NAMED[lot.match])))
        return Row(Key(heap.holding_id), (shown.status(*state), _named(lot), heap.place, how))

    def _case(self, case: CaseWork) -> Row[Key]:
        sure = "" if case.lot_confirmed else "assumed"
        lots = ", ".join(dict.fromkeys(use.lot_number for use in case.uses))
        how = ", ".join(filter(None, (f"lot {lots} {sure}".strip() if lots else "booking undone", case.note)))
        day = shown.day(max(use.on for use in case.uses), self.work.formats) if case.uses else ""
        return Row(
            Key(case_ref=case.case_ref), (shown.status(*CONTACT[case.status]), f"case {case.case_ref}", day, how)
        )

    def _answer(self, work: Worklist) -> Row[Key]:
        head, formats = work.head, self.work.formats
        if head.answered_on is not None:
            state, day = shown.status(Status.OK, "answered"), shown.day(head.answered_on, formats)
            return Row(ANSWER, (state, "the answer to the notice", day, head.answer_proof or ""))
        late = head.answer_by is not None and head.answer_by < self.work.today
        state = shown.status(Status.BLOCKED if late else Status.ACT, "to answer")
        return Row(ANSWER, (state, "the answer to the notice", f"by {shown.day(head.answer_by, formats)}", ""))

    def _lot(self, lot: LotWork) -> Row[Key]:
        if lot.released is not None:
            state, how = shown.status(Status.OK, "not concerned"), lot.released
        else:
            done = [f"{name} {shown.amount(qty, lot.base, self.work.formats)}" for name, qty in _gone(lot) if qty]
            state, how = shown.status(Status.OK, "nothing left"), ", ".join([*done, NAMED[lot.match]]).strip(", ")
        return Row(Key(lot_id=lot.lot_id), (state, _named(lot), "", how))

    # the line under the cursor

    @property
    def _key(self) -> Key | None:
        return self.query_one(ListTable).current

    def _at(self) -> tuple[Worklist, LotWork, Heap] | None:
        """The stock under the cursor; says so where the line is about none."""
        key, work = self._key, self._work
        if work is not None and key is not None:
            for lot in work.concerned:
                for heap in lot.heaps:
                    if heap.holding_id == key.holding_id:
                        return work, lot, heap
        self.notify("This works on a line of stock that is there.", markup=False)
        return None

    def on_list_table_chosen(self, event: ListTable.Chosen) -> None:
        event.stop()
        key: Key = event.key
        if key == ANSWER:
            self.action_answer()
        elif key.case_ref:
            self.action_told()
        elif key.holding_id is not None and (at := self._at()) is not None:
            (notice_deeds.leave_house if at[2].aside else notice_deeds.found)(self, *at)

    def action_found(self) -> None:
        if (at := self._at()) is not None:
            if at[2].aside:
                self.notify("It is set aside already: Enter sends it back or destroys it.", markup=False)
            else:
                notice_deeds.found(self, *at)

    def action_missing(self) -> None:
        if (at := self._at()) is not None:
            notice_deeds.missing(self, *at)

    def action_returned(self) -> None:
        if (at := self._at()) is not None:
            notice_deeds.returned(self, *at)

    def action_destroyed(self) -> None:
        if (at := self._at()) is not None:
            notice_deeds.destroyed(self, *at)

    def action_told(self) -> None:
        """Note how far the patient of the case under the cursor was told."""
        key, work = self._key, self._work
        case = next((one for one in work.cases if one.case_ref == key.case_ref), None) if work and key else None
        if work is None or case is None:
            self.notify("This works on the line of a case.", markup=False)
        else:
            notice_deeds.told(self, work, case)

    def action_answer(self) -> None:
        if self._work is not None:
            notice_deeds.answer(self, self._work)

    def action_close_notice(self) -> None:
        if self._work is not None:
            notice_deeds.close(self, self._work)

    def action_add_line(self) -> None:
        if self._work is not None:
            notice_deeds.add_line(self, self._work)

    def action_withdraw(self) -> None:
        if self._work is not None:
            notice_deeds.withdraw(self, self._work)

    def action_entries(self) -> None:
        """What it names, what was done, what is uncertain."""
        if self._work is not None:
            self.app.push_screen(ReadingDialog(f"Recall notice {self._reference}", list(_whole(self._work))))

    def action_print(self) -> None:
        notice_deeds.write(self, self._reference)


def _used(case: CaseWork) -> str:
    """What a case used, when and by whom it was booked, and whether the lot is certain."""
    told = [
        f"{use.on.isoformat()} lot {use.lot_number}, {show(use.qty, use.base)}, by {use.by}"
        f"{'' if use.lot_confirmed else ', lot assumed'}"
        for use in case.uses
    ]
    return f"Case {case.case_ref}: {'; '.join(told) or 'booking undone'}"


def _named(lot: LotWork) -> str:
    return f"{lot.number} · {lot.item_name}"


def _gone(lot: LotWork) -> Iterator[tuple[str, int]]:
    for name in ("missing", "returned", "destroyed"):
        yield name, sum(getattr(place, name) for place in lot.places)


def _whole(work: Worklist) -> Iterator[Content]:
    """The notice as it reads: its text, its lines, what was done under it, what a person has to look at."""
    if work.head.text:
        yield shown.plain(work.head.text)
    for line in work.lines:
        withdrawn = f" (withdrawn {line.withdrawn_on})" if line.withdrawn_on else ""
        yield shown.plain(f"names: {line.words}{withdrawn}")
    for caution in work.cautions:
        yield shown.noted(Status.WATCH, caution)
    for one in work.proofs:
        proof = f", {one.proof}" if one.proof else ""
        yield shown.plain(f"{one.on.isoformat()} {one.by}: {one.words}{proof}")
