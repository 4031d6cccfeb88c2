"""From a visit to the screen where it is dealt with, from anywhere."""

from collections.abc import Callable
from typing import Any

from inventory.service import visits
from inventory.service.visits import VisitCard
from tui import workers
from tui.screens.base import StockScreen
from tui.screens.book_out import BookOutScreen


def open_visit(screen: StockScreen, visit_id: int, then: Callable[[Any], None] = lambda _: None) -> None:
    """Look the visit up, then open it; ``then`` is called when the person comes back."""
    practice = screen.practice
    workers.run(screen, lambda: visits.one(practice, visit_id), lambda card: open_card(screen, card, then), name="open")


def open_card(screen: StockScreen, card: VisitCard, then: Callable[[Any], None] = lambda _: None) -> None:
    """Open a visit: its form to book out, its lay-out list while its day is to come, or its record."""
    screen.app.push_screen(_step(card), then)


def _step(card: VisitCard) -> StockScreen:
    return BookOutScreen(card.visit_id)
