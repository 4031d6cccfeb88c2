"""What steps take: default, in use now, learned and from what; a person accepts, pins or resets each figure."""

from collections.abc import Callable

from textual.app import ComposeResult
from textual.binding import Binding
from textual.containers import Vertical
from textual.content import Content
from textual.widgets import Static

from inventory.domain.quantity import PER_SIGN, SIGNS, parse_decimal, show
from inventory.domain.vocabulary import EstimateSource
from inventory.service import learning
from inventory.service.learning import Learned
from tui import estimate_words as words
from tui import text as shown
from tui import workers
from tui.dialogs.ask import AskDialog
from tui.dialogs.confirm import ConfirmDialog, Confirmed
from tui.dialogs.reading import WhyDialog
from tui.screens.base import StepScreen
from tui.theme import Status
from tui.widgets.fields import Field, text_field
from tui.widgets.table import Column, ListTable, Row


class EstimatesScreen(StepScreen[None]):
    """Every step of every kind of visit that takes material, in order."""

    title_text = "What steps take"
    on_enter = "Why a figure is what it is"
    cautions = (
        "Net use of one attempt: what stays in the tip and the purge come on top.",
        "Nothing changes by itself: what was learned is used once somebody accepts it.",
        "Learned from rounds of counting that read everything of an article, and from amounts entered in forms.",
    )
    BINDINGS = [
        Binding("w", "why", "Why"),
        Binding("y", "accept", "Accept"),
        Binding("p", "pin", "Pin"),
        Binding("r", "reset", "Reset"),
        Binding("a", "read_again", "Read again", show=False),
        Binding("escape", "leave", "Back"),
    ]

    def __init__(self) -> None:
        super().__init__()
        self._found: tuple[Learned, ...] = ()

    def body(self) -> ComposeResult:
        yield ListTable(
            [
                Column("Kind of visit, step", grow=True, least=26, most=58),
                Column("Default", right=True, most=10, spare=1),
                Column("Now", right=True, most=10),
                Column("Learned", right=True, most=10),
                Column("90 of 100", right=True, most=18, spare=2),
                Column("Counts", right=True),
                Column("Entered", right=True),
                Column("", most=12),
            ],
            empty="◦ Asking counts and entries …",
        )
        with Vertical(classes="panel", id="detail") as panel:
            panel.border_title = "This step"
            yield Static("", id="figures")
            yield Static("", id="behind")
            yield Static("", id="sum")
            yield Static("", id="left-out")

    def on_mount(self) -> None:
        self.query_one(ListTable).focus()

    def read(self) -> None:
        practice = self.practice
        workers.run(
            self, lambda: learning.learned(practice), self._show, name="estimates", latest=True,
            busy="Asking counts and entries",
        )  # fmt: skip

    def action_read_again(self) -> None:
        self.read()

    def _show(self, found: tuple[Learned, ...]) -> None:
        self._found = found
        table = self.query_one(ListTable)
        table.empty = "No kind of visit has a step that takes material."
        first_look = table.current is None
        rows: list[Row[int | str]] = []
        for one in found:
            if one.case_kind not in {row.key for row in rows}:
                rows.append(Row(one.case_kind, (shown.plain(one.case_kind_name, "bold"), *[""] * 7)))
            rows.append(Row(one.need_id, self._cells(one)))
        table.replace_rows(rows)
        if first_look and found:
            table.select(found[0].need_id)
        self._tell(self._one)

    def _cells(self, one: Learned) -> tuple[str | Content, ...]:
        unit, seen = one.base, one.observations > 0
        between = f"{show(one.low, unit).partition(' ')[0]} to {show(one.high, unit)}" if seen else shown.NOTHING
        return (
            f" {words.name(one)}", show(one.default.qty, unit), show(one.current.qty, unit),
            show(one.learned.qty, unit) if seen else shown.NOTHING, between,
            str(one.counts or shown.NOTHING), str(one.entered or shown.NOTHING), _state(one),
        )  # fmt: skip

    @property
    def _one(self) -> Learned | None:
        number = self.query_one(ListTable).current
        return next((one for one in self._found if one.need_id == number), None)

    def on_list_table_moved(self, event: ListTable.Moved) -> None:
        event.stop()
        self._tell(self._one)

    def _tell(self, one: Learned | None) -> None:
        """Say of the line under the cursor what does not fit into it."""
        said = ("", "", "", "") if one is None else (_figures(one), _behind(one), self._sum(one), words.left_out(one))
        for name, text in zip(("figures", "behind", "sum", "left-out"), said, strict=True):
            self.query_one(f"#{name}", Static).update(shown.plain(_sentence(text)))
            self.query_one(f"#{name}").display = bool(text)
        self.query_one("#detail").border_title = shown.clean(words.name(one)) if one else "This step"

    def _sum(self, one: Learned) -> str:
        """Where only a sum is known: in words, with the other steps by their names."""
        names = {
            each.need_id: words.name(each) + (f" ({each.case_kind_name})" if each.case_kind != one.case_kind else "")
            for each in self._found
        }
        return words.together(one, names)

    def on_list_table_chosen(self, event: ListTable.Chosen) -> None:
        event.stop()
        self.action_why()

    # Deeds

    def action_why(self) -> None:
        """The arithmetic, and what was left out."""
        if (one := self._one) is not None:
            far = [words.far_amount(each, one) for each in one.left_out]
            far += [words.far_count(each, one) for each in one.far_counts]
            note = "\n".join(filter(None, (self._sum(one), *far)))
            self.app.push_screen(WhyDialog(f"Why: {words.name(one)}", list(one.why), note=note))

    def action_accept(self) -> None:
        """Use what was learned from now on."""
        one = self._one
        if one is None:
            return
        if not one.to_accept:
            self._say(_nothing_to_accept(one))
            return
        message = f"{words.name(one)}: {show(one.learned.qty, one.base)} instead of {show(one.current.qty, one.base)}."
        dialog = ConfirmDialog(
            "Use what was learned?", message, _sentence(_behind(one)), yes="Accept", no="Leave", reason=True
        )
        practice, number = self.practice, one.need_id
        self._ask(dialog, lambda by, reason: learning.accept(practice, number, by=by, reason=reason), "is used now")

    def action_reset(self) -> None:
        """Go back to the default."""
        one = self._one
        if one is None:
            return
        message = (
            f"{words.name(one)}: back to {show(one.default.qty, one.base)}; what was observed so far is forgotten."
        )
        dialog = ConfirmDialog("Back to the default?", message, yes="Reset", no="Keep", reason=True)
        practice, number = self.practice, one.need_id
        self._ask(dialog, lambda by, reason: learning.reset(practice, number, by=by, reason=reason), "is used again")

    def action_pin(self) -> None:
        """Say what the step takes, whatever is learned."""
        one = self._one
        if one is None:
            return
        per, sign = PER_SIGN[one.base], SIGNS[one.base]

        def amount(label: str, qty: int, name: str) -> Field[int]:
            text = show(qty, one.base).partition(" ")[0]
            return Field(label, lambda typed: parse_decimal(typed, per, label), text=text, hint=sign, id=name)

        mean, spread = amount(f"Takes, {sign}", one.current.qty, "mean"), amount("Spread", one.current.sd, "spread")
        reason = text_field("Reason", hint="no patient names", id="reason")
        practice, number = self.practice, one.need_id
        dialog: AskDialog[tuple[int, int, str]] = AskDialog(
            f"Pin {words.name(one)}", [mean, spread, reason],
            lambda: (mean.value or 0, spread.value or 0, reason.value or ""),
            question="Net use of one attempt, and its spread from case to case. It stays, whatever is learned.",
            yes="Pin",
        )  # fmt: skip

        def answered(typed: tuple[int, int, str] | None) -> None:
            if typed is not None:
                qty, sd, why = typed
                self._post(lambda by: learning.pin(practice, number, qty, sd, by=by, reason=why), "is pinned")

        self.app.push_screen(dialog, answered)

    def _ask(self, dialog: ConfirmDialog, deed: Callable[[str, str], Learned], done: str) -> None:
        def answered(answer: Confirmed | None) -> None:
            if answer is not None:
                self._post(lambda by: deed(by, answer.reason), done)

        self.app.push_screen(dialog, answered)

    def _post(self, deed: Callable[[str], Learned], done: str) -> None:
        def told(one: Learned) -> None:
            self._say(f"{words.name(one)}: {show(one.current.qty, one.base)} {done}.")
            self.read()

        self.signed(lambda by: workers.run(self, lambda: deed(by), told, name="decide"))

    def _say(self, sentence: str) -> None:
        self.notify(shown.clean(sentence), markup=False)


