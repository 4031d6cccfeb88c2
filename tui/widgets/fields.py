"""Fields of a form: a label, an input one row high, and beside it what was understood or what is wrong.

A field reads its text with one function that either gives a value or raises `BadInput`; kinds of fields differ in
that function only. While a person types, the note shows what her text means ("fri" becomes a date); a complaint comes
when she leaves the field or presses Enter, and goes as soon as the text is right.
"""

import re
from collections.abc import Callable
from dataclasses import dataclass
from datetime import date, time
from typing import Any, Generic, TypeVar

from textual.app import ComposeResult
from textual.containers import Horizontal, Vertical
from textual.content import Content
from textual.message import Message
from textual.widgets import Input, Static

from inventory.domain.dates import DateOrder, TypedDate, parse_date, parse_moment
from inventory.domain.quantity import parse_amount, parse_decimal
from inventory.domain.vocabulary import BaseUnit
from inventory.errors import BadInput
from tui import text as shown
from tui.theme import Status
from tui.widgets.safe_input import SafeInput

Value = TypeVar("Value")
_WHAT = re.compile(r"[a-z][a-z -]{0,30}: ", re.IGNORECASE)  # the field's name that errors begin with


class Field(Vertical, Generic[Value]):
    """One labelled input.

    Args:
        label: what stands before it.
        read: text to value; raises `BadInput`.
        text: what it begins with.
        tell: what a right value means, shown beside the input.
        needed: whether it may not stay empty.
        hint: shown beside the input while it is empty.
        id: the widget's id.
    """

    @dataclass
    class Changed(Message):
        """The text changed."""

        field: "Field[Any]"

        @property
        def control(self) -> "Field[Any]":
            return self.field

    @dataclass
    class Entered(Message):
        """Enter was pressed and the value is right."""

        field: "Field[Any]"

        @property
        def control(self) -> "Field[Any]":
            return self.field

    def __init__(
        self,
        label: str,
        read: Callable[[str], Value],
        *,
        text: str = "",
        tell: Callable[[Value], str] | None = None,
        needed: bool = True,
        hint: str = "",
        id: str | None = None,  # noqa: A002 - Textual's name
    ) -> None:
        super().__init__(id=id, classes="field")
        self.label = label
        self.needed = needed
        self.hint = hint
        self._read = read
        self._tell = tell
        self._initial = shown.clean(text)
        self.input = SafeInput(text)
        self._note = Static(classes="field-note")
        self.error = ""

    def compose(self) -> ComposeResult:
        with Horizontal(classes="field-row"):
            yield Static(Content(self.label), classes="field-label")
            yield self.input
            yield self._note

    def on_mount(self) -> None:
        self._show_note()

    @property
    def text(self) -> str:
        """What stands in the input, without blanks around it."""
        return self.input.value.strip()

    @property
    def dirty(self) -> bool:
        """Whether something was typed that `fill` has not put there."""
        return self.input.value != self._initial

    @property
    def value(self) -> Value | None:
        """What the text means; None where it is empty and may be.

        Raises:
            BadInput: the text can't be read, or is missing.
        """
        if not self.text:
            if self.needed:
                raise BadInput(f"{self.label}: this is needed.")
            return None
        return self._read(self.text)

    def fill(self, text: str) -> None:
        """Put text in that counts as the field's own, not as typed."""
        self._initial = shown.clean(text)
        self.input.value = text
        self.error = ""
        self._show_note()

    def reads(self, read: Callable[[str], Value], tell: Callable[[Value], str] | None = None) -> None:
        """Read in another way from now on, e.g. in the unit of another item."""
        self._read, self._tell = read, tell
        self._show_note()

    def check(self) -> bool:
        """Whether the value is right; says beside the input what is wrong."""
        try:
            _ = self.value
        except BadInput as wrong:
            self.complain(wrong)
            return False
        self.error = ""
        self._show_note()
        return True

    def complain(self, wrong: BadInput) -> None:
        """Show an error beside the input, from its own reading or from a service."""
        self.error = str(BadInput(_WHAT.sub("", wrong.message, count=1), wrong.todo))
        self._show_note()

    def _show_note(self) -> None:
        self.set_class(bool(self.error), "-wrong")
        if self.error:
            sentence = self.error[:1].upper() + self.error[1:]
            self._note.update(shown.status(Status.ACT, sentence))
        else:
            self._note.update(shown.muted(self._told()))

    def _told(self) -> str:
        if not self.text:
            return self.hint
        try:
            value = self.value
        except BadInput:
            return ""
        return self._tell(value) if self._tell and value is not None else ""

    def focus_input(self) -> None:
        """Give the input the focus."""
        self.input.focus()

    def on_input_changed(self, event: Input.Changed) -> None:
        event.stop()
        if self.error:
            self.check()
        else:
            self._show_note()
        self.post_message(self.Changed(self))

    def on_input_blurred(self, event: Input.Blurred) -> None:
        event.stop()
        if self.text:
            self.check()

    def on_input_submitted(self, event: Input.Submitted) -> None:
        event.stop()
        if self.check():
            self.post_message(self.Entered(self))


