"""What states look like: word and symbol first, colour only repeating them."""

import unicodedata

import pytest
from textual.app import App, ComposeResult
from textual.color import Color
from textual.css.stylesheet import Stylesheet
from textual.screen import Screen
from textual.theme import Theme
from textual.widgets import Static

from tests.tui.seeing import seen
from tui import text as shown
from tui.frame import Frame
from tui.theme import DARK, HIGH_CONTRAST, LIGHT, NAMES, PLAIN, THEMES, Status, dress

STATES = [name for name in THEMES[0].variables if name.startswith("status-")]


def luminance(colour: Color) -> float:
    """Relative luminance of WCAG 2.1 (from memory), for the contrast ratio below."""
    parts = [part / 12.92 if part <= 0.04045 else ((part + 0.055) / 1.055) ** 2.4 for part in colour.normalized]
    return 0.2126 * parts[0] + 0.7152 * parts[1] + 0.0722 * parts[2]


def contrast(one: str, other: str, *, grey: bool = False) -> float:
    colours = [Color.parse(name) for name in (one, other)]
    lights = sorted(luminance(colour.monochrome if grey else colour) for colour in colours)
    return (lights[1] + 0.05) / (lights[0] + 0.05)


def inks(theme: Theme) -> list[str]:
    return [str(theme.foreground), theme.variables["muted"], theme.primary, *(theme.variables[name] for name in STATES)]


def grounds(theme: Theme) -> list[str]:
    return [str(theme.background), str(theme.surface), str(theme.panel)]


def test_every_state_has_a_word_and_a_symbol_of_its_own() -> None:
    assert len({state.word for state in Status}) == len(Status)
    assert len({state.symbol for state in Status}) == len(Status)


def test_symbols_are_one_cell_wide_in_every_terminal() -> None:
    for state in Status:
        assert len(state.symbol) == 1
        assert unicodedata.east_asian_width(state.symbol) in ("N", "Na")


@pytest.mark.parametrize("theme", THEMES, ids=lambda theme: theme.name)
def test_every_ink_is_readable_on_every_ground(theme: Theme) -> None:
    """4.5 : 1 is level AA of WCAG 2.1, 7 : 1 level AAA (from memory); in the greys of NO_COLOR as well."""
    least = 7.0 if theme.name == HIGH_CONTRAST else 4.5
    for ink in inks(theme):
        for ground in grounds(theme):
            assert contrast(ink, ground) >= least, (ink, ground)
            assert contrast(ink, ground, grey=True) >= least, (ink, ground)


@pytest.mark.parametrize("theme", THEMES, ids=lambda theme: theme.name)
def test_the_chosen_line_stands_out_and_can_be_read(theme: Theme) -> None:
    back, ink = theme.variables["block-cursor-background"], theme.variables["block-cursor-foreground"]
    for grey in (False, True):
        assert contrast(ink, back, grey=grey) >= 4.5
        assert contrast(back, str(theme.background), grey=grey) >= 1.8


@pytest.mark.parametrize("theme", THEMES, ids=lambda theme: theme.name)
def test_no_theme_borrows_the_colours_of_the_terminal(theme: Theme) -> None:
    """With NO_COLOR such a theme gave black on black."""
    assert not theme.ansi
    assert all(Color.parse(ink).ansi is None for ink in inks(theme))


def test_the_application_offers_these_themes_and_no_others() -> None:
    app = Frame()
    assert set(app.available_themes) == set(NAMES) == {LIGHT, DARK, HIGH_CONTRAST, PLAIN}


@pytest.mark.parametrize(("wanted", "got"), [(LIGHT, LIGHT), (HIGH_CONTRAST, HIGH_CONTRAST), ("unheard of", DARK)])
def test_the_theme_wanted_is_put_on(wanted: str, got: str, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.delenv("NO_COLOR", raising=False)
    assert Frame(wanted).theme == got


@pytest.mark.parametrize("wanted", NAMES)
async def test_without_colours_everything_is_still_there(wanted: str, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("NO_COLOR", "1")

    class States(App[None]):
        def __init__(self) -> None:
            super().__init__()
            dress(self, wanted)

        def compose(self) -> ComposeResult:
            for state in Status:
                yield Static(shown.status(state))

    app = States()
    async with app.run_test(size=(40, 10)):
        assert app.theme == PLAIN
        for state in Status:
            assert f"{state.symbol} {state.word}" in seen(app)
        drawn = {
            (segment.style.color, segment.style.bgcolor)
            for strip in app.screen._compositor.render_strips()
            for segment in strip
            if segment.style and segment.text.strip()
        }
        assert drawn
        assert all(ink != ground for ink, ground in drawn)


@pytest.mark.parametrize("theme", NAMES)
async def test_a_theme_can_be_changed_while_the_screens_are_open(theme: str) -> None:
    class States(Frame):
        def compose(self) -> ComposeResult:
            yield Static(shown.status(Status.ACT))

    app = States()
    async with app.run_test(size=(40, 5)) as pilot:
        app.theme = theme
        await pilot.pause()
        assert "! act now" in seen(app)
        assert app.screen.styles.background == Color.parse(app.current_theme.background or "")


async def test_style_sheets_are_parsed_once_for_all_screens_of_a_theme(monkeypatch: pytest.MonkeyPatch) -> None:
    """The toolkit parses them for each new screen, which takes longer than all else between a key and that screen."""
    async with Frame().run_test():
        pass
    parsed: list[object] = []

    def parse(_self: object, *source: object, **_: object) -> list[object]:
        parsed.append(source)
        return []

    monkeypatch.setattr(Stylesheet, "_parse_rules", parse)
    async with Frame().run_test() as pilot:
        pilot.app.push_screen(Screen())
        await pilot.pause()
    assert not parsed
