"""A small form over one thing of the stock: a few fields, F2, and it is done; what is wrong stands beside its field."""

from collections.abc import Callable, Sequence
from typing import Any

from textual.app import ComposeResult
from textual.binding import Binding
from textual.containers import Vertical
from textual.content import Content
from textual.widgets import Static

from inventory.errors import BadInput, PracticeError
from tui import text as shown
from tui import workers
from tui.dialogs.confirm import Confirmed
from tui.screens.base import StepScreen
from tui.widgets.fields import Field
from tui.widgets.form import Form

Values = dict[str, Any]
"""What the fields say, by the fields' ids."""

Deed = Callable[[Values, str, Confirmed | None], Any]
"""Does it, in a thread: values, initials, and the answer to what the service asked, where it asked."""


class DeedScreen(StepScreen[Any]):
    """Something to be done, with what it needs to know; answers what the service made of it.

    Args:
        heading: the verb, also for the key that does it.
        what: what it is done to, in words.
        fields: what has to be said.
        deed: does it.
        caution: what to consider, in one line.
    """

    BINDINGS = [Binding("f2,ctrl+s", "save", "Do it"), Binding("escape", "leave", "Back")]

    def __init__(self, heading: str, what: str, fields: Sequence[Field[Any]], deed: Deed, *, caution: str = "") -> None:
        super().__init__()
        self.title_text, self._what, self._caution = heading, what, caution
        self.cautions = (caution,) if caution else ()
        self._fields, self._deed = fields, deed

    def body(self) -> ComposeResult:
        with Vertical(classes="panel deed") as panel:
            panel.border_title = Content(self.title_text)
            yield Static(shown.plain(self._what), classes="deed-what")
            yield Form(*self._fields)
        yield Static(shown.muted("F2, or Enter in the last field, does it. Escape leaves it."), classes="deed-how")
        yield Static(id="gap")
        yield Static(Content(self._caution), classes="caution")

    def on_mount(self) -> None:
        empty = [field for field in self._fields if field.needed and not field.text]
        (empty or list(self._fields))[0].focus_input()

    def action_save(self) -> None:
        self.query_one(Form).submit()

    def on_form_submitted(self, event: Form.Submitted) -> None:
        event.stop()
        values = {str(field.id): field.value for field in event.form.fields}
        self.signed(lambda by: self._do(values, by))

    def _do(self, values: Values, by: str) -> None:
        deed = self._deed
        workers.run(
            self,
            lambda: deed(values, by, None),
            self.dismiss,
            name="deed",
            again=lambda answer: deed(values, by, answer),
            failed=self._beside,
            busy=self.title_text,
        )

    def _beside(self, error: PracticeError) -> bool:
        """An error about one field is said beside it."""
        name, colon, _ = error.message.partition(":")
        named = [field for field in self._fields if field.id == name.replace(" ", "-")]
        if not (isinstance(error, BadInput) and colon and named):
            return False
        named[0].complain(error)
        named[0].focus_input()
        return True
