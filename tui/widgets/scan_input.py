"""The label field: what a scanner types, whole and in order, at full speed.

A scanner is a fast keyboard. It sends the group separator between the parts of a label, ends with a carriage return
or a line feed, and may send the next label before the program has looked at the first. So the field takes and clears
its value at once on CR or LF, shows separators as ``␝`` while they are in it, and gives them back as sent.
"""

import re
from dataclasses import dataclass

from textual import events
from textual.binding import Binding
from textual.message import Message

from tui.widgets.safe_input import SafeInput

_PICTURES = {0x2400 + code: code for code in range(0x20)}


class ScanInput(SafeInput):
    """A field that posts `Scanned` for each label and is empty again at once."""

    @dataclass
    class Scanned(Message):
        """A whole label, with the separators the scanner sent."""

        scan_input: "ScanInput"
        label: str

        @property
        def control(self) -> "ScanInput":
            return self.scan_input

    BINDINGS = [Binding("up,down", "step_out", "Out of the label field", show=False)]

    waits = False
    """Whether labels may come while a dialog is in front: the screen takes them when the dialog is gone."""

    def __init__(self, placeholder: str = "Scan or type a label", *, id: str | None = None, classes: str = "") -> None:  # noqa: A002 - Textual's name
        super().__init__(placeholder=placeholder, id=id, classes=classes)

    def feed(self, text: str) -> None:
        """Handle text as if it had been scanned: each line end takes a label, what follows the last one stays."""
        *whole, rest = re.split(r"[\r\n]", text)
        for label in whole:
            self.put(label)
            self._take()
        self.put(rest)

    async def _entered(self, _event: events.Key) -> None:
        self._take()

    def _on_paste(self, event: events.Paste) -> None:
        event.stop()
        event.prevent_default()
        self.feed(event.text)

    def action_paste(self) -> None:
        self.feed(self.app.clipboard)

    def action_step_out(self) -> None:
        """Leave the field for what stands before it, usually the list."""
        self.screen.focus_previous()

    def taken(self) -> str:
        """What stands in the field, with its separators; the field is empty from now on."""
        label = self.value.translate(_PICTURES)  # a blank at its end may be a check character
        self.clear()
        return label if label.strip() else ""

    def _take(self) -> None:
        if label := self.taken():
            self.post_message(self.Scanned(self, label))
