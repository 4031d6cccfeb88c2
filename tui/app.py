"""The screens' application: opens the practice, switches between modes, and knows what belongs to no single screen.

The first frame is painted before the store and everything that needs it are loaded, in a thread: opening a practice
takes longer than drawing it.
"""

from collections.abc import Callable, Iterable
from datetime import date
from importlib import import_module
from pathlib import Path
from typing import TYPE_CHECKING, Any

from textual.app import ComposeResult, SystemCommand
from textual.binding import Binding
from textual.screen import Screen
from textual.widgets import Static

from inventory.errors import PracticeError
from tui import logs, palette, postings, theme, workers
from tui.dialogs.confirm import Confirmed
from tui.dialogs.reading import HelpDialog
from tui.frame import Frame
from tui.modes import MODES
from tui.widgets.form import leave_dialog, unsaved
from tui.widgets.mode_bar import ModeBar
from tui.workplace import Mode, Workplace

if TYPE_CHECKING:
    from inventory.service.practice import Practice
    from inventory.service.today import Desktop

LOOK_AT_CLOCK = 60.0  # seconds between looks whether a new day has begun

Opened = tuple["Practice", "Desktop", dict[str, type[Screen[Any]]]]


class StockApp(Frame):
    """The application.

    Args:
        open_practice: opens the practice; called in a thread.
        by: initials, where known.
        theme: one of `tui.theme.NAMES`; empty means the usual one.
        demo: whether the practice is the invented one.
    """

    # all at once: the styles of all widgets are applied anew whenever a screen brings its own
    CSS_PATH = [*theme.STYLES, *sorted((Path(__file__).parent / "screens").glob("*.tcss"))]
    BINDINGS = [
        *(Binding(mode.key, f"go('{mode.name}')", mode.title, show=False) for mode in MODES),
        Binding("f1,question_mark", "help", "Help", key_display="?"),
        Binding("f3", "questions", "Questions, and where each is answered", show=False),
        Binding("q", "quit", "Quit", show=False),
    ]

    def __init__(
        self, open_practice: Callable[[], "Practice"], *, by: str = "", theme: str = "", demo: bool = False
    ) -> None:
        super().__init__(theme or "dark")
        self.modes: tuple[Mode, ...] = MODES
        self.work: Workplace
        self.failure: PracticeError | None = None
        self._open, self._by, self._demo = open_practice, by.strip().upper(), demo
        self.postings = postings.Postings(self)

    def compose(self) -> ComposeResult:
        yield ModeBar([(mode.key, mode.name, mode.title) for mode in MODES], "")
        yield Static("◦ Opening the practice …", classes="caution")

    def on_ready(self) -> None:
        workers.run(self.screen, self._load, self._opened, name="open", failed=self._not_opened)

    def _load(self) -> Opened:
        """Open the practice and import the screens; runs in a thread."""
        from inventory.service import today  # noqa: PLC0415 - loads the store, after the first frame

        practice = self._open()
        places = {mode.name: mode.screen.partition(":") for mode in MODES}
        screens = {name: getattr(import_module(module), title) for name, (module, _, title) in places.items()}
        return practice, today.desktop(practice), screens

    def _opened(self, opened: Opened) -> None:
        practice, desktop, screens = opened
        for name, screen in screens.items():
            self.add_mode(name, screen)
        if not desktop.people:
            self.push_screen(import_module("tui.screens.first_run").FirstRunScreen(practice, desktop.today))
            return
        self.begin(practice, desktop, demo=self._demo)

    def _not_opened(self, error: PracticeError) -> bool:
        self.failure = error
        self.exit()
        return True

    def begin(self, practice: "Practice", desktop: "Desktop", *, by: str = "", demo: bool = False) -> None:
        """Work in a practice from now on."""
        self.work = Workplace.of(practice, desktop, by=by or self._by, demo=demo)
        if desktop.caution:
            self.notify(desktop.caution, severity="warning", timeout=30)
        self.switch_mode(MODES[0].name)
        self.set_interval(LOOK_AT_CLOCK, self._look_at_clock)
        self.set_interval(postings.EVERY, self.postings.look)

    def _look_at_clock(self) -> None:
        from inventory.service import today  # noqa: PLC0415 - loaded long ago

        practice = self.work.practice
        workers.run(
            self.screen,
            lambda: today.desktop(practice),
            lambda seen: self.note_day(seen.today),
            name="day",
            latest=True,
        )

    def note_day(self, today: date) -> None:
        """A reading says which day it is; where a new one has begun, the present screen is read anew."""
        if today != self.work.today:
            self.work.today = today
            self.read_again()

    def read_again(self) -> None:
        """Read the present screen anew, as when it comes to the front."""
        resume = getattr(self.screen, "on_screen_resume", None)
        if resume is not None:
            resume()

    def go(self, mode: str, subject: object = None) -> None:
        """Switch to a mode; its screen is told what it is about."""
        if mode not in {known.name for known in MODES}:
            return
        self.switch_mode(mode)
        about = getattr(self.screen, "about", None)
        if subject is not None and about is not None:
            about(subject)

    def action_go(self, mode: str) -> None:
        if hasattr(self, "work") and not self.screen.is_modal:
            self.go(mode)

    def on_mode_bar_wanted(self, event: ModeBar.Wanted) -> None:
        self.action_go(event.mode)

    def ask_initials(self, then: Callable[[str], object]) -> None:
        """Ask who works here; nothing follows where nobody answers."""

        def answered(initials: str | None) -> None:
            if initials is not None:
                self.work.by = initials
                self.read_again()
                then(initials)

        unknown = self._by if self._by not in self.work.people else ""
        self.push_screen(palette.who(self.work.people, unknown), answered)

    def action_help(self) -> None:
        if not isinstance(self.screen, HelpDialog):
            name = getattr(self.screen, "title_text", "") or self.TITLE or ""
            self.push_screen(HelpDialog(self.screen, name, getattr(self.screen, "cautions", ())))

    def action_questions(self) -> None:
        self.push_screen(import_module("tui.dialogs.questions").QuestionsDialog())

    async def action_quit(self) -> None:
        """End, after a question where something was typed and not saved."""

        def answered(answer: Confirmed | None) -> None:
            if answer is not None:
                self.exit()

        if any(unsaved(screen) for stack in self._screen_stacks.values() for screen in stack):
            self.push_screen(leave_dialog(), answered)
        else:
            self.exit()

    def _fatal_error(self) -> None:
        """End without a traceback over the terminal; `run` hands the error on, for the log."""
        self._close_messages_no_wait()

    def raise_failure(self) -> None:
        """Raise what ended the application, where anything but the person did."""
        if (failure := self.failure or self._exception) is not None:
            raise failure

    def get_system_commands(self, screen: Screen[Any]) -> Iterable[SystemCommand]:  # noqa: ARG002 - the same everywhere
        return palette.commands(self) if hasattr(self, "work") else ()


def run(open_practice: Callable[[], "Practice"], *, by: str = "", theme: str = "", demo: bool = False) -> int:
    """Show the screens until the person quits; returns the exit status.

    Raises:
        PracticeError: the practice could not be opened.
        Exception: the program failed; what was confirmed before is kept.
    """
    logs.to_file()
    app = StockApp(open_practice, by=by, theme=theme, demo=demo)
    app.run()
    app.raise_failure()
    return app.return_code or 0
