"""A few fields to fill in, one below the other, on top of a screen."""

from collections.abc import Callable, Sequence
from typing import Any, TypeVar

from textual.binding import Binding
from textual.widget import Widget
from textual.widgets import Button, Static

from inventory.errors import BadInput
from tui.dialogs.base import Dialog
from tui.text import MUTED, clean, plain
from tui.widgets.fields import Field

Value = TypeVar("Value")


class AskDialog(Dialog[Value]):
    """Asks for the fields; answers what `taken` makes of them, or None for back.

    Enter goes from field to field and takes the last one; F2 takes them at once.

    Args:
        heading: what is asked.
        fields: what to fill in.
        taken: makes the answer once all fields are right; a `BadInput` it raises is shown at the last field.
        question: a sentence above the fields, where one is needed.
        yes: the verb.
    """

    AUTO_FOCUS = "Field Input"
    BINDINGS = [Binding("f2,ctrl+s", "take", show=False)]

    def __init__(
        self,
        heading: str,
        fields: Sequence[Field[Any]],
        taken: Callable[[], Value],
        *,
        question: str = "",
        yes: str = "Take it",
    ) -> None:
        super().__init__()
        self.heading = clean(heading)
        self._fields, self._taken = tuple(fields), taken
        self._question, self._yes = question, yes

    def body(self) -> Sequence[Widget]:
        said = [Static(plain(self._question, MUTED), classes="dialog-message")] if self._question else []
        return (*said, *self._fields)

    def answers(self) -> Sequence[tuple[str, str]]:
        return (("take", f"{self._yes}  Enter"), ("close", "Back  Esc"))

    def action_take(self) -> None:
        wrong = [field for field in self._fields if not field.check()]
        if wrong:
            wrong[0].focus_input()
            return
        try:
            result = self._taken()
        except BadInput as error:
            self._fields[-1].complain(error)
            self._fields[-1].focus_input()
        else:
            self.answer(result)

    def on_field_entered(self, event: Field.Entered) -> None:
        rest = self._fields[self._fields.index(event.field) + 1 :]
        if rest:
            rest[0].focus_input()
        else:
            self.action_take()

    def on_button_pressed(self, event: Button.Pressed) -> None:
        if event.button.id == "take":
            self.action_take()
        else:
            self.action_cancel()
