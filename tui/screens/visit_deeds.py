"""What can be done with a planned or booked visit, from any screen that shows one."""

from collections.abc import Callable

from inventory.service import visits
from inventory.service.visits import VisitCard
from tui import text as shown
from tui import workers
from tui.dialogs.confirm import ConfirmDialog, Confirmed
from tui.screens.base import StockScreen
from tui.screens.visit_form import VisitForm

Then = Callable[[VisitCard | None], None]


def plan(screen: StockScreen, then: Then) -> None:
    """Plan a visit."""
    screen.app.push_screen(VisitForm(), then)


def change(screen: StockScreen, card: VisitCard, then: Then) -> None:
    """Change a planned visit."""
    screen.app.push_screen(VisitForm(changes=card), then)


def remake(screen: StockScreen, card: VisitCard, then: Then) -> None:
    """Plan a visit that does an earlier one again."""
    screen.app.push_screen(VisitForm(remake_of=card), then)


def cancel(screen: StockScreen, card: VisitCard, then: Callable[[], object]) -> None:
    """Cancel a planned visit, with a reason."""
    practice = screen.practice

    def answered(answer: Confirmed | None) -> None:
        if answer is not None:
            screen.signed(
                lambda by: workers.run(
                    screen,
                    lambda: visits.cancel(practice, card.visit_id, version=card.version, reason=answer.reason, by=by),
                    lambda _: then(),
                    name="cancel",
                )
            )

    day = shown.near_day(card.on, screen.work.today, screen.work.formats)
    dialog = ConfirmDialog(
        f"Cancel the visit of {card.case_ref}?",
        f"{card.case_kind_name}, {day}. It uses nothing and is not counted any more.",
        "It stays in the list as cancelled.",
        yes="Cancel the visit",
        no="Keep it",
        reason=True,
    )
    screen.app.push_screen(dialog, answered)
