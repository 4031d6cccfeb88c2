"""A form: fields below one another, Enter from one to the next, and nothing typed is lost without asking."""

from dataclasses import dataclass
from typing import Any, TypeVar

from textual.app import App
from textual.binding import Binding
from textual.containers import VerticalScroll
from textual.message import Message
from textual.screen import Screen

from tui.dialogs.confirm import ConfirmDialog, Confirmed
from tui.widgets.fields import Field

Result = TypeVar("Result")


class Form(VerticalScroll, can_focus=False):
    """Fields that are filled in together. Enter goes to the next field; in the last one it posts `Submitted`."""

    @dataclass
    class Submitted(Message):
        """All fields are right and the form is to be taken."""

        form: "Form"

        @property
        def control(self) -> "Form":
            return self.form

    @property
    def fields(self) -> list[Field[Any]]:
        """The fields that are shown, from top to bottom."""
        return [field for field in self.query(Field) if field.display]

    @property
    def dirty(self) -> bool:
        """Whether anything was typed that is not taken yet."""
        return any(field.dirty for field in self.query(Field))

    def check(self) -> bool:
        """Check all fields, each saying what is wrong with it; the focus goes to the first that is."""
        wrong = [field for field in self.fields if not field.check()]
        if wrong:
            wrong[0].focus_input()
        return not wrong

    def submit(self) -> None:
        """Take the form, if all of it is right."""
        if self.check():
            self.post_message(self.Submitted(self))

    def on_field_entered(self, event: Field.Entered) -> None:
        event.stop()
        fields = self.fields
        at = fields.index(event.field)
        if at + 1 < len(fields):
            fields[at + 1].focus_input()
        else:
            self.submit()


def unsaved(screen: Screen[Any]) -> bool:
    """Whether the screen, or a form on it, holds something that was typed and not taken."""
    return bool(getattr(screen, "dirty", False)) or any(form.dirty for form in screen.query(Form))


class CarefulScreen(Screen[Result | None]):
    """A screen with a form: Escape asks before it throws away what was typed.

    A screen that keeps what was said elsewhere than in a `Form` says so by a property ``dirty``.
    """

    BINDINGS = [Binding("escape", "leave", "Back")]

    def action_leave(self) -> None:
        if not unsaved(self):
            self.leave()
            return

        def answered(answer: Confirmed | None) -> None:
            if answer is not None:
                self.leave()

        self.app.push_screen(leave_dialog(), answered)

    def leave(self) -> None:
        """Leave without taking anything. Screens that stand at the bottom of a mode go elsewhere instead."""
        self.dismiss(None)


def leave_dialog() -> ConfirmDialog:
    """The question before typed things are thrown away."""
    return ConfirmDialog(
        "Leave without saving?",
        "What you typed here is not saved yet. If you leave now it is lost.",
        yes="Leave",
        no="Stay",
    )


def dirty_screens(app: App[Any]) -> list[Screen[Any]]:
    """Screens in the present stack with something typed and not taken: to ask before the program ends."""
    return [screen for screen in app.screen_stack if unsaved(screen)]
