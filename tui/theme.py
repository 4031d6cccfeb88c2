"""What a state looks like, in one place, and the four looks of the screens.

A state is always a word and a symbol; its colour only repeats them, so nothing is lost on a screen without colours,
to an eye that does not tell them apart, or in a printed copy. Symbols are one cell wide in every terminal (Unicode
East Asian Width neutral or narrow).

The themes name their colours themselves instead of borrowing the terminal's sixteen: with ``NO_COLOR`` the toolkit
turns every colour into its grey, which stays readable here and would be black on black there.
"""

from dataclasses import dataclass
from enum import Enum
from pathlib import Path
from typing import Any

from textual.app import App
from textual.theme import Theme


@dataclass(frozen=True)
class Look:
    """How one state is shown: its usual word, its symbol, its style (a theme variable, bold where it must be seen)."""

    word: str
    symbol: str
    style: str


class Status(Enum):
    """The states of a line: of a lot, an item, a visit, a check."""

    OK = Look("ok", "✓", "$status-ok")
    WATCH = Look("watch", "▵", "$status-watch")
    ACT = Look("act now", "!", "bold $status-act")
    BLOCKED = Look("blocked", "✗", "bold $status-blocked")
    UNKNOWN = Look("unknown", "?", "$status-unknown")
    WAITING = Look("waiting", "◦", "$status-waiting")

    @property
    def word(self) -> str:
        return self.value.word

    @property
    def symbol(self) -> str:
        return self.value.symbol

    @property
    def style(self) -> str:
        return self.value.style


LIGHT, DARK, HIGH_CONTRAST, PLAIN = "light", "dark", "high-contrast", "plain"

STYLES = [Path(__file__).parent / name for name in ("look.tcss", "fields.tcss", "dialogs.tcss")]
"""The style sheets of the application, in the order they are read."""


def _theme(
    name: str,
    *,
    dark: bool,
    ground: tuple[str, str, str],
    ink: tuple[str, str],
    primary: str,
    cursor: tuple[str, str],
    line: str,
    states: dict[str, str],
) -> Theme:
    """A theme from few colours.

    Args:
        name: what the person chooses it by.
        dark: whether light text stands on a dark ground.
        ground: background, surface of fields and tables, panel of headers and footers.
        ink: text, and text that may stand back.
        primary: frames and keys.
        cursor: ground and ink of the chosen line.
        line: frames that are not in use.
        states: a colour for each state.
    """
    return Theme(
        name=name,
        dark=dark,
        background=ground[0],
        surface=ground[1],
        panel=ground[2],
        foreground=ink[0],
        primary=primary,
        secondary=primary,
        accent=primary,
        success=states["ok"],
        warning=states["watch"],
        error=states["act"],
        variables={
            "muted": ink[1],
            "line": line,
            **{f"status-{state}": colour for state, colour in states.items()},
            "text": ink[0],
            "text-muted": ink[1],
            "border": primary,
            "border-blurred": line,
            "block-cursor-background": cursor[0],
            "block-cursor-foreground": cursor[1],
            "block-cursor-text-style": "bold",
            "block-cursor-blurred-background": ground[2],
            "block-cursor-blurred-foreground": ink[0],
            "block-hover-background": ground[2],
            "footer-background": ground[2],
            "footer-foreground": ink[0],
            "footer-key-foreground": primary,
            "footer-description-foreground": ink[0],
            "input-selection-background": cursor[0],
            "input-selection-foreground": cursor[1],
            "scrollbar": line,
            "scrollbar-hover": primary,
            "scrollbar-active": primary,
            "scrollbar-background": ground[0],
            "scrollbar-background-hover": ground[0],
            "scrollbar-background-active": ground[0],
            "scrollbar-corner-color": ground[0],
        },
    )


THEMES = (
    _theme(
        LIGHT,
        dark=False,
        ground=("#f6f5f1", "#fdfcfa", "#e7e5dd"),
        ink=("#23292e", "#5c646b"),
        primary="#1d6470",
        cursor=("#1d6470", "#ffffff"),
        line="#b9b6aa",
        states={
            "ok": "#2c6a3d",
            "watch": "#7d5600",
            "act": "#a32e23",
            "blocked": "#7a2f78",
            "unknown": "#5c646b",
            "waiting": "#33589a",
        },
    ),
    _theme(
        DARK,
        dark=True,
        ground=("#14191d", "#1a2025", "#262f36"),
        ink=("#dde3e6", "#98a4ab"),
        primary="#7fbfc6",
        cursor=("#2f6a73", "#ffffff"),
        line="#475259",
        states={
            "ok": "#93c892",
            "watch": "#e3b968",
            "act": "#f2958a",
            "blocked": "#d8a0dc",
            "unknown": "#a5b0b6",
            "waiting": "#9bbcf0",
        },
    ),
    _theme(
        HIGH_CONTRAST,
        dark=True,
        ground=("#000000", "#000000", "#1c1c1c"),
        ink=("#ffffff", "#e0e0e0"),
        primary="#ffff66",
        cursor=("#ffff66", "#000000"),
        line="#ffffff",
        states={
            "ok": "#8cff9e",
            "watch": "#ffd75e",
            "act": "#ffb3a8",
            "blocked": "#ffb0ff",
            "unknown": "#ffffff",
            "waiting": "#b8d4ff",
        },
    ),
    _theme(
        PLAIN,
        dark=True,
        ground=("#000000", "#0c0c0c", "#262626"),
        ink=("#f2f2f2", "#b8b8b8"),
        primary="#d8d8d8",
        cursor=("#e6e6e6", "#000000"),
        line="#8a8a8a",
        states=dict.fromkeys(("ok", "watch", "act", "blocked", "unknown", "waiting"), "#f2f2f2"),
    ),
)
NAMES = tuple(theme.name for theme in THEMES)


def dress(app: App[Any], wanted: str = DARK) -> None:
    """Give an application these themes and no others, and put one on.

    Args:
        app: an application whose ``__init__`` has called its base.
        wanted: one of `NAMES`; anything else means dark. Where ``NO_COLOR`` is set it is always plain.
    """
    for theme in THEMES:
        app.register_theme(theme)
    app.theme = PLAIN if app.no_color else wanted if wanted in NAMES else DARK
    for name in set(app.available_themes) - set(NAMES):
        app.unregister_theme(name)
