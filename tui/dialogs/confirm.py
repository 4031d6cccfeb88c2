"""Yes or no, and where the practice wants it: why, and who."""

from collections.abc import Sequence
from dataclasses import dataclass

from textual.binding import Binding
from textual.containers import VerticalScroll
from textual.widget import Widget
from textual.widgets import Button, Static

from tui.dialogs.base import Dialog
from tui.text import clean, plain
from tui.widgets.fields import Field, text_field


@dataclass(frozen=True)
class Confirmed:
    """A yes, with what was asked for."""

    reason: str = ""
    initials: str = ""


class ConfirmDialog(Dialog[Confirmed]):
    """Asks for a yes; answers `Confirmed`, or None for no.

    Enter means no until the person has moved to yes or typed what is asked for: an Enter pressed twice, or a scan,
    never confirms anything.

    Args:
        heading: what it is about.
        message: what would happen.
        todo: what to consider, shown below.
        yes: the word for yes, a verb: "Discard", "Leave".
        no: the word for no.
        reason: whether a reason must be given.
        initials: own initials to begin with, where they are asked for; None where not.
    """

    BINDINGS = [Binding("y", "yes", show=False), Binding("n", "cancel", show=False)]

    def __init__(
        self,
        heading: str,
        message: str,
        todo: str = "",
        *,
        yes: str = "Yes",
        no: str = "No",
        reason: bool = False,
        initials: str | None = None,
    ) -> None:
        super().__init__()
        self.heading = clean(heading)
        self._message, self._todo = message, todo
        self._yes, self._no = yes, no
        self._reason = text_field("Reason", hint="no patient names", id="reason") if reason else None
        self._initials = None if initials is None else text_field("Initials", text=initials, id="initials")

    @property
    def _fields(self) -> list[Field[str]]:
        return [field for field in (self._reason, self._initials) if field is not None]

    def on_mount(self) -> None:
        empty = [field for field in self._fields if not field.text]
        if empty:
            empty[0].focus_input()

    def body(self) -> Sequence[Widget]:
        said = [Static(plain(self._message), classes="dialog-message")]
        if self._todo:
            said.append(Static(plain(self._todo, "$muted"), classes="dialog-todo"))
        return (VerticalScroll(*said, classes="dialog-text", can_focus=False),)

    def foot(self) -> Sequence[Widget]:
        return self._fields

    def answers(self) -> Sequence[tuple[str, str]]:
        no, yes = ("Esc", "Enter") if self._fields else ("n", "y")  # in a field letters are its text
        return (("no", f"{self._no}  {no}"), ("yes", f"{self._yes}  {yes}"))

    def action_yes(self) -> None:
        wrong = [field for field in self._fields if not field.check()]
        if wrong:
            wrong[0].focus_input()
            return
        self.answer(
            Confirmed(
                self._reason.text if self._reason else "",
                self._initials.text if self._initials else "",
            )
        )

    def on_field_entered(self, event: Field.Entered) -> None:
        rest = self._fields[self._fields.index(event.field) + 1 :]
        if rest:
            rest[0].focus_input()
        else:
            self.action_yes()

    def on_button_pressed(self, event: Button.Pressed) -> None:
        if event.button.id == "yes":
            self.action_yes()
        else:
            self.action_cancel()
