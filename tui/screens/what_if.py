"""What if a supplier is late, more visits come, or another pack is bought: a question above, the comparison below.

Nothing is written. The items that change stand in a table, the one that fails first on top; figures as they would be,
beside them in grey as they are.
"""

from collections.abc import Iterable, Iterator
from typing import Any

from textual.app import ComposeResult
from textual.binding import Binding
from textual.content import Content
from textual.widgets import Static

from inventory.domain.what_if import Change
from inventory.errors import BadInput, PracticeError
from inventory.service import what_if
from inventory.service.what_if import Choices, Late, More, Pack, Scenario, WhatIf
from tui import text as shown
from tui import what_if_words as words
from tui import workers
from tui.dialogs.choose import ChooseDialog
from tui.dialogs.reading import ReadingDialog
from tui.screens import visit_ways
from tui.screens.base import StepScreen
from tui.theme import Status
from tui.widgets.choice_field import ChoiceField
from tui.widgets.fields import Field, money_field, number_field
from tui.widgets.form import Form
from tui.widgets.table import Column, ListTable, Row

LATE, MORE, PACK = "late", "more", "pack"
ASKED = ((LATE, "a supplier is late"), (MORE, "more visits come"), (PACK, "another pack is bought"))
OF = {LATE: ("supplier", "days"), MORE: ("kind", "visits", "within"), PACK: ("item", "units", "price")}
"""Which fields belong to which question."""


class Question(Form):
    """The question; leaving it loses nothing that anybody would want to save."""

    @property
    def dirty(self) -> bool:
        return False


