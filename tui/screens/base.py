"""What every screen stands on: the bar of modes above, the footer below, and the way to the store between them."""

from collections.abc import Callable
from datetime import date
from importlib import import_module
from typing import Any, TypeVar, cast

from textual.app import ComposeResult
from textual.content import Content
from textual.screen import Screen

from inventory.errors import PracticeError
from inventory.service.practice import Practice
from tui import text as shown
from tui.dialogs.reading import ErrorDialog
from tui.widgets.form import CarefulScreen
from tui.widgets.key_line import KeyLine
from tui.widgets.mode_bar import ModeBar
from tui.workplace import StockApplication, Workplace

Result = TypeVar("Result")

ROOMY = 100  # cells from which on the bar has room for the day of the week

CAUTION = "Expired or recalled material is not used; the maker's instructions rule."
"""Stands on every screen where material is chosen."""

BEGIN = "type in what stands on the shelf with o, or receive a delivery with r"
"""What a practice with empty shelves does next."""


class StockScreen(Screen[Any]):
    """The frame of all screens of the practice. Subclasses give `body` and `read`.

    ``title_text`` heads the screen's help, ``on_enter`` says there what Enter on a line does, ``cautions`` stand below.
    """

    title_text = ""
    on_enter = ""
    cautions: tuple[str, ...] = ()
    follows = False  # whether it is read again when another workstation posts
    _resuming = False

    def compose(self) -> ComposeResult:
        modes = [(mode.key, mode.name, mode.title) for mode in self.stock_app.modes]
        yield ModeBar(modes, self.app.current_mode)
        yield from self.body()
        yield KeyLine()

    def body(self) -> ComposeResult:
        """What stands between the bar and the footer."""
        yield from ()

    def read(self) -> None:
        """Read from the store what the screen shows; called whenever the screen comes to the front."""

    @property
    def stock_app(self) -> StockApplication:
        return cast("StockApplication", self.app)

    @property
    def work(self) -> Workplace:
        return self.stock_app.work

    @property
    def practice(self) -> Practice:
        return self.work.practice

    def on_screen_resume(self) -> None:
        """Read anew, once: the toolkit says so twice when a mode is entered for the first time."""
        if not self._resuming:
            self._resuming = True
            self.call_later(self._resume)

    def _resume(self) -> None:
        self._resuming = False
        self.show_who()
        self.read()

    def show_who(self) -> None:
        """Say at the right edge of the bar which day it is, who works here, and whether it is only a demo."""
        work = self.work
        weekday = f"{shown.weekday(work.today)} " if self.app.size.width >= ROOMY else ""
        said = [shown.plain(f"{weekday}{shown.day(work.today, work.formats)}")]
        said += [shown.plain(work.by, "bold")] if work.by else []
        said += [shown.plain("demo", "bold $status-watch")] if work.demo else []
        self.query_one(ModeBar).tell(Content("  ").join(said))

    def it_is(self, today: date) -> None:
        """A reading says which day it is: shown where it is another one than before."""
        if today != self.work.today:
            self.stock_app.note_day(today)

    def signed(self, then: Callable[[str], object]) -> None:
        """Call with the initials of the person who works here; asks for them where nobody has said yet."""
        if self.work.by:
            then(self.work.by)
        else:
            self.stock_app.ask_initials(then)

    def take_stray_scan(self, label: str) -> None:
        """A label was scanned though this screen has no field for labels: go to what it names."""
        import_module("tui.screens.scan_jump").jump(self, label)

    def about(self, subject: object) -> None:
        """The person came here because of something, e.g. a line of another screen."""


class ModeScreen(StockScreen):
    """The screen at the bottom of a mode: nothing to go back to."""

    follows = True


class StepScreen(StockScreen, CarefulScreen[Result]):
    """A screen on top of another one: Escape leads back, and asks before typed things are lost."""

    _ending: tuple[Result | None] | None = None

    def finish(self, result: Result | None = None) -> None:
        """Leave with a result; where something else is in front, as soon as that is gone.

        The toolkit's own ``dismiss`` takes away whatever is in front, e.g. a help that was opened meanwhile.
        """
        if self.app.screen is self:
            self.dismiss(result)
        else:
            self._ending = (result,)

    def _resume(self) -> None:
        if self._ending is not None:
            self.dismiss(self._ending[0])
        else:
            super()._resume()

    def about(self, subject: object) -> None:
        """Hand on to the screen at the bottom of the mode: it knows the way to everything."""
        bottom = self.app.screen_stack[0]
        if isinstance(bottom, StockScreen):
            bottom.about(subject)

    def leave_with(self, error: PracticeError) -> bool:
        """Say what went wrong, and leave: what this screen is about is not there any more, or not as it was."""
        self.app.push_screen(ErrorDialog.of(error), lambda _: self.finish())
        return True
