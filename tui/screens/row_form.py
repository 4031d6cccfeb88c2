"""Type in by hand what a file could bring as a row: an item, a pack and its price, a supplier, opening stock.

The form has a field for each column of that kind of file, with the column's own explanation beside it, and is read by
the same rules: what is wrong is said at its field. It is tried before it is saved, and asks once.
"""

import csv
import io
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

from textual.app import ComposeResult
from textual.binding import Binding
from textual.content import Content
from textual.widgets import Static

from inventory.errors import BadInput, PracticeError, RowErrors
from inventory.service import importing
from inventory.service.importing import Imported
from tui import text as shown
from tui import workers
from tui.dialogs.save import SaveDialog
from tui.screens.base import StepScreen
from tui.theme import Status
from tui.widgets.choice_field import ChoiceField
from tui.widgets.fields import Field, text_field
from tui.widgets.form import Form

YES_NO = ("yes", "no")


@dataclass(frozen=True)
class RowKind:
    """How a kind of file is typed in.

    Attributes:
        kind: one of `importing.KINDS`.
        heading: the verb, for the head and for help.
        labels: other names for columns than their own.
        choices: what can be chosen in a column.
        fixed: columns that the person does not see, and what stands in them.
        values: what the fields begin with.
        wanted: whether a column is asked for, given what the others say.
        update: whether what is known already is changed.
        caution: one line below, shown while the column ``about`` is asked for, where that names one.
    """

    kind: str
    heading: str
    labels: Mapping[str, str] = field(default_factory=dict)
    choices: Mapping[str, Sequence[str]] = field(default_factory=dict)
    fixed: Mapping[str, str] = field(default_factory=dict)
    values: Mapping[str, str] = field(default_factory=dict)
    wanted: Callable[[str, Mapping[str, str]], bool] = lambda _, __: True
    update: bool = False
    caution: str = ""
    about: str = ""


class RowForm(StepScreen[Imported]):
    """The form of one row; answers what was saved."""

    BINDINGS = [Binding("f2,ctrl+s", "save", "Save"), Binding("escape", "leave", "Back")]

    def __init__(self, row: RowKind) -> None:
        super().__init__()
        self._row = row
        self.title_text = row.heading
        self.cautions = (row.caution,) if row.caution else ()
        columns = importing.KINDS[row.kind].columns
        self._fields: dict[str, Field[str]] = {
            column.name: self._field(column.name, column.help, needed=column.needed)
            for column in columns
            if column.name not in row.fixed
        }

    def _field(self, name: str, hint: str, *, needed: bool) -> Field[str]:
        label = self._row.labels.get(name, name.replace("_", " ").capitalize())
        value = self._row.values.get(name, "")
        names = self._row.choices.get(name)
        if names is None:
            return text_field(label, text=value, needed=needed, hint=hint, id=name)
        chosen = value if value in names else None
        return ChoiceField(label, [(one, one) for one in names], chosen=chosen, needed=needed, hint=hint, id=name)

    def body(self) -> ComposeResult:
        yield Static(Content(self._row.heading), classes="heading")
        yield Form(*self._fields.values())
        yield Static(Content(self._row.caution), classes="caution")

    def on_mount(self) -> None:
        self._fit()
        fields = self.query_one(Form).fields
        (next((one for one in fields if one.needed and not one.text), fields[0])).focus_input()

    def on_field_changed(self, event: Field.Changed) -> None:
        event.stop()
        self._fit()

    def _fit(self) -> None:
        """Ask only for what is of use with what the other fields say."""
        texts = {name: one.text for name, one in self._fields.items()}
        for name, one in self._fields.items():
            one.display = self._row.wanted(name, texts)
        about = self._fields.get(self._row.about)
        self.query_one(".caution").visible = about is None or about.display

    def action_save(self) -> None:
        self.query_one(Form).submit()

    def on_form_submitted(self, event: Form.Submitted) -> None:
        event.stop()
        texts = {name: one.value or "" for name, one in self._fields.items() if one.display}
        data = _row({**self._row.fixed, **texts})
        self.signed(lambda by: self._try(data, by))

    def _try(self, data: bytes, by: str) -> None:
        practice, row = self.practice, self._row

        def bring(*, dry_run: bool) -> Imported:
            return importing.import_file(practice, row.kind, data, by=by, update=row.update, dry_run=dry_run)

        workers.run(
            self,
            lambda: bring(dry_run=True),
            lambda tried: self._ask(tried, lambda: bring(dry_run=False)),
            name="try",
            failed=self._beside,
        )

    def _ask(self, tried: Imported, bring: Callable[[], Imported]) -> None:
        lines = [f"{one.label}: {one.text}" for one in self._fields.values() if one.display and one.text]
        warnings = [shown.noted(Status.WATCH, warning) for warning in tried.warnings]

        def answered(yes: bool | None) -> None:
            if yes:
                workers.run(self, bring, self.dismiss, name="save", failed=self._beside)

        self.app.push_screen(SaveDialog(f"{self._row.heading}?", [shown.plain("\n".join(lines)), *warnings]), answered)

    def _beside(self, error: PracticeError) -> bool:
        """Say each fault at its field."""
        if not isinstance(error, RowErrors):
            return False
        found = [(self._fields.get(fault.column), fault.message) for fault in error.errors]
        placed = [(one, message) for one, message in found if one is not None and one.display]
        for one, message in placed:
            one.complain(BadInput(message))
        if placed:
            placed[0][0].focus_input()
        return len(placed) == len(found)


def _row(cells: Mapping[str, Any]) -> bytes:
    """The file of one row."""
    written = io.StringIO()
    writer = csv.DictWriter(written, list(cells))
    writer.writeheader()
    writer.writerow(cells)
    return written.getvalue().encode()