def _state(one: Learned) -> Content:
    if one.source is EstimateSource.PINNED:
        return shown.status(Status.OK, "pinned")
    if one.to_accept:
        return shown.status(Status.WATCH, "sum only" if one.together else "accept?")
    return shown.status(Status.OK, "accepted") if one.source is EstimateSource.LEARNED else shown.muted("")


def _sentence(text: str) -> str:
    return text[:1].upper() + text[1:]


def _figures(one: Learned) -> str:
    unit = one.base
    now = f"now {show(one.current.qty, unit)}, spread {show(one.current.sd, unit)} ({one.source.value})"
    return f"{now}; learned {words.learned(one)}" if one.observations else f"{now}; nothing learned yet"


def _behind(one: Learned) -> str:
    if not one.observations:
        return "count everything of its article in two rounds, or enter what it took in a form"
    attempts = f" with {one.attempts} attempts" if one.counts else ""
    return f"from {words.behind(one)}{attempts}; it counts for {one.weight} observed cases"


def _nothing_to_accept(one: Learned) -> str:
    if one.pinned is not None:
        return f"{words.name(one)} is pinned: reset it first, or pin another figure."
    if not one.observations:
        return f"{words.name(one)}: nothing was learned yet."
    return f"{words.name(one)}: what was learned is in use already."
