"""A field for one of many names: typing part of a name offers the ones that hold it."""

from collections.abc import Callable, Sequence
from typing import TypeVar

from textual import events
from textual.app import ComposeResult
from textual.content import Content
from textual.widgets import Input, OptionList, Static
from textual.widgets.option_list import Option

from inventory.errors import BadInput
from tui import text as shown
from tui.widgets.fields import Field
from tui.widgets.matching import folded, matches

Value = TypeVar("Value")
MORE = "▾"


class ChoiceField(Field[Value]):
    """One of a list, found by typing part of its name.

    Args:
        label: what stands before it.
        choices: value and name of each; names are what is shown and typed.
        chosen: the value it begins with.
        other: makes a value of a name that is not in the list, where such are allowed.
        needed: whether it may not stay empty.
        hint: shown beside the input while it is empty.
        id: the widget's id.
    """

    def __init__(
        self,
        label: str,
        choices: Sequence[tuple[Value, str]],
        *,
        chosen: Value | None = None,
        other: Callable[[str], Value] | None = None,
        needed: bool = True,
        hint: str = "",
        id: str | None = None,  # noqa: A002 - Textual's name
    ) -> None:
        self._choices = tuple(choices)
        self._other = other
        super().__init__(label, self._find, text=self._called(chosen), needed=needed, hint=hint, id=id)
        self.add_class("-choice")
        self._settled = self.input.value  # the text for which no list is offered
        self._list = OptionList(classes="field-list")
        self._list.can_focus = False
        self._offered: list[int] = []
        self._fault = Static(classes="field-fault")

    def compose(self) -> ComposeResult:
        yield from super().compose()
        yield self._fault
        yield self._list

    @property
    def is_open(self) -> bool:
        """Whether the list is shown."""
        return self.has_class("-open")

    def offer(self, choices: Sequence[tuple[Value, str]], chosen: Value | None = None) -> None:
        """Take other choices from now on."""
        self._choices = tuple(choices)
        self.choose(chosen)

    def choose(self, value: Value | None) -> None:
        """Fill in one of the choices, as if it had stood there from the beginning."""
        self._settled = shown.clean(self._called(value))
        self.fill(self._settled)
        self._close()

    def _show_note(self) -> None:
        """A fault stands below: beside a name there is too little room for both."""
        super()._show_note()
        self._fault.update(self._note.content if self.error else "")

    def _told(self) -> str:
        """Where a name stands already, the sign that there are others: Down shows them."""
        return super()._told() or (MORE if self.text and len(self._choices) > 1 else "")

    def _called(self, value: Value | None) -> str:
        return next((name for known, name in self._choices if value is not None and known == value), "")

    def _find(self, text: str) -> Value:
        names = [name for _, name in self._choices]
        same = [index for index, name in enumerate(names) if folded(shown.clean(name)) == folded(text)]
        if same:
            return self._choices[same[0]][0]
        if self._other is not None:
            return self._other(text)
        found = matches(text, names)
        if len(found) == 1:
            return self._choices[found[0]][0]
        if not found:
            raise BadInput(f"Nothing is called {text!r}.", "Type part of a name, or press Down for the list.")
        raise BadInput(f"{len(found)} names hold {text!r}.", "Go on typing, or press Down and choose.")

    def _open(self, query: str) -> None:
        self._offered = matches(query, [name for _, name in self._choices])
        self._list.clear_options()
        self._list.add_options(Option(Content(shown.clean(self._choices[index][1]))) for index in self._offered)
        self.set_class(bool(self._offered), "-open")
        if self._offered and self._other is None:
            self._list.highlighted = 0

    def _close(self) -> None:
        self.remove_class("-open")

    def _settle(self, position: int) -> None:
        """Take the choice at a position of the list."""
        self._settled = shown.clean(self._choices[self._offered[position]][1])
        self.input.value = self._settled
        self._close()

    # The toolkit calls each of these handlers of `Field` after its namesake here.

    def on_input_changed(self, event: Input.Changed) -> None:
        event.stop()
        if self.input.value == self._settled or not self.text:
            self._close()
        elif self.input.has_focus:
            self._open(self.text)

    def on_input_submitted(self, event: Input.Submitted) -> None:
        event.stop()
        if self.is_open and self._list.highlighted is not None:
            self._settle(self._list.highlighted)
        self._close()

    def on_input_blurred(self, event: Input.Blurred) -> None:
        event.stop()
        self._close()

    def on_option_list_option_selected(self, event: OptionList.OptionSelected) -> None:
        event.stop()
        self._settle(event.option_index)
        self.check()
        self.focus_input()

    def on_option_list_option_highlighted(self, event: OptionList.OptionHighlighted) -> None:
        event.stop()

    def on_key(self, event: events.Key) -> None:
        if event.key in ("down", "up"):
            event.stop()
            self._step(1 if event.key == "down" else -1)
        elif event.key == "escape" and self.is_open:
            event.stop()
            self.input.value = self._settled
            self._close()

    def _step(self, by: int) -> None:
        if not self.is_open:
            self._open("" if self.input.value == self._settled else self.text)
        else:
            at = -1 if self._list.highlighted is None else self._list.highlighted
            self._list.highlighted = (at + by) % len(self._offered)
