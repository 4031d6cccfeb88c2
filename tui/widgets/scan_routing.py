"""Labels scanned while something else than a text field has the focus.

A scanner does not know where the focus is. Over a table each of its characters would be a key of the screen, and one
of them might open a dialog and the next confirm it. So a printable key that no text field would take is held back for
the blink of an eye (`SCAN_GAP`): if nothing follows it does what it always does; if more follow at a scanner's speed,
all of them go to the label field of the screen, and none fires anything.
"""

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

    The label field is the screen's first `ScanInput` that can take the focus. Where there is none, the person is told,
    and nothing else happens.
    """

    _held: list[events.Key] | None = None
    _astray: str | None = None  # the label so far, where the screen has no label field
    _wait: Timer | None = None

    async def on_event(self, event: events.Event) -> None:
        if isinstance(event, events.Key) and not event.is_forwarded:
            await self._on_fresh_key(event)
            return
        if isinstance(event, events.Paste) and not event.is_forwarded:
            self._aim_paste()
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
        elif (field := self.label_field()) is not None:
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
        if takes(event):
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
        self.scanned_astray(label)

    def label_field(self) -> ScanInput | None:
        """The present screen's label field, where it has one."""
        return next((field for field in self.screen.query(ScanInput) if field.focusable), None)

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
        field = self.label_field()
        if field is None:
            self.scanned_astray(event.label)
        else:
            field.feed(event.label + "\r")

    def _aim_paste(self) -> None:
        field: Widget | None = self.label_field()
        if field is not None and not isinstance(self.focused, Input | TextArea):
            self.screen.set_focus(field)
