"""The palette: every verb of every mode, then what concerns the whole program."""

from collections.abc import Iterable, Sequence
from functools import partial
from typing import Any

from textual.app import App, SystemCommand

from inventory import settings
from tui import theme, workers
from tui.dialogs.choose import ChooseDialog
from tui.workplace import Mode


def commands(app: Any) -> Iterable[SystemCommand]:
    """Words, explanation and deed of each command."""
    for mode in app.modes:
        for words, action in mode.verbs:
            yield SystemCommand(words, f"in {mode.title}", partial(do, app, mode, action))
    for mode in app.modes:
        yield SystemCommand(f"Go to {mode.title}", f"key {mode.key}", partial(app.action_go, mode.name))
    yield SystemCommand("Change initials", "who works here", partial(app.ask_initials, lambda _: None))
    yield SystemCommand("Change colours", "light, dark, high contrast or plain", partial(choose_colours, app))
    yield SystemCommand("Questions", "and the screen and the command that answers each", app.action_questions)
    yield SystemCommand("Help", "keys of this screen", app.action_help)
    yield SystemCommand("Quit", "end the program", app.action_quit)


def do(app: Any, mode: Mode, action: str) -> None:
    """Go to a mode and do what its screen calls so."""
    app.go(mode.name)
    app.call_later(app.screen.run_action, action)


def who(people: Sequence[str], unknown: str = "") -> ChooseDialog[str]:
    """Who works here; initials that were given but that nobody here has are named."""
    choices = [(initials, initials) for initials in people]
    said = f"Nobody here has the initials {unknown}. " if unknown else ""
    question = f"{said}Your initials stand beside what you do."
    return ChooseDialog("Who are you?", choices, question, of=("person", "persons"))


def choose_colours(app: App[Any]) -> None:
    """Choose a theme, kept for this workstation."""

    def answered(name: str | None) -> None:
        if name is not None:
            app.theme = name
            workers.run(app.screen, lambda: settings.remember(theme=name), name="settings")

    app.push_screen(ChooseDialog("Colours", [(name, name) for name in theme.NAMES]), answered)
