"""Which tip or adhesive goes with which material: a list of what could, each put on or taken off with Enter."""

from inventory.service import fitting
from inventory.service.fitting import Fit, Fits
from tui import workers
from tui.dialogs.choose import ChooseDialog
from tui.screens.base import StockScreen
from tui.theme import Status

FITS, DOES_NOT = f"{Status.OK.symbol} fits", "  -   "


def show_fits(screen: StockScreen, code: str) -> None:
    """Show what an item goes with; what is chosen is changed at once, and the list stays open."""
    practice = screen.practice

    def turn(other: str | None) -> None:
        if other is not None:
            screen.signed(
                lambda by: workers.run(
                    screen,
                    lambda: fitting.turn_fit(practice, code, other, by=by),
                    lambda _: show_fits(screen, code),
                    name="fit",
                )
            )

    def show(fits: Fits) -> None:
        choices = [(one.code, _line(one)) for one in fits.others]
        question = "Enter puts one on or takes it off. The maker's instructions say what fits."
        screen.app.push_screen(ChooseDialog(f"What {fits.name} goes with", choices, question), turn)

    workers.run(screen, lambda: fitting.fits_of(practice, code), show, name="fits")


def _line(one: Fit) -> str:
    return f"{FITS if one.fits else DOES_NOT}  {one.name} ({one.code})"
