"""A one-line input for anybody's text, one row high, that keeps its order under a scanner.

The toolkit's own input hands Enter on to the application while it goes on typing: characters that follow Enter fast
enough land in the value before it was taken. This one handles Enter itself, in order. It also knows when a scanner
typed a label into it by mistake (a reason, a quantity): it takes its old value back and reports the label instead.
"""

from dataclasses import dataclass

from textual import events
from textual.geometry import Size
from textual.message import Message
from textual.widgets import Input

from tui.text import clean

SCAN_GAP = 0.03
"""Seconds; a scanner's characters follow each other faster, a person's and a held key's (33 ms and more) slower."""

SCAN_LEAST = 8
"""Characters; no label is shorter, and nobody types that many in one go within `SCAN_GAP` of each other."""

_TAKE_KEYS = {"enter", "ctrl+j", "ctrl+m"}  # carriage return, line feed
_SEPARATORS = {  # control characters inside labels: file, group, record and unit separator
    "ctrl+backslash": "\x1c",
    "ctrl+right_square_bracket": "\x1d",
    "ctrl+circumflex_accent": "\x1e",
    "ctrl+underscore": "\x1f",
}


def typed(event: events.Key) -> str:
    """The character a key puts into a label: itself, a separator, or nothing."""
    if event.key in _SEPARATORS:
        return _SEPARATORS[event.key]
    return event.character if event.is_printable and event.character else ""


def takes(event: events.Key) -> bool:
    """Whether the key ends a label."""
    return event.key in _TAKE_KEYS


class SafeInput(Input):
    """An input one row high whose value never holds control characters."""

    @dataclass
    class ScannedInto(Message):
        """A label was scanned while this field had the focus; the field has its old value back."""

        field: "SafeInput"
        label: str

        @property
        def control(self) -> "SafeInput":
            return self.field

    def __init__(self, value: str = "", placeholder: str = "", *, id: str | None = None, classes: str = "") -> None:  # noqa: A002 - Textual's name
        super().__init__(placeholder=placeholder, compact=True, id=id, classes=classes)
        self.set_reactive(Input.value, clean(value))  # without its watchers: a field may be made before any application
        self._burst = ""
        self._burst_began_from = self.value
        self._last_key = 0.0

    def on_mount(self) -> None:
        self._initial_value = False
        self.virtual_size = Size(self.content_width, 1)
        self.cursor_position = len(self.value)

    def validate_value(self, value: str) -> str:
        """Whoever sets it, the value is harmless text of one line."""
        return clean(value)

    async def _on_key(self, event: events.Key) -> None:
        if takes(event) or (event.key == "tab" and self._was_scanned(event)):
            event.stop()
            event.prevent_default()
            await self._entered(event)
        elif mark := typed(event):
            self._note(event, mark)
            if mark < " ":
                event.stop()
                event.prevent_default()
                self.put(mark)

    def _on_paste(self, event: events.Paste) -> None:
        event.stop()
        event.prevent_default()
        self.put(event.text.strip("\r\n"))

    def put(self, text: str) -> None:
        """Put text at the cursor, or in place of what is selected; control characters become visible."""
        self.replace(clean(text), *self.selection)

    def action_paste(self) -> None:
        self.put(self.app.clipboard)

    def _was_scanned(self, event: events.Key) -> bool:
        """Whether a scanner typed what stands right before this key."""
        return event.time - self._last_key <= SCAN_GAP and len(self._burst) >= SCAN_LEAST

    async def _entered(self, event: events.Key) -> None:
        if self._was_scanned(event):
            label, self._burst = self._burst, ""
            self.value = self._burst_began_from
            self.post_message(self.ScannedInto(self, label))
        else:
            await self.action_submit()

    def _note(self, event: events.Key, mark: str) -> None:
        if event.time - self._last_key > SCAN_GAP:
            self._burst, self._burst_began_from = "", self.value
        self._burst += mark
        self._last_key = event.time
