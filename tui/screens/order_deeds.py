"""What is done with a written order: marked as sent, waited for, given up, printed; and why it orders what it does."""

from collections.abc import Callable
from pathlib import Path

from inventory.domain.why import Derivation
from inventory.errors import BadInput
from inventory.service import order_sheets, ordering
from inventory.service.orders import Order
from inventory.service.practice import Practice
from inventory.service.proposing import ProposedOrder
from tui import text as shown
from tui import workers
from tui.dialogs.ask import AskDialog
from tui.dialogs.choose import ChooseDialog
from tui.dialogs.confirm import ConfirmDialog, Confirmed
from tui.dialogs.reading import WhyDialog
from tui.screens.base import StockScreen
from tui.widgets.fields import date_field, text_field

ALL = "all that is still to come"


def send(screen: StockScreen, order: Order) -> None:
    """Ask for the day that the supplier named, then mark the draft as sent."""
    work = screen.work
    day = date_field(
        "Expected", work.today, order=work.order, formats=work.formats, needed=False,
        hint="empty: by the usual lead time", id="expected",
    )  # fmt: skip
    question = f"{order.number} to {order.supplier} was sent by you; from now on its goods are on order."
    dialog = AskDialog("Mark as sent?", [day], lambda: (day.value,), question=question, yes="Mark as sent")

    def answered(typed: tuple[object] | None) -> None:
        if typed is None:
            return
        named = day.value.day if day.value is not None else None
        practice = screen.practice
        _signed(
            screen,
            lambda by: ordering.send(practice, order.number, version=order.version, by=by, expected_on=named),
            lambda sent: f"{sent.number} is on order, expected {shown.day(sent.expected_on, work.formats)}.",
        )

    screen.app.push_screen(dialog, answered)


def expect(screen: StockScreen, order: Order) -> None:
    """Write down the day that the supplier named."""
    work = screen.work
    day = date_field(
        "Expected", work.today, on=order.expected_on, order=work.order, formats=work.formats, id="expected"
    )
    dialog = AskDialog(f"Which day did {order.supplier} name?", [day], lambda: (day.value,))

    def answered(typed: tuple[object] | None) -> None:
        if typed is None or day.value is None:
            return
        practice, named = screen.practice, day.value.day
        _signed(
            screen,
            lambda by: ordering.expect(practice, order.number, named, by=by),
            lambda seen: f"{seen.number} is expected {shown.day(seen.expected_on, work.formats)}.",
        )

    screen.app.push_screen(dialog, answered)


def give_up(screen: StockScreen, order: Order) -> None:
    """Give up an order, or what is still to come of one of its items."""
    if len(order.waiting) < 2:
        _give_up(screen, order, ALL)
        return
    choices = [(ALL, ALL), *((line.code, f"{line.name}: {line.open_units} to come") for line in order.waiting)]

    def chosen(what: str | None) -> None:
        if what is not None:
            _give_up(screen, order, what)

    screen.app.push_screen(ChooseDialog("What will not come?", choices), chosen)


def _give_up(screen: StockScreen, order: Order, what: str) -> None:
    practice, whole = screen.practice, what == ALL

    def answered(answer: Confirmed | None) -> None:
        if answer is None:
            return
        _signed(screen, lambda by: done(answer.reason, by), lambda seen: f"{seen.number} is {seen.state.value}.")

    def done(reason: str, by: str) -> Order:
        if whole:
            return ordering.cancel(practice, order.number, version=order.version, reason=reason, by=by)
        return ordering.close_short(practice, order.number, what, version=order.version, reason=reason, by=by)

    named = next((line.name for line in order.lines if line.code == what), "all of it")
    dialog = ConfirmDialog(
        f"Give up {order.number}?", f"{order.supplier}: {named}.",
        "It counts as on order no more. Nothing is deleted.", yes="Give up", no="Keep", reason=True,
    )  # fmt: skip
    screen.app.push_screen(dialog, answered)


def _signed(screen: StockScreen, deed: Callable[[str], Order], told: Callable[[Order], str]) -> None:
    """Do it under the person's initials, say what came of it, and look again."""

    def then(order: Order) -> None:
        screen.notify(told(order), markup=False)
        screen.read()

    screen.signed(lambda by: workers.run(screen, lambda: deed(by), then, name="order", busy="Saving"))


def sheet(screen: StockScreen, order: Order) -> None:
    """Ask for a file's name and write the order sheet there."""
    practice = screen.practice
    name = str(Path.home() / f"{order.number}.pdf")
    path = text_field("File", text=name, hint=f"ends in .{', .'.join(order_sheets.FORMATS)}", id="file")

    def taken() -> Path:
        written = Path(path.text).expanduser()
        if written.suffix.removeprefix(".").lower() not in order_sheets.FORMATS:
            raise BadInput(f"file: the name ends in none of .{', .'.join(order_sheets.FORMATS)}.")
        return written

    def answered(file: Path | None) -> None:
        if file is not None:
            workers.run(
                screen,
                lambda: _write(practice, order.number, file),
                lambda _: screen.notify(f"Written to {file}. Nothing was sent.", markup=False, timeout=8),
                name="sheet",
            )

    question = "For the supplier: as PDF to attach, as text for an e-mail, as CSV."
    screen.app.push_screen(
        AskDialog(f"Write the sheet of {order.number}", [path], taken, question=question, yes="Write"), answered
    )


def _write(practice: Practice, number: str, file: Path) -> None:
    """Write the sheet; runs in a thread. A file that is there already is not written over."""
    content = order_sheets.written(practice, number, file.suffix.removeprefix(".").lower())
    try:
        with file.open("xb") as out:
            out.write(content)
    except OSError as error:
        raise BadInput(f"{file} can't be written: {error.strerror}.", "Name a file that is new.") from None


def why(screen: StockScreen, proposed: ProposedOrder | None, order: Order | None) -> None:
    """Show the arithmetic of every line, then of the whole order."""
    sums: list[Derivation] = []
    if proposed is not None:
        sums = [each for line in proposed.ordered for each in line.why] + list(proposed.why)
    elif order is not None:
        sums = [each for line in order.lines for each in line.why]
    name = proposed.supplier if proposed else order.number if order else ""
    note = "" if sums else "Nothing is proposed here: there is no arithmetic behind it."
    screen.app.push_screen(WhyDialog(f"Why: {name}", sums, note=note))
