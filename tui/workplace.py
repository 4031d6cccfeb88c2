"""What all screens of one run share: the practice, who works here, and how she reads dates and numbers.

Screens know the application only through the few things named here, so that none of them needs the application's own
module.
"""

from collections.abc import Callable
from dataclasses import dataclass
from datetime import date
from typing import TYPE_CHECKING, Any, Protocol

from inventory.domain.dates import DateOrder
from tui.text import ISO, Formats

if TYPE_CHECKING:
    from textual.screen import Screen

    from inventory.service.practice import Practice
    from inventory.service.today import Desktop


@dataclass
class Workplace:
    """The practice at work on this workstation; ``by`` is empty until somebody has given initials."""

    practice: "Practice"
    today: date
    by: str = ""
    people: tuple[str, ...] = ()
    demo: bool = False
    order: DateOrder = DateOrder.DAY_FIRST
    currency: str = ""
    formats: Formats = ISO

    @classmethod
    def of(cls, practice: "Practice", desktop: "Desktop", *, by: str, demo: bool) -> "Workplace":
        """The workplace of an opened practice; initials that nobody there has count as not given."""
        return cls(
            practice=practice,
            today=desktop.today,
            by=by if by in desktop.people else "",
            people=desktop.people,
            demo=demo,
            order=DateOrder.DAY_FIRST if desktop.day_first else DateOrder.MONTH_FIRST,
            currency=desktop.currency,
        )


@dataclass(frozen=True)
class Mode:
    """One of the places that a digit leads to.

    Args:
        key: the digit.
        name: short and unique.
        title: what the bar shows.
        screen: module and class of its screen, imported when the practice has been opened.
        verbs: what can be done there, for the palette: words and name of the screen's action.
    """

    key: str
    name: str
    title: str
    screen: str
    verbs: tuple[tuple[str, str], ...] = ()


class StockApplication(Protocol):
    """What a screen may ask of the application."""

    modes: tuple[Mode, ...]
    work: Workplace

    @property
    def screen(self) -> "Screen[Any]":
        """The one in front."""

    def read_again(self) -> None:
        """Read the present screen anew."""

    def go(self, mode: str, subject: object = None) -> None:
        """Switch to a mode; its screen is told what it is about."""

    def ask_initials(self, then: Callable[[str], object]) -> None:
        """Ask who works here; nothing follows where nobody answers."""

    def note_day(self, today: date) -> None:
        """A reading says which day it is."""
