"""A new supplier, from any screen that needs one."""

from collections.abc import Callable

from inventory.domain.catalogue import SupplierDraft
from inventory.service import catalogue
from tui import workers
from tui.dialogs.ask import AskDialog
from tui.screens.base import StockScreen
from tui.widgets.fields import number_field, text_field


def add(screen: StockScreen, then: Callable[[str], object]) -> None:
    """Ask for a supplier's name and how long it takes, save it, and go on with its name."""
    practice = screen.practice
    name = text_field("Name", id="name")
    days = number_field("Days to deliver", hint="from order to delivery", id="days")
    name.add_class("-wide")

    def answered(draft: SupplierDraft | None) -> None:
        if draft is not None:
            screen.signed(lambda by: save(draft, by))

    def save(draft: SupplierDraft, by: str) -> None:
        workers.run(
            screen,
            lambda: catalogue.add_supplier(practice, draft, by=by),
            lambda saved: then(saved.name),
            name="supplier",
        )

    dialog = AskDialog(
        "New supplier",
        [name, days],
        lambda: SupplierDraft(name=name.text, lead_days=days.value or 0),
        question="Minimum order and fees are added with the supplier's terms, by command or from a file.",
        yes="Save",
    )
    screen.app.push_screen(dialog, answered)
