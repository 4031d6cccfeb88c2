"""A label scanned where none is asked for: its lot is what the person wants to see.

In the history it narrows the list to the lot; anywhere else it leads to the lot among the lots of its item.
"""

from inventory.errors import PracticeError
from inventory.service import labels
from inventory.service.labels import Scanned, ScannedLot
from inventory.service.tracing import Filter
from tui import text as shown
from tui import workers
from tui.dialogs.choose import ChooseDialog
from tui.dialogs.reading import ErrorDialog
from tui.screens.base import StockScreen
from tui.screens.history import Narrow
from tui.widgets.form import unsaved


def jump(screen: StockScreen, label: str) -> None:
    """Look a label up and go to its lot."""
    if unsaved(screen):
        screen.notify("Something is typed here and not saved yet: save it or leave it first.", markup=False)
        return
    practice = screen.practice
    workers.run(
        screen,
        lambda: labels.find(practice, label),
        lambda scanned: _go(screen, scanned),
        name="scan",
        failed=lambda error: _say(screen, error),
    )


def _say(screen: StockScreen, error: PracticeError) -> bool:
    screen.app.push_screen(ErrorDialog("Label not used", error.message, error.todo))
    return True


def _go(screen: StockScreen, scanned: Scanned) -> None:
    for said in (*scanned.questions, *scanned.warnings):
        screen.notify(shown.clean(said), title="Mind", severity="warning", markup=False)
    if scanned.lots[1:] and scanned.lot_number:
        _ask(screen, scanned)
    elif scanned.lots and scanned.lot_number:
        _show(screen, scanned.lots[0])
    elif scanned.item is not None:
        if scanned.lot_number:
            said = f"Lot {scanned.lot_number} of {scanned.item.name} is not in the book."
            screen.notify(shown.clean(said), severity="warning", markup=False)
        screen.stock_app.go("stock", ("item", scanned.item.item_id))
    else:
        said = (
            "Nobody has said yet which item this label stands for." if scanned.unknown else "No lot in the book fits."
        )
        todo = "Scan it while receiving: it is asked once."
        screen.app.push_screen(ErrorDialog("Label not used", said, todo if scanned.unknown else "Check the label."))


def _ask(screen: StockScreen, scanned: Scanned) -> None:
    def chosen(lot: ScannedLot | None) -> None:
        if lot is not None:
            _show(screen, lot)

    formats = screen.work.formats
    choices = [
        (lot, f"{lot.item_name}, lot {lot.number}, {shown.use_by(lot.use_by, lot.use_by_read, formats)}")
        for lot in scanned.lots
    ]
    screen.app.push_screen(
        ChooseDialog("Which lot?", choices, "Several lots have this number:", of=("lot", "lots")), chosen
    )


def _show(screen: StockScreen, lot: ScannedLot) -> None:
    if screen.app.current_mode == "history":
        words = f"lot {lot.number} of {lot.item_name}"
        screen.stock_app.go("history", Narrow(Filter(lot_id=lot.lot_id), words=words))
        return
    if not lot.on_hand:
        screen.notify(shown.clean(f"Nothing is left of lot {lot.number}."), severity="warning", markup=False)
    screen.stock_app.go("stock", lot)
