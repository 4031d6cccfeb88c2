"""The form of an order: its packs are typed line by line, and what it comes to changes with every key.

The field below the lines always belongs to the line under the cursor; Up and Down go to another one. Each line says how
long its stock will last with the packs typed, F3 why it is there.
"""

from collections.abc import Iterator
from dataclasses import dataclass, replace
from datetime import date

from textual.app import ComposeResult
from textual.binding import Binding
from textual.containers import Vertical
from textual.content import Content
from textual.widgets import Static

from inventory.domain import ordering as sums
from inventory.domain.quantity import show
from inventory.domain.why import Derivation
from inventory.errors import BadInput
from inventory.service import ordering
from inventory.service.ordering import Wanted
from inventory.service.orders import Order
from inventory.service.proposing import ProposedLine, ProposedOrder
from tui import text as shown
from tui import workers
from tui.dialogs.reading import WhyDialog
from tui.dialogs.save import SaveDialog
from tui.screens.base import StepScreen
from tui.theme import Status
from tui.widgets.fields import Field, number_field
from tui.widgets.table import Column, ListTable, Row


@dataclass(frozen=True)
class Typed:
    """A line of the form: the item as its supplier's basket has it, the packs that the order began with and has now."""

    line: ProposedLine
    before: int
    packs: int
    why: tuple[Derivation, ...]

    @property
    def cents(self) -> int:
        """Price of the packs typed."""
        return self.line.supply.price(self.packs)

    def lasts(self, today: date) -> date | None:
        """Until when the stock lasts with the packs typed."""
        return self.line.lasts_until(today, self.packs)

    @property
    def warning(self) -> str:
        """What speaks against so many packs, or so few; empty where nothing does."""
        if self.packs > max(1, self.line.most) and self.line.daily:
            return f"Use takes about {shown.count(self.line.most, 'pack')} before they expire."
        if self.line.reorder_point and self.line.counted + self.packs * self.line.pack_qty <= self.line.reorder_point:
            return "With this the stock is still at or under its reorder point."
        return ""


