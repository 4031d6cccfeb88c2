"""The screens' application: opens the practice, switches between modes, and knows what belongs to no single screen.

The first frame is painted before the store and everything that needs it are loaded, in a thread: opening a practice
takes longer than drawing it.
"""

import logging
from collections.abc import Callable, Iterable
from datetime import date
from importlib import import_module
from pathlib import Path
from typing import TYPE_CHECKING, Any

from textual.app import ComposeResult, SystemCommand
from textual.binding import Binding
from textual.screen import Screen
from textual.widgets import Static

from inventory import settings
from inventory.domain.dates import DateOrder
from inventory.errors import NotFound, PracticeError
from tui import theme, workers
from tui.dialogs.choose import ChooseDialog
from tui.dialogs.confirm import Confirmed
from tui.dialogs.reading import HelpDialog
from tui.frame import Frame
from tui.widgets.form import leave_dialog, unsaved
from tui.widgets.mode_bar import ModeBar
from tui.workplace import Mode, Workplace

if TYPE_CHECKING:
    from inventory.service.practice import Practice
    from inventory.service.today import Desktop

MODES = (
    Mode("1", "today", "Today", "tui.screens.today:TodayScreen"),
)  # fmt: skip
"""In the order of the bar. A mode stands here once its screen exists."""

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

    CSS_PATH = [*theme.STYLES, Path(__file__).parent / "screens" / "screens.tcss"]
    BINDINGS = [
        *(Binding(mode.key, f"go('{mode.name}')", mode.title, show=False) for mode in MODES),
        Binding("f1,question_mark", "help", "Help", key_display="?"),
        Binding("q", "quit", "Quit", show=False),
    ]

    def __init__(
        self, open_practice: Callable[[], "Practice"], *, by: str = "", theme: str = "", demo: bool = False
    ) -> None:
        super().__init__(theme or "dark")
        self.modes = MODES
        self.work: Workplace
        self.failure: PracticeError | None = None
        self._open, self._by, self._demo = open_practice, by.strip().upper(), demo

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
            self._not_opened(NotFound("No practice has been set up in this store yet.", "Set one up first."))
            return
        self.begin(practice, desktop, demo=self._demo)

    def _not_opened(self, error: PracticeError) -> bool:
        self.failure = error
        self.exit()
        return True

    def begin(self, practice: "Practice", desktop: "Desktop", *, demo: bool = False) -> None:
        """Work in a practice from now on."""
        self.work = Workplace(
            practice=practice,
            today=desktop.today,
            by=self._by if self._by in desktop.people else "",
            people=desktop.people,
            demo=demo,
            order=DateOrder.DAY_FIRST if desktop.day_first else DateOrder.MONTH_FIRST,
            currency=desktop.currency,
        )
        self.switch_mode(MODES[0].name)
        self.set_interval(LOOK_AT_CLOCK, self._look_at_clock)

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
            self._resume()

    def _resume(self) -> None:
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
        """Ask who works here, once; nothing follows where nobody answers."""

        def answered(initials: str | None) -> None:
            if initials is not None:
                self.work.by = initials
                self._resume()
                then(initials)

        choices = [(initials, initials) for initials in self.work.people]
        self.push_screen(ChooseDialog("Who are you?", choices, "Your initials stand beside what you do."), answered)

    def action_help(self) -> None:
        if not isinstance(self.screen, HelpDialog):
            name = getattr(self.screen, "title_text", "") or self.TITLE or ""
            self.push_screen(HelpDialog(self.screen, name, getattr(self.screen, "cautions", ())))

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
        """Every verb of every mode, then what concerns the whole program."""
        for mode in MODES:
            for words, action in mode.verbs:
                yield SystemCommand(words, f"in {mode.title}", lambda mode=mode, action=action: self._do(mode, action))
        for mode in MODES:
            yield SystemCommand(f"Go to {mode.title}", f"key {mode.key}", lambda mode=mode: self.action_go(mode.name))
        yield SystemCommand("Change initials", "who works here", lambda: self.ask_initials(lambda _: None))
        yield SystemCommand("Change colours", "light, dark, high contrast or plain", self.action_change_colours)
        yield SystemCommand("Help", "keys of this screen", self.action_help)
        yield SystemCommand("Quit", "end the program", self.action_quit)

    def _do(self, mode: Mode, action: str) -> None:
        self.go(mode.name)
        self.call_later(self.screen.run_action, action)

    def action_change_colours(self) -> None:
        """Choose a theme, kept for this workstation."""

        def answered(name: str | None) -> None:
            if name is not None:
                self.theme = name
                workers.run(self.screen, lambda: settings.remember(theme=name), name="settings")

        self.push_screen(ChooseDialog("Colours", [(name, name) for name in theme.NAMES]), answered)


def run(open_practice: Callable[[], "Practice"], *, by: str = "", theme: str = "", demo: bool = False) -> int:
    """Show the screens until the person quits; returns the exit status.

    Raises:
        PracticeError: the practice could not be opened.
        Exception: the program failed; what was confirmed before is kept.
    """
    _log_to_file()
    app = StockApp(open_practice, by=by, theme=theme, demo=demo)
    app.run()
    app.raise_failure()
    return app.return_code or 0


def _log_to_file() -> None:
    """Let what the screens write down about failures end in the program's log."""
    path = settings.log_file()
    try:
        path.parent.mkdir(parents=True, exist_ok=True, mode=0o700)
    except OSError:
        return  # the dialogs say that there is no log
    log = logging.FileHandler(path, encoding="utf-8", delay=True)
    log.setFormatter(logging.Formatter("%(asctime)s %(levelname)s %(message)s"))
    logging.getLogger("tui").addHandler(log)
