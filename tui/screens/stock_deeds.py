"""What can be done with a lot or holding, from any screen that shows one: discard, set aside, hold, write off."""

from collections.abc import Callable
from uuid import uuid4

from textual.app import ComposeResult
from textual.binding import Binding
from textual.containers import Vertical
from textual.content import Content
from textual.widgets import Static

from inventory.domain.vocabulary import PlaceRole
from inventory.errors import BadInput, PracticeError
from inventory.service import moving, setting_up
from inventory.service.moving import Moved, Part, Slip
from tui import text as shown
from tui import workers
from tui.dialogs.choose import ChooseDialog
from tui.screens.base import StepScreen, StockScreen
from tui.widgets.fields import text_field
from tui.widgets.form import Form

Then = Callable[[Moved], object]
"""What follows a posting."""


class DiscardScreen(StepScreen[Moved]):
    """Throw away what stands in one holding: why, and the proof where there is one."""

    title_text = "Discard"
    cautions = ("Recalled stock is discarded with proof only: a certificate of destruction.",)
    BINDINGS = [Binding("f2,ctrl+s", "save", "Discard")]
    CSS_PATH = "stock_deeds.tcss"

    def __init__(self, holding_id: int, what: str, *, reason: str = "") -> None:
        super().__init__()
        self._holding_id, self._what, self._reason = holding_id, what, reason
        self._key = uuid4().hex

    def body(self) -> ComposeResult:
        with Vertical(classes="panel deed") as panel:
            panel.border_title = "Discard"
            yield Static(Content(shown.clean(self._what)), classes="deed-what")
            with Form():
                yield text_field("Reason", text=self._reason, needed=True, id="reason")
                yield text_field("Proof", hint="receipt or certificate, if there is one", id="proof")
        yield Static(Content("It leaves the shelf and the book at once; undo it in History."), classes="caution")

    def on_mount(self) -> None:
        self.query_one(Form).fields[0].focus_input()

    def action_save(self) -> None:
        self.query_one(Form).submit()

    def on_form_submitted(self, event: Form.Submitted) -> None:
        reason, proof = (field.text for field in event.form.fields)
        self.signed(lambda by: self._discard(Slip(self._key, by, reason=reason, proof=proof)))

    def _discard(self, slip: Slip) -> None:
        practice, part = self.practice, Part(self._holding_id)
        workers.run(
            self,
            lambda: moving.discard(practice, [part], slip),
            self.dismiss,
            name="discard",
            failed=self._beside,
            busy="Discarding",
        )

    def _beside(self, error: PracticeError) -> bool:
        for field in self.query_one(Form).fields:
            if isinstance(error, BadInput) and error.message.startswith(f"{field.id}:"):
                field.complain(error)
                return True
        return False


def set_aside(screen: StockScreen, holding_id: int, what: str, then: Then) -> None:
    """Move a holding to a place where nobody takes from it."""
    practice = screen.practice

    def places_seen(state: setting_up.PracticeState) -> None:
        aside = [place for place in state.places if place.active and place.role is PlaceRole.SET_ASIDE]
        others = [place for place in state.places if place.active and not place.role.usable and place not in aside]
        choices = [(place.name, place.name) for place in (*aside, *others)]
        screen.app.push_screen(ChooseDialog("Set aside", choices, what), chosen)

    def chosen(place: str | None) -> None:
        if place is not None:
            screen.signed(lambda by: move(Slip(uuid4().hex, by, reason="set aside"), place))

    def move(slip: Slip, place: str) -> None:
        workers.run(screen, lambda: moving.transfer(practice, [Part(holding_id)], place, slip), then, name="set aside")

    workers.run(screen, lambda: setting_up.practice_state(practice), places_seen, name="places")
