"""Dialogs that only tell something: an error, the arithmetic of a number, the keys of a screen."""

import textwrap
from collections.abc import Sequence
from typing import Any

from rich.cells import cell_len
from textual.binding import Binding
from textual.containers import VerticalScroll
from textual.content import Content
from textual.screen import Screen
from textual.widget import Widget
from textual.widgets import Static

from inventory.domain.why import Derivation, Op, Term
from inventory.errors import PracticeError
from tui.dialogs.base import Dialog
from tui.text import MUTED, clean, noted, pad, plain
from tui.theme import Status

HELP = 64  # cells of a line of help behind the two blanks, its key left out


class ReadingDialog(Dialog[None]):
    """Something to read, scrolled with the arrow keys; Enter and Escape both close it."""

    BINDINGS = [
        Binding("enter", "cancel", show=False),
        Binding("up,k", "scroll(-1)", show=False),
        Binding("down,j", "scroll(1)", show=False),
        Binding("pageup", "scroll(-10)", show=False),
        Binding("pagedown,space", "scroll(10)", show=False),
    ]

    def __init__(self, heading: str, parts: Sequence[Content]) -> None:
        super().__init__()
        self.heading = clean(heading)
        self._parts = parts

    def body(self) -> Sequence[Widget]:
        said = (Static(part, classes="dialog-part") for part in self._parts)
        return (VerticalScroll(*said, classes="dialog-text", can_focus=False),)

    def answers(self) -> Sequence[tuple[str, str]]:
        return (("close", "Close  Enter"),)

    def action_scroll(self, lines: int) -> None:
        self.query_one(".dialog-text").scroll_relative(y=lines, animate=False)


class ErrorDialog(ReadingDialog):
    """What is wrong, where, and what to do now."""

    def __init__(self, title: str, message: str, todo: str = "") -> None:
        parts = [plain(message)]
        if todo:
            parts.append(plain(todo, MUTED))
        super().__init__(title, parts)
        self.add_class("-error")

    @classmethod
    def of(cls, error: PracticeError) -> "ErrorDialog":
        """The dialog for an error of the practice."""
        return cls(error.title, error.message, error.todo)


class WhyDialog(ReadingDialog):
    """How a number comes about: one sum below the other, a term a line, figures under one another."""

    def __init__(self, heading: str, derivations: Sequence[Derivation], note: str = "") -> None:
        parts = [sums(derivations)] if derivations else []
        if note:
            parts.append(plain(note, MUTED))
        super().__init__(heading, parts)


def sums(derivations: Sequence[Derivation]) -> Content:
    """Sums with their signs, names and figures in three columns that run through all of them."""
    rows = [term for derivation in derivations for term in (*derivation.terms, derivation.result)]
    signs = max(cell_len(term.op) for term in rows)
    names = min(max(cell_len(clean(term.name)) for term in rows), 40)
    figures = max(cell_len(term.shown()) for term in rows)

    def line(sign: str, term: Term, style: str = "") -> Content:
        text = f"{sign:>{signs}} {pad(clean(term.name), names)}  {pad(term.shown(), figures, right=True)}"
        return Content.styled(text, style) if style else Content(text)

    rule = Content.styled(" " * (signs + 1) + "─" * (names + 2 + figures), "$line")
    blocks = [
        [
            Content.styled(clean(derivation.title), "bold $primary"),
            *(line(term.op, term, MUTED if term.op is Op.TOLD else "") for term in derivation.terms),
            rule,
            line("=", derivation.result, "bold"),
        ]
        for derivation in derivations
    ]
    return Content("\n\n").join([Content("\n").join(block) for block in blocks])


class HelpDialog(ReadingDialog):
    """The keys of a screen, taken from its own bindings, and what to beware of.

    Args:
        screen: the screen the help is for.
        heading: its name.
        cautions: sentences.
    """

    def __init__(self, screen: Screen[Any], heading: str, cautions: Sequence[str] = ()) -> None:
        own, everywhere = _keys(screen)
        parts = [_section(title, keys) for title, keys in (("Here", own), ("Everywhere", everywhere)) if keys]
        if cautions:
            parts.append(Content.styled("To beware of", "bold $primary"))
            parts.extend(noted(Status.WATCH, caution) for caution in cautions)
        super().__init__(f"Help: {heading}", parts)


_TOOLKIT = {binding.action for binding in Binding.make_bindings(Screen.BINDINGS)}  # said in our own words instead


def _keys(screen: Screen[Any]) -> tuple[dict[str, list[str]], dict[str, list[str]]]:
    """What can be done, each with its keys: on this screen, and everywhere."""
    own: dict[str, list[str]] = {}
    everywhere = {"Go to the next part of the screen": ["tab"]}
    if on_enter := getattr(screen, "on_enter", ""):  # the key is the table's, what it does is the screen's
        own[on_enter] = ["Enter"]
    for active in screen.active_bindings.values():
        binding = active.binding
        ours = active.node in (screen, screen.app) and binding.action not in _TOOLKIT
        if not binding.description or binding.system or not ours:
            continue
        keys = (everywhere if active.node is screen.app else own).setdefault(binding.description, [])
        keys.append(screen.app.get_key_display(binding))
    return own, everywhere


def _section(title: str, keys: dict[str, list[str]]) -> Content:
    named = {what: " ".join(dict.fromkeys(" ".join(found).split())) for what, found in keys.items()}
    room = max(map(cell_len, named.values()))
    gap = "\n" + " " * (room + 2)
    lines = [
        Content.assemble((pad(shown, room), "bold $primary"), "  ", gap.join(textwrap.wrap(clean(what), HELP - room)))
        for what, shown in named.items()
    ]
    return Content("\n").join([Content.styled(title, "bold $primary"), *lines])