class OrderFormScreen(StepScreen[Order]):
    """The order while it is written; answers the draft as it was saved.

    Args:
        proposed: what is proposed for the supplier, its other items included.
        order: the draft to change; None writes a new one.
    """

    title_text = "Order"
    cautions = (
        "Saving writes a draft. Nothing is sent by the program, and nothing is on order before it is marked as sent.",
    )
    BINDINGS = [
        Binding("up", "move(-1)", "Line above", show=False),
        Binding("down", "move(1)", "Line below", show=False),
        Binding("f3,w", "why", "Why"),
        Binding("f4", "proposed", "As proposed"),
        Binding("f2,ctrl+s", "save", "Save the draft"),
        Binding("escape", "leave", "Back"),
    ]

    def __init__(self, proposed: ProposedOrder, order: Order | None = None) -> None:
        super().__init__()
        self._proposed, self._order = proposed, order
        written = {line.code: line for line in order.lines} if order is not None else {}
        self._lines: dict[str, Typed] = {}
        for line in proposed.lines:
            known = written.get(line.code)
            packs = line.packs if order is None else known.packs if known else 0
            self._lines[line.code] = Typed(line, packs, packs, known.why if known and known.why else line.why)

    @property
    def dirty(self) -> bool:
        """Whether packs were typed that are not saved."""
        return any(line.packs != line.before for line in self._lines.values())

    def body(self) -> ComposeResult:
        name = f"Order {self._order.number}" if self._order else "New order"
        yield Static(Content(shown.clean(f"{name}, {self._proposed.supplier}")), classes="heading")
        yield ListTable(
            [
                Column("Packs", right=True),
                Column("Article", grow=True, least=18, most=50),
                Column("A pack holds", spare=2, most=18),
                Column("Price", right=True),
                Column("Lasts until", most=16),
                Column("Proposed", right=True, spare=1),
            ],
            empty="This supplier sells nothing.",
        )
        yield number_field("Packs", id="typing", hint="Up and Down: another line")
        yield Static("", id="line-said")
        with Vertical(classes="panel", id="sum") as panel:
            panel.border_title = "The order"
            yield Static("", id="sum-said")

    def on_mount(self) -> None:
        self._show()
        self._to_line()
        self._typing.focus_input()

    @property
    def _typing(self) -> Field[int]:
        return self.query_one("#typing", Field)

    @property
    def _current(self) -> Typed | None:
        key = self.query_one(ListTable).current
        return self._lines.get(key) if key is not None else None

    # lines and sums

    def _show(self) -> None:
        self.query_one(ListTable).replace_rows(Row(code, self._cells(line)) for code, line in self._lines.items())
        self._tell()

    def _cells(self, line: Typed) -> tuple[str | Content, ...]:
        supply, today = line.line.supply, self.work.today
        lasts = line.lasts(today)
        if lasts is None:
            until: str | Content = "not used" if not line.line.daily else "for years"
        else:
            status = Status.ACT if lasts < line.line.until else Status.OK
            until = shown.status(status, shown.day(lasts, self.work.formats))
        proposed = f"{line.line.packs} ({line.line.added} added)" if line.line.added else str(line.line.packs or "")
        return (
            str(line.packs or ""),
            line.line.name,
            f"{supply.units_per_pack} x {line.line.unit_name}",
            shown.money(line.cents, self.work.formats) if line.packs else "",
            until,
            proposed,
        )

    def _tell(self) -> None:
        self.query_one("#sum-said", Static).update(Content("\n").join(self._sums()))
        line = self._current
        self.query_one("#line-said", Static).update(Content("\n").join(self._about(line)) if line else Content(""))

    def _sums(self) -> Iterator[Content]:
        terms = self._proposed.terms
        found = sums.order_sum(terms, (line.cents for line in self._lines.values()))
        status = Status.ACT if found.to_minimum_cents else Status.WATCH if found.to_free_cents else Status.OK
        yield shown.noted(status, sums.told(terms, found))
        if self._proposed.added_for and not self.dirty:
            yield shown.muted(f"Added {self._proposed.added_for}: {self._proposed.told_additions}.")
        yield from (shown.noted(Status.WATCH, warning) for warning in self._proposed.warnings)

    def _about(self, line: Typed) -> Iterator[Content]:
        one = line.line
        there = f"{show(one.counted, one.base)} there and on order, reorder point {show(one.reorder_point, one.base)}"
        more = f"; with {show(line.packs * one.pack_qty, one.base)} more it lasts" if line.packs else "; it lasts"
        lasts = line.lasts(self.work.today)
        until = f"{more} until {shown.day(lasts, self.work.formats)}" if lasts else ""
        yield shown.muted(f"{there}{until}.")
        if line.warning:
            yield shown.noted(Status.WATCH, line.warning)

    # typing

    def on_field_changed(self, event: Field.Changed) -> None:
        event.stop()
        line = self._current
        if line is None:
            return
        try:
            packs = event.field.value or 0
        except BadInput:
            return
        if packs != line.packs and packs <= ordering.MOST_PACKS:
            self._lines[line.line.code] = replace(line, packs=packs)
            self._show()

    def on_field_entered(self, event: Field.Entered) -> None:
        event.stop()
        self.action_move(1)

    def action_move(self, by: int) -> None:
        table = self.query_one(ListTable)
        at = table.cursor_row + by
        if 0 <= at < len(table.keys):
            table.select(table.keys[at])
            self._to_line()

    def on_list_table_moved(self, event: ListTable.Moved) -> None:
        event.stop()
        self._to_line()

    def on_list_table_chosen(self, event: ListTable.Chosen) -> None:
        event.stop()
        self._to_line()
        self._typing.focus_input()

    def _to_line(self) -> None:
        """The field below belongs to the line under the cursor."""
        line = self._current
        if line is not None and self._typing.text != str(line.packs):
            self._typing.fill(str(line.packs))
        self._typing.input.select_all()
        self._tell()

    def action_proposed(self) -> None:
        """All packs as they are proposed."""
        self._lines = {code: replace(line, packs=line.line.packs) for code, line in self._lines.items()}
        self._show()
        self._to_line()

    def action_why(self) -> None:
        line = self._current
        if line is not None:
            whole = list(self._proposed.why)
            self.app.push_screen(WhyDialog(f"Why: {line.line.name}", [*line.why, *whole]))

    # saving

    def action_save(self) -> None:
        if not self._typing.check():
            return
        kept = [line for line in self._lines.values() if line.packs]
        if not kept:
            self.notify("Nothing is ordered yet: type the packs of a line.", markup=False)
            return
        said = "\n".join(f"{shown.count(line.packs, 'pack')}  {line.line.name}" for line in kept)

        def answered(yes: bool | None) -> None:
            if yes:
                self.signed(lambda by: self._save(kept, by))

        parts = [shown.plain(said), *self._sums()]
        self.app.push_screen(SaveDialog(f"Save as a draft for {self._proposed.supplier}?", parts), answered)

    def _save(self, kept: list[Typed], by: str) -> None:
        practice, supplier, order = self.practice, self._proposed.supplier, self._order
        if order is not None:
            packs = {code: line.packs for code, line in self._lines.items() if line.packs != line.before}
            workers.run(
                self, lambda: ordering.edit(practice, order.number, packs, version=order.version, by=by),
                self.finish, name="save", busy="Saving",
            )  # fmt: skip
            return
        wanted = [Wanted(line.line.code, line.packs, line.line.supply.units_per_pack, line.why) for line in kept]
        workers.run(
            self,
            lambda: ordering.draft(practice, supplier, wanted, by=by),
            self.finish,
            name="save",
            again=lambda _: ordering.draft(practice, supplier, wanted, by=by, confirmed=True),
            busy="Saving",
        )
