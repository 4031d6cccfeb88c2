"""After a booking: what was posted, for the record, and the offer to undo it; and the undoing, wherever it is asked."""

from collections.abc import Callable, Sequence
from uuid import uuid4

from textual.binding import Binding
from textual.containers import VerticalScroll
from textual.widget import Widget
from textual.widgets import Button, Static

from inventory.errors import PracticeError
from inventory.service import correcting
from inventory.service.booking import Booked
from inventory.service.correcting import Undone
from inventory.service.visits import VisitCard
from tui import text as shown
from tui import workers
from tui.dialogs.base import Dialog
from tui.dialogs.confirm import ConfirmDialog, Confirmed
from tui.dialogs.reading import ErrorDialog
from tui.screens import book_out_lines as words
from tui.screens.base import StockScreen
from tui.text import Formats
from tui.theme import Status


class BookedDialog(Dialog[str]):
    """The lots that were booked; answers "undo", or None once it was read."""

    BINDINGS = [
        Binding("u", "undo", show=False),
        Binding("up", "scroll(-1)", show=False),
        Binding("down", "scroll(1)", show=False),
    ]

    def __init__(self, booked: Booked, formats: Formats) -> None:
        super().__init__()
        self.heading = f"Booked out: {shown.clean(booked.visit.case_ref)}"
        self._booked, self._formats = booked, formats

    def body(self) -> Sequence[Widget]:
        booked = self._booked
        numbers = ", ".join(str(number) for number in booked.documents)
        by = f" by {booked.visit.booked_by}" if booked.visit.booked_by else ""
        again = " It had been posted before: nothing was posted twice." if booked.again else ""
        parts = [
            shown.noted(Status.OK, f"Posted{by} as {'entries' if booked.documents[1:] else 'entry'} {numbers}.{again}"),
            words.of_lots(booked.lots, self._formats),
            *(shown.noted(Status.WATCH, warning) for warning in booked.warnings),
        ]
        return (VerticalScroll(*(Static(part, classes="dialog-part") for part in parts), classes="dialog-text",
                               can_focus=False),)  # fmt: skip

    def answers(self) -> Sequence[tuple[str, str]]:
        return (("close", "Done  Enter"), ("undo", "Undo  u"))

    def on_button_pressed(self, event: Button.Pressed) -> None:
        self.answer("undo" if event.button.id == "undo" else None)

    def action_undo(self) -> None:
        self.answer("undo")

    def action_scroll(self, lines: int) -> None:
        self.query_one(".dialog-text").scroll_relative(y=lines, animate=False)


def undo(
    screen: StockScreen, visit: VisitCard, then: Callable[[], object], otherwise: Callable[[], object] = lambda: None
) -> None:
    """Ask why, undo the booking of a visit, and say what stays.

    Args:
        screen: asks and does it.
        visit: whose booking.
        then: what follows once it is undone.
        otherwise: what follows where it stays booked.
    """
    practice, key = screen.practice, uuid4().hex

    def undone(result: Undone) -> None:
        kept = " ".join(result.kept)
        screen.notify(
            f"What {visit.case_ref} used is back, and the visit is planned again. {kept}".strip(),
            title="Undone",
            markup=False,
        )
        then()

    def stays(_: None) -> None:
        otherwise()

    def failed(error: PracticeError) -> bool:
        screen.app.push_screen(ErrorDialog.of(error), stays)
        return True

    def post(reason: str, by: str) -> None:
        workers.run(
            screen,
            lambda: correcting.undo_visit(practice, visit.visit_id, reason=reason, by=by, request_key=key),
            undone,
            name="undo",
            failed=failed,
            busy="Undoing",
        )

    def answered(answer: Confirmed | None) -> None:
        if answer is None:
            otherwise()
        else:
            screen.signed(lambda by: post(answer.reason, by))

    dialog = ConfirmDialog(
        f"Undo the booking of {visit.case_ref}?",
        "What it used is given back by a new entry; the visit is planned again.",
        "A cartridge that was opened stays open. Nothing is deleted: both stay in the history.",
        yes="Undo it",
        no="Keep it",
        reason=True,
    )
    screen.app.push_screen(dialog, answered)
