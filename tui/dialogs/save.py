"""Before something is posted: all of it to read once more, and Enter posts it."""

from collections.abc import Sequence

from textual.binding import Binding
from textual.containers import VerticalScroll
from textual.content import Content
from textual.widget import Widget
from textual.widgets import Button, Static

from tui.dialogs.base import Dialog
from tui.text import clean


class SaveDialog(Dialog[bool]):
    """What is about to be saved, in full; answers True, or None for back.

    Unlike `ConfirmDialog` Enter means yes here: it ends a form that the person has filled in and asked to save, and
    says nothing she has not said before. What is unusual is asked by a dialog of its own.

    Args:
        heading: what it is about.
        parts: what will be saved, and what to consider.
        yes: the verb of saving.
    """

    BINDINGS = [
        Binding("up", "scroll(-1)", show=False),
        Binding("down", "scroll(1)", show=False),
        Binding("pageup", "scroll(-10)", show=False),
        Binding("pagedown,space", "scroll(10)", show=False),
    ]

    def __init__(self, heading: str, parts: Sequence[Content], *, yes: str = "Save") -> None:
        super().__init__()
        self.heading = clean(heading)
        self._parts, self._yes = parts, yes

    def body(self) -> Sequence[Widget]:
        said = (Static(part, classes="dialog-part") for part in self._parts)
        return (VerticalScroll(*said, classes="dialog-text", can_focus=False),)

    def answers(self) -> Sequence[tuple[str, str]]:
        return (("save", f"{self._yes}  Enter"), ("close", "Back  Esc"))

    def on_button_pressed(self, event: Button.Pressed) -> None:
        self.answer(True if event.button.id == "save" else None)

    def action_scroll(self, lines: int) -> None:
        self.query_one(".dialog-text").scroll_relative(y=lines, animate=False)
