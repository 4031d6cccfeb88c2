"""Bring in a file: tried first, every fault shown with its row and column, and taken in whole or not at all."""

from collections.abc import Callable
from pathlib import Path
from typing import Any

from textual.app import ComposeResult
from textual.binding import Binding
from textual.widgets import Static

from inventory.errors import BadInput, PracticeError, RowErrors
from inventory.service import import_mapping, importing
from inventory.service.importing import Imported
from tui import text as shown
from tui import workers
from tui.dialogs.save import SaveDialog
from tui.screens.base import StepScreen
from tui.theme import Status
from tui.widgets.choice_field import ChoiceField
from tui.widgets.fields import Field, text_field
from tui.widgets.form import Form
from tui.widgets.table import Column, ListTable, Row

KNOWN = ((False, "are refused"), (True, "change what they name"))


class ImportScreen(StepScreen[Imported]):
    """A file of one kind; answers what it brought.

    Args:
        kind: the kind to begin with, one of `importing.KINDS`.
    """

    title_text = "Import a file"
    cautions = (
        "A file is taken in whole or not at all; one that was read twice by mistake changes nothing.",
        "No patient names in any file: case references only.",
    )
    BINDINGS = [Binding("f2,ctrl+s", "save", "Try it, then take it in"), Binding("escape", "leave", "Back")]

    def __init__(self, kind: str | None = None) -> None:
        super().__init__()
        self._kind = kind

    def body(self) -> ComposeResult:
        yield Static("Import a file", classes="heading")
        kinds = [(kind.name, f"{kind.name.replace('_', ' ')}") for kind in importing.KINDS.values()]
        path = text_field("File", hint="its path; CSV, or a spreadsheet (.xlsx)", id="path")
        path.add_class("-wide")
        yield Form(
            ChoiceField("What it holds", kinds, chosen=self._kind, hint="Down for the list", id="kind"),
            path,
            ChoiceField("Rows known already", KNOWN, chosen=False, id="update"),
            Field(
                "Foreign columns", import_mapping.typed, needed=False, hint="Article no=code, Colour=-", id="foreign"
            ),
        )
        yield Static("", id="columns", classes="muted")
        yield ListTable(
            [Column("Row", right=True), Column("Column", most=20), Column("What is wrong", grow=True, most=120)],
            empty="Faults of the file will stand here, each with its row and column.",
        )

    def on_mount(self) -> None:
        self.query_one("#path" if self._kind else "#kind", Field).focus_input()
        self._show_columns()

    def on_field_changed(self, event: Field.Changed) -> None:
        event.stop()
        if event.field.id == "kind":
            self._show_columns()

    def _show_columns(self) -> None:
        """Name the columns of the chosen kind, the needed ones marked."""
        chosen = _readable(self.query_one("#kind", Field))
        columns = next((kind.columns for kind in importing.KINDS.values() if kind.name == chosen), ())
        names = ", ".join(f"{column.name}{' (needed)' if column.needed else ''}" for column in columns)
        self.query_one("#columns", Static).update(shown.plain(f"Columns: {names}" if names else ""))

    def action_save(self) -> None:
        self.query_one(Form).submit()

    def on_form_submitted(self, event: Form.Submitted) -> None:
        event.stop()
        value: dict[str, Any] = {str(field.id): field.value for field in event.form.fields}
        self._told_faults(())
        self.signed(lambda by: self._try(value, by))

    def _try(self, value: dict[str, Any], by: str) -> None:
        practice = self.practice

        def bring(data: bytes, *, dry_run: bool) -> Imported:
            return importing.import_file(
                practice, value["kind"], data, by=by, dry_run=dry_run, update=value["update"],
                columns=value["foreign"] or {},
            )  # fmt: skip

        def tried() -> tuple[Imported, bytes]:
            data = _content(value["path"])
            return bring(data, dry_run=True), data

        workers.run(
            self,
            tried,
            lambda found: self._ask(found[0], lambda: bring(found[1], dry_run=False)),
            name="try",
            failed=self._failed,
            busy="Reading the file",
        )

    def _ask(self, tried: Imported, bring: Callable[[], Imported]) -> None:
        """What the file would bring was found without a fault; ask before it is taken in."""

        def answered(yes: bool | None) -> None:
            if yes:
                workers.run(self, bring, self._brought, name="bring", failed=self._failed, busy="Taking it in")

        warnings = [shown.noted(Status.WATCH, warning) for warning in tried.warnings]
        told = shown.noted(Status.OK, f"No fault found. {_counts(tried)}")
        columns = [shown.plain(_column(one)) for one in tried.columns]
        self.app.push_screen(SaveDialog("Take this in?", [told, *columns, *warnings], yes="Take it in"), answered)

    def _brought(self, imported: Imported) -> None:
        self.notify(_counts(imported), title="Taken in", markup=False)
        self.dismiss(imported)

    def _failed(self, error: PracticeError) -> bool:
        if isinstance(error, RowErrors):
            self._told_faults(tuple((fault.row, fault.column, fault.message) for fault in error.errors))
            self.query_one(ListTable).focus()
            return True
        field = {"file": "#path", "columns": "#foreign"}.get(error.message.partition(":")[0])
        if isinstance(error, BadInput) and field:
            wrong = self.query_one(field, Field)
            wrong.complain(error)
            wrong.focus_input()
            return True
        return False

    def _told_faults(self, faults: tuple[tuple[int, str, str], ...]) -> None:
        rows = enumerate(faults)
        self.query_one(ListTable).replace_rows(
            Row(at, (str(row), column or shown.NOTHING, shown.noted(Status.ACT, message)))
            for at, (row, column, message) in rows
        )


def _counts(imported: Imported) -> str:
    rows = shown.count(imported.rows, "row")
    return f"{rows} of {imported.kind.replace('_', ' ')}: {imported.added} new, {imported.updated} changed."


def _column(one: import_mapping.NamedColumn) -> str:
    return f"Column {one.theirs}: {'left out' if one.ours == import_mapping.LEFT_OUT else one.ours}"


def _content(path: str) -> bytes:
    """The file's content.

    Raises:
        BadInput: it can't be read.
    """
    try:
        return Path(path).expanduser().read_bytes()
    except OSError as error:
        raise BadInput(f"file: it can't be read: {error.strerror}.", "Check its name and folder.") from None


def _readable(field: Field[Any]) -> Any:
    try:
        return field.value
    except BadInput:
        return None
