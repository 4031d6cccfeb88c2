"""What can be done with a line of a lot list: each function takes the screen and the line."""

from collections.abc import Iterator
from typing import Any

from textual.content import Content

from inventory.domain.quantity import show as exact
from inventory.domain.words import item_and_lot
from inventory.errors import NotAllowed
from inventory.service import holding, lot_story, moving, tracing
from inventory.service.lot_story import Story
from inventory.service.lots import UseBy
from inventory.service.setting_up import PracticeState
from inventory.service.stock_views import LotLine
from inventory.service.tracing import LotTrace
from tui import text as shown
from tui import workers
from tui.dialogs.confirm import Confirmed
from tui.dialogs.reading import ErrorDialog, ReadingDialog
from tui.screens import stock_deeds
from tui.screens.base import StockScreen
from tui.screens.deed import Values
from tui.screens.heaps import Heap
from tui.screens.stock_deeds import GONE, Words, part, place_field, proof_field, reason_field, slips, with_places
from tui.theme import Status
from tui.widgets.choice_field import ChoiceField
from tui.widgets.fields import Field, amount_field, number_field, text_field


def _units_field(heap: Heap) -> Field[int] | None:
    """How many sealed units; an opened one goes as it is."""
    if not heap.sealed:
        return None
    return number_field("How many", text=str(heap.units), least=1, hint=heap.lot.unit_name, id="amount")


def _refuse(screen: StockScreen, message: str, todo: str) -> None:
    screen.app.push_screen(ErrorDialog.of(NotAllowed(message, todo)))


def discard(screen: StockScreen, heap: Heap) -> None:
    """Throw it away."""
    stock_deeds.discard(screen, heap.holding_id, heap.words, units=_units_field(heap), each=heap.lot.unit_qty)


def send_back(screen: StockScreen, heap: Heap) -> None:
    """Return it to the supplier."""
    practice, slip = screen.practice, slips()
    stock_deeds.show(
        screen,
        Words("Return to the supplier", heap.words, GONE),
        [_units_field(heap), reason_field(), proof_field(needed=True, hint="credit note or return number")],
        lambda values, by, answer: moving.return_to_supplier(
            practice, [part(heap.holding_id, values, heap.lot.unit_qty)], slip(values, by, answer)
        ),
    )


def move(screen: StockScreen, heap: Heap) -> None:
    """Carry it to another place."""
    practice, slip = screen.practice, slips()

    def ask(state: PracticeState) -> None:
        others = [one.name for one in state.places if one.active and one.name != heap.lot.place]
        stock_deeds.show(
            screen,
            Words("Move", heap.words, "It stands there now."),
            [_units_field(heap), place_field(others)],
            lambda values, by, answer: moving.transfer(
                practice,
                [part(heap.holding_id, values, heap.lot.unit_qty)],
                values["place"],
                slip(values, by, answer),
            ),
        )

    with_places(screen, ask)


def open_unit(screen: StockScreen, heap: Heap) -> None:
    """Open one unit of a sealed stack."""
    if not heap.sealed:
        _refuse(screen, "This unit is open already.", "Choose a line with sealed ones.")
        return
    practice, slip = screen.practice, slips()

    def ask(state: PracticeState) -> None:
        places = [one.name for one in state.places if one.active]
        stock_deeds.show(
            screen,
            Words("Open a unit", heap.words, "One is open; its days count from today.",
                  "Booking a visit out opens by itself what the visit needs."),
            [place_field(places, chosen=heap.lot.place)],
            lambda values, by, answer: moving.open_unit(
                practice, heap.holding_id, slip(values, by, answer), to_place=values["place"]
            ),
        )  # fmt: skip

    with_places(screen, ask)


def write_off(screen: StockScreen, heap: Heap) -> None:
    """Take the rest of an opened unit out of the book: wasted, or used up."""
    if heap.sealed:
        _refuse(screen, "These are sealed.", "Choose an opened unit, or discard sealed ones with d.")
        return
    practice, slip = screen.practice, slips()
    ways = {"waste": moving.write_off_rest, "used": moving.use_up}
    choices = (("waste", "wasted: too little for any step"), ("used", "used up: it is empty"))
    stock_deeds.show(
        screen,
        Words("Write off the rest", heap.words, "The unit is empty in the book."),
        [ChoiceField("The rest is", choices, chosen="waste", id="way"), reason_field(needed=False)],
        lambda values, by, answer: ways[values["way"]](practice, heap.holding_id, slip(values, by, answer)),
    )


