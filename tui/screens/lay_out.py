"""The lay-out list of a visit still to come: what to put ready, lot by lot, as the issue order proposes it.

Visits of one day share the stock in their order, so the list is that of the whole day, of which one visit is shown.
"""

from collections import defaultdict
from collections.abc import Iterator

from textual.app import ComposeResult
from textual.binding import Binding
from textual.content import Content
from textual.widgets import Static

from inventory.domain.vocabulary import BaseUnit
from inventory.errors import NotFound
from inventory.service import laying_out
from inventory.service.laying_out import Form, FormLine
from inventory.service.practice import Practice
from inventory.service.visits import VisitCard
from tui import text as shown
from tui import workers
from tui.screens import book_out_lines as lines_words
from tui.screens import visit_words
from tui.screens.base import CAUTION, StepScreen
from tui.screens.book_out import BookOutScreen
from tui.screens.visit_deeds import cancel, change
from tui.text import Formats
from tui.theme import Status
from tui.widgets.table import Column, ListTable, Row


class LayOutScreen(StepScreen[object]):
    """What to put ready for one visit; answers something where the visit was changed, cancelled or booked."""

    title_text = "Lay-out list"
    cautions = (
        CAUTION,
        "Lots are only proposed; nothing is reserved. What was really used is booked out after the visit.",
    )
    BINDINGS = [
        Binding("b", "book_out", "Book out"),
        Binding("e", "change", "Change"),
        Binding("x", "cancel_visit", "Cancel the visit"),
        Binding("escape", "leave", "Back"),
    ]

    def __init__(self, card: VisitCard) -> None:
        super().__init__()
        self._card = card
        self._handed_over = False  # to a screen that may end what this one is about

    def body(self) -> ComposeResult:
        yield Static(classes="heading")
        yield ListTable(
            [
                Column("Take", right=True, most=22),
                Column("Article", grow=True, least=16),
                Column("Lot", most=24),
                Column("Use by", spare=1),
                Column("From", most=20),
                Column("For", grow=True, least=10, spare=2),
            ],
            empty="◦ Looking through the stock …",
        )
        yield Static(id="said")
        yield Static(Content(CAUTION), classes="caution")

    def on_mount(self) -> None:
        self.query_one(ListTable).focus()

    def read(self) -> None:
        if self._handed_over:
            return
        practice, card = self.practice, self._card
        workers.run(self, lambda: _seen(practice, card), self._show, name="list", latest=True, failed=self.leave_with)

    def _show(self, seen: tuple[Form, dict[int, str]]) -> None:
        form, elsewhere = seen
        self._card = form.visit
        self.it_is(form.today)
        day = shown.near_day(form.visit.on, form.today, self.work.formats)
        heading = f"Lay out {form.visit.case_ref} · {day} · {form.place} · {visit_words.arches(form.visit)}"
        self.query_one(".heading", Static).update(Content(shown.clean(heading)))
        table = self.query_one(ListTable)
        table.empty = "This visit needs nothing from stock."
        table.replace_rows(Row(at, cells) for at, cells in enumerate(_rows(form, elsewhere, self.work.formats)))
        self.query_one("#said", Static).update(_said(form))

    def action_book_out(self) -> None:
        self._handed_over = True
        self.app.push_screen(BookOutScreen(self._card.visit_id), self._left_with)

    def action_change(self) -> None:
        self._handed_over = True
        change(self, self._card, self._left_with)

    def action_cancel_visit(self) -> None:
        cancel(self, self._card, lambda: self.finish(self._card))

    def _left_with(self, result: object) -> None:
        """A visit that was changed or booked is not what this list shows any more."""
        self._handed_over = False
        if result is None:
            self.read()
        else:
            self.finish(result)


def _seen(practice: Practice, card: VisitCard) -> tuple[Form, dict[int, str]]:
    """The visit's list among those of its day, and where articles that it lacks stand otherwise; runs in a thread."""
    for form in laying_out.lay_out(practice, card.on):
        if form.visit.visit_id == card.visit_id:
            lacking = {line.item_id for line in form.lines if line.missing and line.item_id is not None}
            usable = [lot for lot in laying_out.choices(practice, form.place, lacking) if lot.late is None]
            # what still stands where this visit is served from is too little, or for the visits before it
            served_from = {form.place, *(line.place for line in form.lines)}
            return form, {lot.item_id: lot.place for lot in reversed(usable) if lot.place not in served_from}
    raise NotFound(f"The visit of {card.case_ref} is not planned for that day any more.", "Open it again.")


def _said(form: Form) -> Content:
    """What is missing, what of it comes, and what stands in for a first choice."""
    missing = {line.item for line in form.lines if line.missing}
    if missing:
        what = f"{shown.count(len(missing), 'article')} missing at {form.place}"
        said = [shown.noted(Status.ACT, f"{what}: bring, order, or plan the visit at another place.")]
        comes = dict.fromkeys(f"{line.item}: {line.comes}." for line in form.lines if line.comes)
        return Content("\n").join([*said, *(shown.noted(Status.WATCH, line) for line in (*comes, *form.mind))])
    return Content("\n").join([shown.noted(Status.WATCH, warning) for warning in form.mind])


def _rows(form: Form, elsewhere: dict[int, str], formats: Formats) -> Iterator[tuple[str | Content, ...]]:
    """A row for each lot at each place; what is missing first."""
    lots: dict[tuple[object, ...], list[FormLine]] = defaultdict(list)
    for line in form.lines:
        lots[line.place, line.item, line.holding_id, bool(line.missing)].append(line)
    for lines in sorted(lots.values(), key=lambda lines: (not lines[0].missing, lines[0].place, lines[0].item)):
        first = lines[0]
        steps = ", ".join(dict.fromkeys(_step(line) for line in lines))
        if first.missing:
            lot: str | Content = shown.status(Status.ACT, "missing" if first.item_id else "not known yet")
            hint = f"see {place}" if (place := elsewhere.get(first.item_id or 0)) else first.comes
            yield _missing(lines, formats), first.item, lot, "", hint, steps
        else:
            number = lines_words.numbered(first.lot_number)
            use_by = shown.use_by(first.use_by, first.use_by_read, formats) if number == first.lot_number else number
            item = shown.noted(Status.WATCH, f"{first.item}, instead") if first.substitute else first.item
            yield _take(lines), item, number, use_by, first.place, steps


def _step(line: FormLine) -> str:
    return f"{line.step_name} {visit_words.ARCH[line.arch]}" if line.arch else line.step_name


def _missing(lines: list[FormLine], formats: Formats) -> str:
    return shown.amount(sum(line.missing for line in lines), lines[0].base, formats)


def _take(lines: list[FormLine]) -> str:
    """How many pieces or new units to take, or that it stands open already."""
    if lines[0].base is BaseUnit.PIECE:
        return str(sum(line.qty for line in lines))
    new = sum(line.opens for line in lines)
    if new:
        return f"{new} new {lines[0].unit_name}"
    return "opened that day" if any(line.fresh for line in lines) else "the opened one"
