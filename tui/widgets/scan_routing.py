"""Labels scanned while something else than a text field has the focus.

A scanner does not know where the focus is. Over a table each of its characters would be a key of the screen, and one
of them might open a dialog and the next confirm it. So a printable key that no text field would take is held back for
the blink of an eye (`SCAN_GAP`): if nothing follows it does what it always does; if more follow at a scanner's speed,
all of them go to the label field of the screen, and none fires anything.
"""

import re

from textual import events
from textual.app import App
from textual.timer import Timer
from textual.widget import Widget
from textual.widgets import Input, TextArea

from tui.text import clip
from tui.widgets.safe_input import SCAN_GAP, SafeInput, takes, typed
from tui.widgets.scan_input import ScanInput

LEAST = 4  # so many characters in a row are a label; fewer may be two keys pressed almost together


def _held_down(keys: list[events.Key]) -> bool:
    """Whether this is one letter, repeated by the keyboard because a finger rests on it."""
    return all(key.key == keys[0].key and key.key.isalpha() for key in keys)


class ScanRouting(App[None]):
    """An application whose scans always end in the label field of the present screen, or nowhere.

    The label field is the screen's first `ScanInput` that can take the focus. Where there is none, a screen may take
    the label itself (``take_stray_scan``); else the person is told, and nothing else happens.
    """

    _held: list[events.Key] | None = None
    _astray: str | None = None  # the label so far, where the screen has no label field
    _wait: Timer | None = None

    async def on_event(self, event: events.Event) -> None:
        if isinstance(event, events.Key) and not event.is_forwarded:
            await self._on_fresh_key(event)
            return
        if isinstance(event, events.Paste) and not event.is_forwarded and self._pasted_astray(event):
            return
        await super().on_event(event)

    async def _on_fresh_key(self, event: events.Key) -> None:
        if self._held and event.time - self._held[-1].time > SCAN_GAP:
            await self._let_go()
        if self._astray is not None:
            self._swallow(event)
        elif event.character and typed(event) and not isinstance(self.focused, Input | TextArea):
            await self._hold(event)
        else:
            await self._let_go()
            await super().on_event(event)

    async def _hold(self, event: events.Key) -> None:
        self._held = [*(self._held or []), event]
        if len(self._held) < LEAST:
            self._wait_for_more()
        elif _held_down(self._held):
            await self._let_go()
        elif (field := self.label_field()) is not None and field.screen is self.screen:
            self.screen.set_focus(field)
            await self._let_go()
        else:
            self._astray = "".join(map(typed, self._held))
            self._held = None
            self._wait_for_more()

    async def _let_go(self) -> None:
        """Let the held keys do what they do: keys of the screen, or characters of the label field focused meanwhile."""
        held, self._held = self._held or [], None
        for event in held:
            await super().on_event(event)

    def _swallow(self, event: events.Key) -> None:
        if takes(event) or event.key == "tab":
            self._end_astray()
        else:
            self._astray = (self._astray or "") + typed(event)
            self._wait_for_more()

    def _wait_for_more(self) -> None:
        if self._wait is not None:
            self._wait.stop()
        self._wait = self.set_timer(SCAN_GAP, self._nothing_followed)

    async def _nothing_followed(self) -> None:
        if self._astray is not None:
            self._end_astray()
        else:
            await self._let_go()

    def _end_astray(self) -> None:
        label, self._astray = self._astray or "", None
        self._aim(label)

    def label_field(self) -> ScanInput | None:
        """The present screen's label field; else, behind a dialog, one that waits for the next label."""
        own = next((field for field in self.screen.query(ScanInput) if field.focusable), None)
        if own is not None or not self.screen.is_modal:
            return own
        behind = (field for screen in reversed(self.screen_stack[:-1]) for field in screen.query(ScanInput))
        return next((field for field in behind if field.waits), None)

    def _aim(self, label: str) -> None:
        """Give a whole label to the label field, wherever it was scanned; the focus stays."""
        field = self.label_field()
        if field is not None:
            field.feed(label + "\r")
        elif (take := getattr(self.screen, "take_stray_scan", None)) is not None:
            take(label)
        else:
            self.scanned_astray(label)

    def scanned_astray(self, label: str) -> None:
        """Say that a label was scanned where none is expected; nothing was done with it."""
        self.notify(
            f"A label was scanned ({clip(label, 24)}), but nothing here takes labels. Nothing was done.",
            title="Label not used",
            severity="warning",
            markup=False,
        )

    def on_safe_input_scanned_into(self, event: SafeInput.ScannedInto) -> None:
        """A label scanned into a text field goes to the label field; the focus stays."""
        event.stop()
        self._aim(event.label)

    def _pasted_astray(self, event: events.Paste) -> bool:
        """Whether something was pasted where no field takes it; it is used as if it had been scanned then."""
        if isinstance(self.focused, Input | TextArea):
            return False
        field: Widget | None = self.label_field()
        if field is not None and field.screen is self.screen:
            self.screen.set_focus(field)
            return False
        for label in filter(None, re.split(r"[\r\n]+", event.text)):  # splitlines would cut at separators too
            self._aim(label)
        return True
