"""After a posting: what is in the book now, and the offer to undo it; and the undoing of any document."""

from collections.abc import Callable, Sequence
from uuid import uuid4

from textual.binding import Binding
from textual.containers import VerticalScroll
from textual.content import Content
from textual.widget import Widget
from textual.widgets import Button, Static

from inventory.service import correcting
from inventory.service.correcting import Undone
from tui import text as shown
from tui import workers
from tui.dialogs.base import Dialog
from tui.dialogs.confirm import ConfirmDialog, Confirmed
from tui.screens.base import StockScreen


class PostedDialog(Dialog[str]):
    """What was posted; answers "undo", or None once it was read."""

    BINDINGS = [
        Binding("u", "undo", show=False),
        Binding("up", "scroll(-1)", show=False),
        Binding("down", "scroll(1)", show=False),
    ]

    def __init__(self, heading: str, parts: Sequence[Content]) -> None:
        super().__init__()
        self.heading = shown.clean(heading)
        self._parts = parts

    def body(self) -> Sequence[Widget]:
        said = (Static(part, classes="dialog-part") for part in self._parts)
        return (VerticalScroll(*said, classes="dialog-text", can_focus=False),)

    def answers(self) -> Sequence[tuple[str, str]]:
        return (("close", "Done  Enter"), ("undo", "Undo  u"))

    def on_button_pressed(self, event: Button.Pressed) -> None:
        self.answer("undo" if event.button.id == "undo" else None)

    def action_undo(self) -> None:
        self.answer("undo")

    def action_scroll(self, lines: int) -> None:
        self.query_one(".dialog-text").scroll_relative(y=lines, animate=False)


def undo(screen: StockScreen, document_id: int, what: str, then: Callable[[], object]) -> None:
    """Ask why, undo a document, say what of it stays all the same, and go on.

    Args:
        screen: the screen that asks.
        document_id: which document; one of a visit's booking stands for all that the visit used.
        what: the document in words.
        then: called once it was undone.
    """
    practice, key = screen.practice, uuid4().hex

    def undone(result: Undone) -> None:
        visit = "The visit is planned again." if result.visit_id is not None else ""
        told = [f"{_entries(result.undone).capitalize()} undone by {_entries(result.documents)}.", visit, *result.kept]
        screen.notify(" ".join(filter(None, told)), title="Undone", markup=False, timeout=8)
        then()

    def answered(answer: Confirmed | None) -> None:
        if answer is not None:
            screen.signed(lambda by: post(answer.reason, by))

    def post(reason: str, by: str) -> None:
        workers.run(
            screen,
            lambda: correcting.undo(practice, document_id, reason=reason, by=by, request_key=key),
            undone,
            name="undo",
            busy="Undoing",
        )

    dialog = ConfirmDialog(
        "Undo this?",
        what,
        "A new entry takes it back. Nothing is deleted: both stay in the history.",
        yes="Undo it",
        no="Keep it",
        reason=True,
    )
    screen.app.push_screen(dialog, answered)


def _entries(ids: Sequence[int]) -> str:
    return f"{'entries' if ids[1:] else 'entry'} {', '.join(map(str, ids))}"
