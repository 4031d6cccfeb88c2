"""From a visit to the screen where it is dealt with, from anywhere."""

from collections.abc import Callable
from datetime import date
from typing import Any

from inventory.domain.vocabulary import VisitState
from inventory.service import visits
from inventory.service.visits import VisitCard
from tui import workers
from tui.screens.base import StockScreen
from tui.screens.book_out import BookOutScreen
from tui.screens.lay_out import LayOutScreen
from tui.screens.record import RecordScreen

Then = Callable[[Any], None]


def _nothing(_: object) -> None:
    """Nothing more to do on coming back."""


def open_visit(screen: StockScreen, visit_id: int, then: Then = _nothing) -> None:
    """Look the visit up, then open it; ``then`` is called when the person comes back."""
    practice = screen.practice
    workers.run(screen, lambda: visits.one(practice, visit_id), lambda card: open_card(screen, card, then), name="open")


def open_card(screen: StockScreen, card: VisitCard, then: Then = _nothing) -> None:
    """Open a visit: its form to book out, its lay-out list while its day is to come, or its record."""
    screen.app.push_screen(_step(card, screen.work.today), then)


def book_out(screen: StockScreen, card: VisitCard, then: Then = _nothing) -> None:
    """Open the form of a planned visit, whatever its day."""
    screen.app.push_screen(BookOutScreen(card.visit_id), then)


def _step(card: VisitCard, today: date) -> StockScreen:
    if card.state is not VisitState.PLANNED:
        return RecordScreen(card.visit_id)
    return LayOutScreen(card) if card.on > today else BookOutScreen(card.visit_id)
