"""Rounds of counting: those that are open first; Enter goes on with one, n begins another."""

from pathlib import Path

from textual.app import ComposeResult
from textual.binding import Binding
from textual.content import Content
from textual.widgets import Static

from inventory.domain.vocabulary import ItemKind
from inventory.errors import BadInput
from inventory.service import count_sheets, counting
from inventory.service.count_sheet import RoundCard
from inventory.service.count_shelves import Scope
from inventory.service.counting import Choices
from inventory.service.practice import Practice
from tui import text as shown
from tui import workers
from tui.dialogs.ask import AskDialog
from tui.dialogs.confirm import ConfirmDialog, Confirmed
from tui.screens.base import StepScreen, StockScreen
from tui.screens.counting_round import CountScreen
from tui.theme import Status
from tui.widgets.choice_field import ChoiceField
from tui.widgets.fields import text_field
from tui.widgets.table import Column, ListTable, Row

STATES = {"open": Status.WATCH, "approved": Status.OK, "dropped": Status.BLOCKED, "undone": Status.BLOCKED}
KINDS = {
    ItemKind.IMPRESSION: "impression materials",
    ItemKind.BITE: "bite registration materials",
    ItemKind.TRAY: "trays",
    ItemKind.TIP: "mixing tips",
    ItemKind.ACCESSORY: "accessories",
}
ALL, BLIND, FAMILY = "all", "blind", "family "


class CountRoundsScreen(StepScreen[None]):
    """All rounds."""

    title_text = "Count stock"
    on_enter = "Go on with an open round; of another one see what it changed"
    cautions = (
        "Nothing changes in the book before a round is approved; work can go on.",
        "In a blind round nobody who counts is shown what the book expects.",
    )
    BINDINGS = [
        Binding("n", "start", "New round"),
        Binding("p", "sheet", "Sheet"),
        Binding("x", "drop", "Drop"),
        Binding("escape", "leave", "Back"),
    ]

    def __init__(self) -> None:
        super().__init__()
        self._seen: dict[int, RoundCard] = {}

    def body(self) -> ComposeResult:
        yield Static("Rounds of counting", classes="heading")
        yield ListTable(
            [
                Column("State", most=12),
                Column("Round", right=True),
                Column("Counted", grow=True, least=20, most=60),
                Column("Begun", most=12),
                Column("By", most=8),
                Column("Lines read", right=True),
                Column("", most=6, spare=1),
            ],
            empty="◦ Looking for rounds …",
        )
        yield Static(Content(self.cautions[0]), classes="caution")

    def on_mount(self) -> None:
        self.query_one(ListTable).focus()

    def read(self) -> None:
        practice = self.practice
        workers.run(self, lambda: counting.rounds(practice), self._show, name="rounds", latest=True)

    def _show(self, seen: tuple[RoundCard, ...]) -> None:
        self._seen = {card.round_id: card for card in sorted(seen, key=lambda card: not card.open)}
        table = self.query_one(ListTable)
        table.empty = "Nothing was counted in a round yet: n begins one."
        table.replace_rows(Row(number, self._cells(card)) for number, card in self._seen.items())

    def _cells(self, card: RoundCard) -> tuple[str | Content, ...]:
        return (
            shown.status(STATES[card.state], card.state),
            str(card.round_id),
            scope_words(card.scope),
            shown.day(card.started_at.date(), self.work.formats),
            card.by,
            str(card.counted),
            BLIND if card.blind else "",
        )

    @property
    def _card(self) -> RoundCard | None:
        return self._seen.get(self.query_one(ListTable).current or 0)

    def on_list_table_chosen(self, event: ListTable.Chosen) -> None:
        event.stop()
        card = self._seen[event.key]
        if card.open:
            self.app.push_screen(CountScreen(card))
        elif card.document_id is not None:
            self.notify(f"Entry {card.document_id} in the history shows what it changed.", markup=False)
        else:
            word = "The book was right." if card.state == "approved" else "It changed nothing."
            self.notify(f"{word} Nothing was posted.", markup=False)

    def action_start(self) -> None:
        """Ask what is to be counted, then begin."""
        practice = self.practice
        workers.run(self, lambda: counting.choices(practice), self._ask, name="choices")

    def _ask(self, choices: Choices) -> None:
        places = [(ALL, "everywhere"), *((name, name) for name in choices.places)]
        groups = [(ALL, "everything"), *((kind.value, name) for kind, name in KINDS.items())]
        groups += [(f"{FAMILY}{family}", f"all of {family}") for family in choices.families]
        place = ChoiceField("Where", places, chosen=ALL, hint="Down for the list", id="place")
        group = ChoiceField("What", groups, chosen=ALL, hint="Down for the list", id="group")
        book = [(BLIND, "hidden while counting (blind)"), ("shown", "shown on the sheet")]
        blind: ChoiceField[str] = ChoiceField("The book", book, chosen=BLIND, hint="Down for the list", id="blind")

        def taken() -> tuple[Scope, bool]:
            return _scope(place.value or ALL, group.value or ALL), blind.value != "shown"

        def answered(asked: tuple[Scope, bool] | None) -> None:
            if asked is not None:
                self.signed(lambda by: self._start(*asked, by))

        dialog = AskDialog("What is counted?", [place, group, blind], taken, yes="Begin")
        self.app.push_screen(dialog, answered)

    def _start(self, scope: Scope, blind: bool, by: str) -> None:
        practice = self.practice
        workers.run(
            self,
            lambda: counting.start(practice, scope, blind=blind, by=by),
            lambda card: self.app.push_screen(CountScreen(card)),
            name="start",
        )

    def action_sheet(self) -> None:
        if (card := self._card) is not None:
            sheet(self, card.round_id)

    def action_drop(self) -> None:
        card = self._card
        if card is None or not card.open:
            self.notify("Only an open round can be dropped.", markup=False)
            return
        practice, number = self.practice, card.round_id

        def answered(answer: Confirmed | None) -> None:
            if answer is not None:
                self.signed(lambda by: workers.run(
                    self, lambda: counting.drop(practice, number, reason=answer.reason, by=by),
                    lambda _: self.read(), name="drop",
                ))  # fmt: skip

        dialog = ConfirmDialog(
            f"Drop round {number}?", f"{shown.count(card.counted, 'line')} were read; the book stays as it is.",
            "What was read stays on record.", yes="Drop", no="Keep", reason=True,
        )  # fmt: skip
        self.app.push_screen(dialog, answered)


