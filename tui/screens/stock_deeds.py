"""What can be done with one holding or one lot, from any screen that shows one.

Each function opens a small form; the screen below reads itself anew when that is closed.
"""

from collections.abc import Callable, Iterable
from dataclasses import dataclass
from typing import Any
from uuid import uuid4

from inventory.domain.vocabulary import PlaceRole
from inventory.errors import BadInput
from inventory.service import lots, moving, setting_up
from inventory.service.lots import UseBy
from inventory.service.moving import Part, Slip
from inventory.service.setting_up import PracticeState
from tui import workers
from tui.dialogs.confirm import Confirmed
from tui.screens.base import StockScreen
from tui.screens.deed import Deed, DeedScreen, Values
from tui.screens.receive_lines import typed_use_by, use_by_field
from tui.widgets.choice_field import ChoiceField
from tui.widgets.fields import Field, text_field

Then = Callable[[PracticeState], object]
GONE = "It has left the book. Undo it in History if that was wrong."


def reason_field(text: str = "", *, needed: bool = True, hint: str = "in a few words") -> Field[str]:
    """Why, in words."""
    field = text_field("Reason", text=text, needed=needed, hint=hint, id="reason")
    field.add_class("-wide")
    return field


def proof_field(*, needed: bool = False, hint: str = "receipt or certificate") -> Field[str]:
    """What proves it."""
    return text_field("Proof", needed=needed, hint=hint, id="proof")


def slips() -> Callable[[Values, str, Confirmed | None], Slip]:
    """What a form says beside the stock itself, always under the form's one key."""
    key = uuid4().hex

    def slip(values: Values, by: str, answer: Confirmed | None) -> Slip:
        said = answer.reason if answer else ""
        reason = said or values.get("reason") or ""
        return Slip(key, by, reason=reason, proof=values.get("proof") or "", confirmed=answer is not None)

    return slip


@dataclass(frozen=True)
class Words:
    """What a form says: its verb, what it is done to, the sentence when it is done, what to consider."""

    verb: str
    what: str
    done: str
    caution: str = ""


def show(screen: StockScreen, words: Words, fields: Iterable[Field[Any] | None], deed: Deed) -> None:
    """Open the form of the fields that there are; once it is done, say so in a sentence."""

    def closed(result: Any) -> None:
        if result is not None:
            screen.notify(words.done, title=words.verb, markup=False)
        for said in getattr(result, "recall", ()):  # of a lot that got another number
            screen.notify(f"{said}.", title="Recall", severity="warning", timeout=10, markup=False)

    asked = [field for field in fields if field is not None]
    screen.app.push_screen(DeedScreen(words.verb, words.what, asked, deed, caution=words.caution), closed)


def with_places(screen: StockScreen, then: Then) -> None:
    """Read which places there are, then go on."""
    practice = screen.practice
    workers.run(screen, lambda: setting_up.practice_state(practice), then, name="places")


def place_field(names: Iterable[str], *, chosen: str | None = None) -> ChoiceField[str]:
    """Where to."""
    return ChoiceField("To", [(name, name) for name in names], chosen=chosen, hint="Down for the list", id="place")


def discard(
    screen: StockScreen, holding_id: int, what: str, *, reason: str = "", units: Field[int] | None = None, each: int = 1
) -> None:
    """Throw stock away: all of a holding, or so many units with so many base units each."""
    practice, slip = screen.practice, slips()
    show(
        screen,
        Words("Discard", what, GONE, "Recalled stock is discarded with proof only: a certificate of destruction."),
        [units, reason_field(reason), proof_field(hint="for recalled stock: its certificate")],
        lambda values, by, answer: moving.discard(practice, [part(holding_id, values, each)], slip(values, by, answer)),
    )


def part(holding_id: int, values: Values, each: int) -> Part:
    """So many units of a holding as the form says, or all of it where the form does not ask."""
    units = values.get("amount")
    return Part(holding_id, None if units is None else units * each)


def set_aside(screen: StockScreen, holding_id: int, what: str) -> None:
    """Move a holding to a place where nobody takes from it."""
    practice, slip = screen.practice, slips()

    def ask(state: PracticeState) -> None:
        aside = [one.name for one in state.places if one.active and one.role is PlaceRole.SET_ASIDE]
        show(
            screen,
            Words("Set aside", what, "Nobody is offered it any more."),
            [place_field(aside, chosen=aside[0] if aside else None), reason_field("set aside", needed=False)],
            lambda values, by, answer: moving.transfer(
                practice, [Part(holding_id)], values["place"], slip(values, by, answer)
            ),
        )

    with_places(screen, ask)


def amend(
    screen: StockScreen, lot_id: int, what: str, *, number: str | None = None, use_by: UseBy | None = None,
    reason: str = "",
) -> None:  # fmt: skip
    """Put a lot's number and use-by date right; without a number, only say the date that nobody had read.

    Args:
        screen: the screen that asks.
        lot_id: which lot.
        what: the lot in words.
        number: the maker's number as it stands, empty where the lot has one of our own.
        use_by: the date as it stands.
        reason: the reason to begin with.
    """
    practice = screen.practice
    numbers = [] if number is None else [text_field("Lot", text=number, needed=False, hint="as on the label", id="lot")]
    date = use_by_field(screen.work, text=typed_use_by(use_by), needed=number is None)

    def save(values: Values, by: str, _: Confirmed | None) -> object:
        new_number, new_date = values.get("lot"), values["use-by"]
        changed = new_number if new_number != number else None
        if changed is None and new_date in (None, use_by):
            raise BadInput("use-by: nothing was changed.", "Type what the label says, or leave with Escape.")
        return lots.amend_lot(practice, lot_id, reason=values["reason"], by=by, number=changed, use_by=new_date)

    show(
        screen,
        Words("Read the date" if number is None else "Amend the lot", what, "The lot stands right now, everywhere.",
              "What was used stays booked; old and new are kept in the log."),
        [*numbers, date, reason_field(reason)],
        save,
    )  # fmt: skip
