"""One of a list, found by typing part of its name."""

from collections.abc import Sequence
from typing import TypeVar

from textual import events
from textual.content import Content
from textual.widget import Widget
from textual.widgets import Button, Input, OptionList, Static
from textual.widgets.option_list import Option

from tui.dialogs.base import Dialog
from tui.text import MUTED, clean, count
from tui.widgets.matching import matches
from tui.widgets.safe_input import SafeInput

Value = TypeVar("Value")


class ChooseDialog(Dialog[Value]):
    """A list to choose from; answers the value chosen, or None.

    Args:
        heading: what is chosen.
        choices: value and name of each, in their usual order.
        question: a sentence above the list, where one is needed.
        of: what is listed, one and many of it.
    """

    AUTO_FOCUS = "SafeInput"

    def __init__(
        self,
        heading: str,
        choices: Sequence[tuple[Value, str]],
        question: str = "",
        *,
        of: tuple[str, str] = ("name", "names"),
    ) -> None:
        super().__init__()
        self.heading = clean(heading)
        self._choices = tuple(choices)
        self._question, self._of = question, of
        self._offered: list[int] = []
        self._options = OptionList(classes="dialog-list")
        self._options.can_focus = False
        self._count = Static(classes="dialog-count")

    def body(self) -> Sequence[Widget]:
        said = [Static(Content(clean(self._question)), classes="dialog-message")] if self._question else []
        return (*said, SafeInput(placeholder=f"Type part of a {self._of[0]}", id="query"), self._options, self._count)

    def answers(self) -> Sequence[tuple[str, str]]:
        return (("choose", "Choose  Enter"), ("close", "Back  Esc"))

    def on_mount(self) -> None:
        self._offer("")

    def _offer(self, query: str) -> None:
        self._offered = matches(query, [name for _, name in self._choices])
        self._options.clear_options()
        self._options.add_options(Option(Content(clean(self._choices[index][1]))) for index in self._offered)
        self._options.highlighted = 0 if self._offered else None
        found = (
            f"{len(self._offered)} of {count(len(self._choices), *self._of)}"
            if self._offered
            else f"No {self._of[0]} holds that."
        )
        self._count.update(Content.styled(found, MUTED))

    def _choose(self) -> None:
        at = self._options.highlighted
        if at is not None:
            self.answer(self._choices[self._offered[at]][0])

    def on_input_changed(self, event: Input.Changed) -> None:
        self._offer(event.value)

    def on_input_submitted(self) -> None:
        self._choose()

    def on_option_list_option_selected(self, event: OptionList.OptionSelected) -> None:
        self._options.highlighted = event.option_index
        self._choose()

    def on_button_pressed(self, event: Button.Pressed) -> None:
        if event.button.id == "choose":
            self._choose()
        else:
            self.action_cancel()

    def on_key(self, event: events.Key) -> None:
        steps = {"down": 1, "up": -1, "pagedown": 8, "pageup": -8}
        at = self._options.highlighted
        if event.key in steps and at is not None:
            event.stop()
            self._options.highlighted = max(0, min(at + steps[event.key], len(self._offered) - 1))
