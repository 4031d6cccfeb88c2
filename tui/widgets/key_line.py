"""The last line of a screen: its keys and what they do, each of them a place to click on.

The toolkit's own footer makes a widget for each key and makes all of them anew whenever the focus moves; this one is a
single line of text.
"""

from dataclasses import dataclass

from textual import events
from textual.binding import ActiveBinding
from textual.content import Content
from textual.reactive import reactive
from textual.screen import Screen
from textual.widget import Widget

from tui import text as shown


@dataclass(frozen=True, slots=True)
class _Key:
    """One key: what is pressed by a click, how it reads, and the cells it takes."""

    press: str
    shown: str
    does: str
    usable: bool
    start: int

    @property
    def end(self) -> int:
        return self.start + shown.width(self.shown) + shown.width(self.does) + 3


class KeyLine(Widget, can_focus=False):
    """The keys that the screen's bindings show, in their order; those that can't be used now are dimmed."""

    ALLOW_SELECT = False

    keys: reactive[tuple[_Key, ...]] = reactive(())
    under_mouse: reactive[str] = reactive("")

    def on_mount(self) -> None:
        self.screen.bindings_updated_signal.subscribe(self, self._changed)

    def render(self) -> Content:
        said = []
        for key in self.keys:
            pointed = " on $block-hover-background" if key.press == self.under_mouse else ""
            dim = "" if key.usable else " dim"
            said += [
                shown.plain(f" {key.shown} ", f"bold $footer-key-foreground{pointed}{dim}"),
                shown.plain(f"{key.does} ", f"$footer-description-foreground{pointed}{dim}"),
            ]
        return Content("").join(said)

    def on_mouse_move(self, event: events.MouseMove) -> None:
        key = self._at(event.x)
        self.under_mouse = key.press if key else ""

    def on_leave(self) -> None:
        self.under_mouse = ""

    def on_click(self, event: events.Click) -> None:
        event.stop()
        if (key := self._at(event.x)) is None:
            return
        if key.usable:
            self.app.simulate_key(key.press)
        else:
            self.app.bell()

    def _changed(self, screen: Screen[object]) -> None:
        if screen.app.app_focus and self.is_attached and screen is self.screen:
            self.call_after_refresh(self._look)

    def _look(self) -> None:
        if not self.is_attached:
            return
        found: list[_Key] = []
        actions: set[str] = set()
        for active in self.screen.active_bindings.values():
            if active.binding.show and active.binding.action not in actions:
                actions.add(active.binding.action)
                found.append(self._key(active, found[-1].end if found else 0))
        self.keys = tuple(found)

    def _key(self, active: ActiveBinding, start: int) -> _Key:
        binding = active.binding
        return _Key(binding.key, self.app.get_key_display(binding), binding.description, active.enabled, start)

    def _at(self, x: int) -> _Key | None:
        return next((key for key in self.keys if key.start <= x < key.end), None)