class WhatIfScreen(StepScreen[None]):
    """Ask, then compare."""

    title_text = "What if"
    on_enter = "Look at all figures of an item"
    cautions = (
        "Nothing is changed or ordered: the weekly check is asked again with your change, and both answers are shown.",
        "A date at which an item runs out is that of the mean use; 'forecast' by command says how sure it is.",
    )
    BINDINGS = [
        Binding("f2,ctrl+s", "compare", "Compare"),
        Binding("v", "visits", "Visits that change"),
        Binding("escape", "leave", "Back"),
    ]

    def __init__(self) -> None:
        super().__init__()
        self._choices: Choices | None = None
        self._found: WhatIf | None = None

    def body(self) -> ComposeResult:
        yield Static("◦ One moment …", id="waiting", classes="muted", markup=False)
        yield Static("", id="summary")
        yield ListTable(
            [
                Column("Item", grow=True, least=18, most=44),
                Column("Runs out", most=12),
                Column("now", most=12),
                Column("Order", right=True),
                Column("now", right=True),
                Column("No stock", right=True, most=9),
                Column("Expires", right=True, spare=2),
                Column("now", right=True, spare=2),
                Column("Cost", right=True, spare=1),
                Column("now", right=True, spare=1),
            ],
            empty="Ask above, then F2: the items that change will stand here.",
        )

    def read(self) -> None:
        if self._choices is None:
            practice = self.practice

            def then(found: Choices) -> None:
                self.call_later(self._fill, found)

            workers.run(self, lambda: what_if.choices(practice), then, name="choices")

    async def _fill(self, choices: Choices) -> None:
        self._choices = choices
        self.it_is(choices.today)
        await self.query_one("#waiting").remove()
        await self.mount(Question(*self._fields(choices)), before=self.query_one("#summary"))
        self._fit()
        self.query_one(Form).fields[0].focus_input()

    def _fields(self, choices: Choices) -> Iterable[Field[Any]]:
        suppliers = [(name, name) for name in choices.suppliers]
        kinds = list(choices.kinds)
        items = [(code, f"{code} {name}") for code, name, _ in choices.items]
        yield ChoiceField("What if", ASKED, chosen=LATE, hint="Down for the list", id="asked")
        yield ChoiceField("Supplier", suppliers, chosen=next(iter(choices.suppliers), None), id="supplier")
        yield number_field("Days late", text="14", least=1, id="days")
        yield ChoiceField("Kind of visit", kinds, chosen=kinds[0][0] if kinds else None, id="kind")
        yield number_field("How many more", text="4", least=1, id="visits")
        yield number_field("Within days", text=str(what_if.WITHIN), least=1, id="within")
        yield ChoiceField("Item", items, hint="Down for the list", id="item")
        yield number_field("Units in a pack", least=1, id="units")
        yield money_field("Price of a pack", needed=False, hint="empty: the known one, or as now a unit", id="price")

    def on_field_changed(self, event: Field.Changed) -> None:
        event.stop()
        if event.field.id == "asked":
            self._fit()
        if event.field.id == "item":
            self._say_pack()

    def _fit(self) -> None:
        """Show the fields of the question asked, and no others."""
        wanted = OF.get(self._asked, ())
        for name in (field for fields in OF.values() for field in fields):
            self.query_one(f"#{name}", Field).display = name in wanted

    def _say_pack(self) -> None:
        """Put the double of the present pack in, to begin with."""
        code = _readable(self.query_one("#item", Field))
        units = next((units for known, _, units in self._choices.items if known == code), 0) if self._choices else 0
        if units:
            self.query_one("#units", Field).fill(str(2 * units))

    @property
    def _asked(self) -> str:
        return _readable(self.query_one("#asked", Field)) or ""

    def action_compare(self) -> None:
        if self._choices is not None:
            self.query_one(Form).submit()

    def on_form_submitted(self, event: Form.Submitted) -> None:
        event.stop()
        practice, scenario = self.practice, self._scenario()
        workers.run(
            self,
            lambda: what_if.what_if(practice, [scenario]),
            self._show,
            name="compare",
            latest=True,
            failed=self._complain,
            busy="Asking the weekly check again",
        )

    def _scenario(self) -> Scenario:
        value: dict[str | None, Any] = {field.id: field.value for field in self.query_one(Form).fields}
        if value["asked"] == LATE:
            return Late(value["supplier"], value["days"])
        if value["asked"] == MORE:
            return More(value["kind"], value["visits"], value["within"])
        return Pack(value["item"], value["units"], value["price"])

    def _complain(self, error: PracticeError) -> bool:
        """A number that makes no sense is said beside the last field."""
        if not isinstance(error, BadInput):
            return False
        self.query_one(Form).fields[-1].complain(error)
        return True

    def _show(self, found: WhatIf) -> None:
        self._found = found
        self.it_is(found.today)
        status = Status.ACT if found.fails_first else Status.OK
        first, *rest = words.summary(found)
        said = [shown.noted(status, first), *(shown.plain(f"  {line}") for line in rest)]
        self.query_one("#summary", Static).update(Content("\n").join(said))
        table = self.query_one(ListTable)
        table.empty = "No item changes."
        table.replace_rows(Row(change, tuple(self._cells(change))) for change in found.changes)
        if found.changes:
            table.focus()

    def _cells(self, change: Change) -> Iterator[str | Content]:
        before, after = change.before, change.after
        formats = self.work.formats
        yield change.name
        yield from _pair(shown.day(after.runs_out, formats), shown.day(before.runs_out, formats))
        yield from _pair(_packs(after.packs), _packs(before.packs))
        gap = f"{after.gap_days} days"
        yield shown.status(Status.ACT, gap) if after.gap_days else shown.muted(shown.NOTHING)
        yield from _pair(
            shown.amount(after.to_expire, change.base, formats), shown.amount(before.to_expire, change.base, formats)
        )
        yield from _pair(shown.money(after.to_expire_cents), shown.money(before.to_expire_cents))

    def on_list_table_chosen(self, event: ListTable.Chosen) -> None:
        change: Change = event.key
        figures = [shown.plain(figure) for figure in words.figures(change)]
        self.app.push_screen(ReadingDialog(f"{change.code}, {change.name}", figures))

    def action_visits(self) -> None:
        if self._found is None or not self._found.visits:
            self.notify("No booked visit changes.", markup=False)
            return
        lines = [(one.visit_id, words.visit(one)) for one in self._found.visits]

        def chosen(visit_id: int | None) -> None:
            if visit_id is not None:
                visit_ways.open_visit(self, visit_id)

        self.app.push_screen(ChooseDialog("Visits that change", lines, "Enter opens the visit"), chosen)


def _packs(number: int) -> str:
    return words.packs(number) if number else shown.NOTHING


def _pair(after: str, before: str) -> tuple[str | Content, Content]:
    """A figure as it would be, and as it is where that differs."""
    return after, shown.muted(before if before != after else "")


def _readable(field: Field[str]) -> str | None:
    """What the field says, where it can be read."""
    try:
        return field.value
    except BadInput:
        return None