def text_field(
    label: str,
    *,
    text: str = "",
    needed: bool = True,
    hint: str = "",
    id: str | None = None,  # noqa: A002 - Textual's name
) -> Field[str]:
    """A field for any one line of text."""
    return Field(label, str, text=text, needed=needed, hint=hint, id=id)


def date_field(
    label: str,
    today: date,
    *,
    on: date | None = None,
    order: DateOrder = DateOrder.DAY_FIRST,
    formats: shown.Formats = shown.ISO,
    needed: bool = True,
    hint: str = "2027-03-12, fri, in 2 weeks",
    id: str | None = None,  # noqa: A002 - Textual's name
) -> Field[TypedDate]:
    """A field for a date, typed as people do; the note says which day was understood."""

    def tell(typed: TypedDate) -> str:
        if typed.month_only:
            return f"month only: last day {shown.day(typed.day, formats)}"
        return f"{shown.weekday(typed.day)} {shown.day(typed.day, formats)}, {shown.away(typed.day, today)}"

    return Field(
        label,
        lambda text: parse_date(text, today, order, label),
        text="" if on is None else shown.day(on, formats),
        tell=tell,
        needed=needed,
        hint=hint,
        id=id,
    )


def moment_field(
    label: str,
    today: date,
    *,
    on: date,
    at: time | None = None,
    order: DateOrder = DateOrder.DAY_FIRST,
    formats: shown.Formats = shown.ISO,
    id: str | None = None,  # noqa: A002 - Textual's name
) -> Field[tuple[TypedDate, time | None]]:
    """A field for a date, with a time behind it where it matters: whether it was before or after a count."""

    def tell(typed: tuple[TypedDate, time | None]) -> str:
        day, clock = typed
        said = f"{shown.weekday(day.day)} {shown.day(day.day, formats)}, {shown.away(day.day, today)}"
        return f"{said}, {clock:%H:%M}" if clock else said

    text = shown.day(on, formats)
    return Field(
        label,
        lambda typed: parse_moment(typed, today, order, label),
        text=f"{text} {at:%H:%M}" if at else text,
        tell=tell,
        hint="2027-03-12, fri, fri 9:30",
        id=id,
    )


def amount_field(
    label: str,
    base: BaseUnit,
    unit_qty: int,
    *,
    left_from: int | None = None,
    text: str = "",
    formats: shown.Formats = shown.ISO,
    needed: bool = True,
    hint: str = "",
    id: str | None = None,  # noqa: A002 - Textual's name
) -> Field[int]:
    """A field for an amount in base units: ``12.5``, ``3t`` (tenths of a unit), ``left 4t`` where that makes sense."""
    return Field(
        label,
        lambda text: parse_amount(text, base, unit_qty, left_from),
        text=text,
        tell=lambda qty: f"= {shown.amount(qty, base, formats)}",
        needed=needed,
        hint=hint,
        id=id,
    )


def number_field(
    label: str,
    *,
    text: str = "",
    least: int = 0,
    needed: bool = True,
    hint: str = "",
    id: str | None = None,  # noqa: A002 - Textual's name
) -> Field[int]:
    """A field for a whole number, e.g. of packs."""

    def read(typed: str) -> int:
        try:
            number = parse_decimal(typed, 1, label)
        except BadInput as wrong:
            raise BadInput(wrong.message, "Type a whole number.") from None
        if number < least:
            raise BadInput(f"{label}: {number} is too few.", f"Type {least} or more.")
        return number

    return Field(label, read, text=text, needed=needed, hint=hint, id=id)


def money_field(
    label: str,
    *,
    cents: int | None = None,
    formats: shown.Formats = shown.ISO,
    needed: bool = True,
    hint: str = "",
    id: str | None = None,  # noqa: A002 - Textual's name
) -> Field[int]:
    """A field for a sum of money, in cents."""
    return Field(
        label,
        lambda text: parse_decimal(text, 100, label),
        text="" if cents is None else shown.money(cents, formats),
        needed=needed,
        hint=hint,
        id=id,
    )
