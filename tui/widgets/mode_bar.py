"""The bar at the top: where one is, where else one can go and by which digit, and who works on which day."""

from collections.abc import Sequence
from dataclasses import dataclass

from textual.app import ComposeResult
from textual.containers import HorizontalGroup
from textual.content import Content
from textual.message import Message
from textual.widgets import Static


class ModeTab(Static):
    """One mode; a click goes there."""

    def __init__(self, key: str, name: str, title: str, *, chosen: bool) -> None:
        super().__init__(Content.assemble((key, "" if chosen else "$primary"), f" {title}"), classes="mode-tab")
        self._mode = name
        self.set_class(chosen, "-chosen")

    def on_click(self) -> None:
        self.post_message(ModeBar.Wanted(self._mode))


class ModeBar(HorizontalGroup):
    """Modes from left to right, and at the right edge what `tell` was told.

    Args:
        modes: digit, name and title of each.
        chosen: the name of the present one.
    """

    @dataclass
    class Wanted(Message):
        """A mode was clicked."""

        mode: str

    def __init__(self, modes: Sequence[tuple[str, str, str]], chosen: str) -> None:
        super().__init__()
        self._modes, self._chosen = modes, chosen
        self._told = Static(classes="mode-told")

    def compose(self) -> ComposeResult:
        for key, name, title in self._modes:
            yield ModeTab(key, name, title, chosen=name == self._chosen)
        yield self._told

    def tell(self, text: Content) -> None:
        """Say something at the right edge."""
        self._told.update(text)