def count(screen: StockScreen, heap: Heap) -> None:
    """Put the book right: what is really there."""
    practice, slip = screen.practice, slips()
    lot = heap.lot
    field: Field[int]
    if heap.sealed:
        each = lot.unit_qty
        field = number_field("There are", hint=f"the book says {heap.units}; sealed ones only", id="count")
    else:
        each = 1
        hint = f"the book says {exact(heap.qty, lot.base)}; or left 3t"
        field = amount_field("There is", lot.base, lot.unit_qty, hint=hint, id="count")

    def post(values: Values, by: str, answer: Confirmed | None) -> object:
        content = values["count"] * each
        return moving.correct_count(practice, heap.holding_id, content, slip(values, by, answer), book_said=heap.qty)

    caution = "What a visit used and nobody booked is booked as that visit, not as a count."
    words = Words("Correct the count", heap.words, "The book says what was counted.", caution)
    stock_deeds.show(screen, words, [field, reason_field()], post)


def hold(screen: StockScreen, heap: Heap) -> None:
    """Put the lot on hold at every place; or release it where it is on hold."""
    practice, lot = screen.practice, heap.lot
    what = f"{item_and_lot(lot.item_name, lot.lot_number)}, at every place"
    if lot.why_held:
        _release(screen, lot, what)
        return
    recall = text_field("Recall notice", needed=False, hint="its reference, if recalled", id="recall")
    words = Words(
        "Hold the lot", what, "Nobody is offered it any more, at any place.", "Put what is on the shelf aside, too."
    )
    stock_deeds.show(
        screen,
        words,
        [reason_field(), recall],
        lambda values, by, _: holding.hold(
            practice, lot_id=lot.lot_id, reason=values["reason"], by=by, recall=values["recall"] or ""
        ),
    )


def _release(screen: StockScreen, lot: LotLine, what: str) -> None:
    practice = screen.practice

    def release(values: Values, by: str, answer: Confirmed | None) -> bool:
        reason = (answer.reason if answer else "") or values["reason"]
        holding.release(practice, lot_id=lot.lot_id, reason=reason, by=by, confirmed=answer is not None)
        return True

    caution = "Release a recalled lot only where the notice says that it is not concerned."
    words = Words("Release the lot", f"{what}. On hold: {'; '.join(lot.why_held)}", "It may be used again.", caution)
    stock_deeds.show(screen, words, [reason_field()], release)


def amend(screen: StockScreen, heap: Heap) -> None:
    """Put the lot's number or date right."""
    lot = heap.lot
    stock_deeds.amend(
        screen,
        lot.lot_id,
        item_and_lot(lot.item_name, lot.lot_number),
        number="" if lot.number_is_ours else lot.lot_number,
        use_by=UseBy(lot.use_by_read, lot.use_by),
    )


def story(screen: StockScreen, heap: Heap) -> None:
    """Where the lot came from, where it went and what is left."""
    practice, lot = screen.practice, heap.lot

    def read() -> tuple[LotTrace, Story]:
        return tracing.lot_uses(practice, lot.lot_id), lot_story.story(practice, lot.lot_id)

    def tell(found: tuple[LotTrace, Story]) -> None:
        screen.app.push_screen(ReadingDialog(f"Lot {lot.lot_number}", [*_sums(found[0]), *_story_lines(found[1])]))

    workers.run(screen, read, tell, name="story", busy="Reading the lot's story")


def _sums(trace: LotTrace) -> Iterator[Content]:
    amounts = [
        ("received", trace.received), ("counted", trace.counted), ("used", trace.used), ("purged", trace.purged),
        ("wasted", trace.wasted), ("discarded", trace.discarded), ("returned", trace.returned),
    ]  # fmt: skip
    told = [f"{word} {_signed(qty, trace)}" for word, qty in amounts if qty]
    yield shown.plain(f"{trace.item_name}\n{', '.join(told)}; {exact(trace.on_hand, trace.base)} left", "bold")
    cases = {use.case_ref for use in trace.uses if use.case_ref}
    if cases:
        assumed = {use.case_ref for use in trace.uses if use.case_ref and not use.lot_confirmed}
        more = f", {len(assumed)} of them assumed: nobody read the number" if assumed else ""
        yield shown.noted(Status.WATCH if assumed else Status.OK, f"Used in {shown.count(len(cases), 'case')}{more}")


def _signed(qty: int, trace: LotTrace) -> str:
    return f"{'-' if qty < 0 else ''}{exact(abs(qty), trace.base)}"


def _story_lines(story: Story) -> Iterator[Content]:
    for line in story.lines:
        yield shown.plain(story.told(line)) if line.stands else shown.muted(story.told(line))


DEEDS: dict[str, Any] = {
    deed.__name__: deed for deed in (discard, hold, move, count, open_unit, write_off, amend, send_back, story)
}
"""By the name a key gives them."""
