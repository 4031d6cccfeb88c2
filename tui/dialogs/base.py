"""What all dialogs have in common: a calm box over a dimmed screen, one row of answers, one way out."""

from collections.abc import Sequence
from typing import TypeVar

from textual.app import ComposeResult
from textual.binding import Binding
from textual.containers import HorizontalGroup, Vertical, VerticalGroup
from textual.content import Content
from textual.message import Message
from textual.screen import ModalScreen
from textual.widget import Widget
from textual.widgets import Button

from tui.widgets.safe_input import SafeInput

Answer = TypeVar("Answer")


class Answers(HorizontalGroup):
    """The row of answers; the arrow keys walk along it."""

    BINDINGS = [Binding("left", "walk(-1)", show=False), Binding("right", "walk(1)", show=False)]

    def action_walk(self, by: int) -> None:
        buttons = list(self.query(Button))
        at = next(index for index, button in enumerate(buttons) if button.has_focus)
        buttons[(at + by) % len(buttons)].focus()


class Dialog(ModalScreen[Answer | None]):
    """A box that asks or tells one thing. Escape is the way out and answers None.

    Subclasses give `body`, `foot` and, where there is more than a way out, `answers` as (id, name with its key) in
    order, and handle ``on_button_pressed``. They end with `answer`, which holds only once.
    """

    BINDINGS = [Binding("escape", "cancel", "Back", show=False)]
    AUTO_FOCUS = "Answers Button"
    heading: str = ""

    def compose(self) -> ComposeResult:
        with Vertical(classes="dialog-box") as box:
            box.border_title = Content(self.heading)
            yield from self.body()
            with VerticalGroup(classes="dialog-foot"):
                yield from self.foot()
                with Answers(classes="dialog-answers"):
                    for name, label in self.answers():
                        yield Button(Content(label), id=name, compact=True)

    def body(self) -> Sequence[Widget]:
        """What is to be read or chosen; it shrinks where the screen is low."""
        return ()

    def foot(self) -> Sequence[Widget]:
        """What stands right above the answers and never shrinks."""
        return ()

    def answers(self) -> Sequence[tuple[str, str]]:
        """Id and label of each answer."""
        return (("close", "Close"),)

    def answer(self, result: Answer | None) -> None:
        """Close with a result; a second answer that comes while the dialog is closing counts for nothing."""
        if self.is_current:
            self.dismiss(result)

    def action_cancel(self) -> None:
        self.answer(None)

    def on_button_pressed(self, event: Button.Pressed) -> None:
        if event.button.id == "close":
            self.answer(None)

    async def _on_message(self, message: Message) -> None:
        """Nothing that a dialog's own widgets say reaches the application, where it would be taken for another's."""
        if message.control is not None and not isinstance(message, SafeInput.ScannedInto):
            message.stop()
        await super()._on_message(message)
