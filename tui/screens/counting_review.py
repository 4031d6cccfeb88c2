"""What a round found beside what the book expected, with the money in it; F2 approves it."""

from collections.abc import Iterator
from uuid import uuid4

from textual.app import ComposeResult
from textual.binding import Binding
from textual.containers import Vertical
from textual.content import Content
from textual.widgets import Static

from inventory.domain.words import item_and_lot
from inventory.service import count_review, counting
from inventory.service.count_review import Approved, Review, ReviewLine
from inventory.service.count_sheet import SheetLine
from tui import text as shown
from tui import workers
from tui.dialogs.confirm import ConfirmDialog, Confirmed
from tui.screens import counting_deeds as deeds
from tui.screens.base import StepScreen
from tui.theme import Status
from tui.widgets.table import Column, ListTable, Row


class CountReviewScreen(StepScreen[str]):
    """A round before it is approved; answers "approved", or the key of a line to be counted again.

    Args:
        round_id: which.
    """

    title_text = "Review a count"
    on_enter = "Go back to the line, to count it again"
    cautions = (
        "Approval puts the book right in one posting; it can be undone once, with a reason.",
        "What was not counted is left as it is, unless you say that nothing is there.",
    )
    BINDINGS = [
        Binding("f2,ctrl+s", "approve", "Approve"),
        Binding("z", "none_there", "Nothing there"),
        Binding("escape", "leave", "Back"),
    ]

    def __init__(self, round_id: int) -> None:
        super().__init__()
        self._round_id = round_id
        self._request_key = uuid4().hex
        self._seen: Review | None = None

    def body(self) -> ComposeResult:
        yield Static("Review", classes="heading", id="heading")
        yield ListTable(
            [
                Column("", most=14),
                Column("Item", grow=True, least=16, most=44),
                Column("Lot", most=12),
                Column("Place", most=14, spare=2),
                Column("Book", right=True, most=10),
                Column("Counted", right=True, most=10),
                Column("Change", right=True, most=10),
                Column("Money", right=True, most=10, spare=1),
            ],
            empty="◦ Comparing with the book …",
        )
        with Vertical(classes="panel", id="sum") as panel:
            panel.border_title = "The round"
            yield Static("", id="sum-said")
        yield Static(Content(self.cautions[1]), classes="caution")

    def on_mount(self) -> None:
        self.query_one(ListTable).focus()

    def read(self) -> None:
        practice, number = self.practice, self._round_id
        workers.run(
            self, lambda: count_review.review(practice, number), self._show, name="review", latest=True,
            failed=self.leave_with,
        )  # fmt: skip

    def _show(self, seen: Review) -> None:
        self._seen = seen
        lines = sorted(seen.lines, key=lambda line: (not line.problem, not line.difference))
        table = self.query_one(ListTable)
        table.empty = "Nothing was counted yet."
        table.replace_rows(
            [
                *(Row(line.line.key, self._cells(line)) for line in lines if line.difference or line.problem),
                *(Row(line.key, self._unread(line)) for line in seen.unread),
                *(Row(line.line.key, self._cells(line)) for line in lines if not (line.difference or line.problem)),
            ]
        )
        self.query_one("#sum-said", Static).update(Content("\n").join(self._sums(seen)))

    def _cells(self, line: ReviewLine) -> tuple[str | Content, ...]:
        one, formats = line.line, self.work.formats
        if line.problem:
            state = shown.status(Status.ACT, "read again")
        elif line.counted_again:
            state = shown.status(Status.WAITING, "counted since")
        elif not line.difference:
            state = shown.status(Status.OK, "right")
        else:
            state = shown.status(Status.WATCH, "more" if line.difference > 0 else "less")
        sign = "+" if line.difference > 0 else ""
        return (
            state,
            one.item_name,
            one.lot_number,
            one.place,
            deeds.amount(one, line.expected_qty, formats),
            deeds.amount(one, one.counted_qty or 0, formats),
            f"{sign}{deeds.amount(one, line.difference, formats)}" if line.difference else "",
            shown.money(line.cents, formats) if line.cents and line.difference else "",
        )

    def _unread(self, line: SheetLine) -> tuple[str | Content, ...]:
        state = shown.status(Status.UNKNOWN, "not counted")
        return (state, line.item_name, line.lot_number, line.place, "", "", "", "")

    def _sums(self, seen: Review) -> Iterator[Content]:
        money = self.work.currency
        found, missing = (shown.money(cents, self.work.formats) for cents in (seen.plus_cents, -seen.minus_cents))
        status = Status.ACT if seen.problems else Status.WATCH if seen.differences else Status.OK
        said = f"{shown.count(len(seen.differences), 'difference')}: found {found}, missing {missing} {money}".strip()
        yield shown.noted(status, said if seen.differences else "The book is right about all that was counted.")
        if seen.unread:
            yield shown.noted(Status.UNKNOWN, f"{shown.count(len(seen.unread), 'line')} not counted: left alone.")
        yield from (shown.noted(Status.ACT, f"{one.line.item_name}: {one.problem}.") for one in seen.problems)

    def on_list_table_chosen(self, event: ListTable.Chosen) -> None:
        event.stop()
        self.finish(event.key)

    def action_none_there(self) -> None:
        """Say of the line under the cursor, which was not counted, that nothing is there."""
        key = self.query_one(ListTable).current
        line = next((line for line in self._seen.unread if line.key == key), None) if self._seen else None
        if line is None:
            self.notify("This works on a line that was not counted.", markup=False)
            return
        practice, number = self.practice, self._round_id

        def answered(answer: Confirmed | None) -> None:
            if answer is not None:
                self.signed(lambda by: workers.run(
                    self, lambda: counting.confirm_none(practice, number, [line.key], by=by),
                    lambda _: self.read(), name="none",
                ))  # fmt: skip

        said = f"{item_and_lot(line.item_name, line.lot_number)}, {line.place}: {deeds.what(line, self.work.formats)}."
        dialog = ConfirmDialog("Is nothing of it there?", said, "It counts as none.", yes="Nothing there", no="Back")
        self.app.push_screen(dialog, answered)

    def action_approve(self) -> None:
        seen = self._seen
        if seen is None:
            return
        differs = bool(seen.differences)

        def answered(answer: Confirmed | None) -> None:
            if answer is not None:
                self.signed(lambda by: self._approve(answer.reason, by))

        said = "\n".join(content.plain for content in self._sums(seen))
        todo = "Say why the book was wrong, as far as you know. No patient names." if differs else ""
        dialog = ConfirmDialog(
            f"Approve round {self._round_id}?", said, todo, yes="Approve", no="Not yet", reason=differs
        )
        self.app.push_screen(dialog, answered)

    def _approve(self, reason: str, by: str) -> None:
        practice, number, key = self.practice, self._round_id, self._request_key

        def done(approved: Approved) -> None:
            entry = f"entry {approved.document_id}" if approved.document_id else "the book was right"
            self.notify(f"Round {number} is approved: {entry}.", markup=False)
            self.finish("approved")

        workers.run(
            self, lambda: count_review.approve(practice, number, reason=reason, by=by, request_key=key), done,
            name="approve", busy="Putting the book right",
        )  # fmt: skip