def scope_words(scope: Scope) -> str:
    """What a round counts, in words."""
    groups = ", ".join((*(KINDS[kind] for kind in scope.kinds), *scope.families, *scope.items)) or "everything"
    return f"{groups} at {', '.join(scope.places)}" if scope.places else groups


def _scope(place: str, group: str) -> Scope:
    places = () if place == ALL else (place,)
    if group.startswith(FAMILY):
        return Scope(places, families=(group.removeprefix(FAMILY),))
    return Scope(places, kinds=() if group == ALL else (ItemKind(group),))


def sheet(screen: StockScreen, round_id: int) -> None:
    """Ask for a file's name and write the round's sheet there."""
    practice = screen.practice
    name = str(Path.home() / f"count-{round_id}.pdf")
    path = text_field("File", text=name, hint=f"ends in .{', .'.join(count_sheets.FORMATS)}", id="file")

    def taken() -> Path:
        written = Path(path.text).expanduser()
        if written.suffix.removeprefix(".").lower() not in count_sheets.FORMATS:
            raise BadInput(f"file: the name ends in none of .{', .'.join(count_sheets.FORMATS)}.")
        return written

    def answered(file: Path | None) -> None:
        if file is not None:
            workers.run(
                screen, lambda: _write(practice, round_id, file),
                lambda _: screen.notify(f"Written to {file}.", markup=False, timeout=8), name="sheet",
            )  # fmt: skip

    question = "To take along to the shelves; what was read so far stands in it."
    screen.app.push_screen(
        AskDialog(f"Write the sheet of round {round_id}", [path], taken, question=question, yes="Write"), answered
    )


def _write(practice: Practice, round_id: int, file: Path) -> None:
    """Write the sheet; runs in a thread. A file that is there already is not written over."""
    content = count_sheets.written(practice, round_id, file.suffix.removeprefix(".").lower())
    try:
        with file.open("xb") as out:
            out.write(content)
    except OSError as error:
        raise BadInput(f"{file} can't be written: {error.strerror}.", "Name a file that is new.") from None
