"""Dialogs answer once, by keys and by mouse, and keep to themselves what happens in them."""

from collections.abc import Callable
from typing import Any, ClassVar

import pytest
from textual.app import ComposeResult
from textual.binding import Binding, BindingType
from textual.screen import Screen
from textual.widgets import Button, Input, Static

from inventory.domain.why import Op, Term, derive
from inventory.errors import NotFound
from tests.tui.seeing import lines, seen
from tests.tui.test_text import NASTY
from tui import text as shown
from tui.dialogs.base import Dialog
from tui.dialogs.choose import ChooseDialog
from tui.dialogs.confirm import ConfirmDialog, Confirmed
from tui.dialogs.reading import ErrorDialog, HelpDialog, WhyDialog
from tui.frame import Frame

NO_ANSWER = object()
LONG = "This sentence is one of many. " * 60


class Room(Frame):
    """A screen under a dialog; it notes every answer, and every message that should not have come up to it."""

    def __init__(self, dialog: Dialog[Any]) -> None:
        super().__init__()
        self.dialog = dialog
        self.answer: Any = NO_ANSWER
        self.overheard: list[str] = []

    def compose(self) -> ComposeResult:
        yield Static("below")

    def on_mount(self) -> None:
        self.begin()

    def begin(self) -> None:
        self.push_screen(self.dialog, self.answered)

    def answered(self, result: Any) -> None:
        assert self.answer is NO_ANSWER
        self.answer = result

    def on_button_pressed(self, _event: Button.Pressed) -> None:
        self.overheard.append("pressed")

    def on_input_submitted(self, _event: Input.Submitted) -> None:
        self.overheard.append("submitted")

    def on_input_changed(self, _event: Input.Changed) -> None:
        self.overheard.append("changed")


def confirm(**more: Any) -> ConfirmDialog:
    return ConfirmDialog("Discard lot L7?", "Three cartridges.", "It can be undone.", yes="Discard", no="Keep", **more)


@pytest.mark.parametrize(
    ("keys", "answer"),
    [
        (["y"], Confirmed()),
        (["n"], None),
        (["escape"], None),
        (["right", "enter"], Confirmed()),
        (["tab", "enter"], Confirmed()),
        (["right", "left", "enter"], None),
    ],
)
async def test_a_question_is_answered_by_keys(keys: list[str], answer: Confirmed | None) -> None:
    app = Room(confirm())
    async with app.run_test() as pilot:
        await pilot.press(*keys)
        await pilot.pause(0.1)
        assert app.answer == answer
        assert app.overheard == []


async def test_enter_pressed_once_more_than_meant_confirms_nothing() -> None:
    app = Room(confirm())
    async with app.run_test() as pilot:
        await pilot.press("enter")
        assert app.answer is None


@pytest.mark.parametrize(("button", "answer"), [("#yes", Confirmed()), ("#no", None)])
async def test_a_question_is_answered_by_mouse(button: str, answer: Confirmed | None) -> None:
    app = Room(confirm())
    async with app.run_test() as pilot:
        await pilot.click(button)
        assert app.answer == answer
        assert app.overheard == []


async def test_a_second_yes_while_the_question_closes_counts_for_nothing() -> None:
    app = Room(confirm())
    async with app.run_test() as pilot:
        app.dialog.answer(Confirmed())
        app.dialog.answer(Confirmed())
        await pilot.pause()
        assert app.answer == Confirmed()
        assert "below" in seen(app)


async def test_where_a_reason_is_needed_there_is_no_yes_without_one() -> None:
    app = Room(confirm(reason=True, initials="AB"))
    async with app.run_test() as pilot:
        await pilot.press("enter")
        assert app.answer is NO_ANSWER
        assert "This is needed." in seen(app)
        await pilot.press(*"leaking", "enter")
        assert app.answer is NO_ANSWER
        await pilot.press("enter")
        assert app.answer == Confirmed("leaking", "AB")
        assert app.overheard == []


async def test_initials_that_are_not_known_are_asked_for_first() -> None:
    app = Room(confirm(initials=""))
    async with app.run_test() as pilot:
        await pilot.press("A", "B", "enter")
        assert app.answer == Confirmed("", "AB")


@pytest.mark.parametrize("key", ["enter", "escape"])
@pytest.mark.parametrize(
    "make",
    [
        lambda _: ErrorDialog.of(NotFound("There is no lot L9.", "Look at the label again.")),
        lambda _: WhyDialog("Why", [derive("Sum", [Term("a", 100, "cml")], "b", "cml")], "A note."),
        lambda screen: HelpDialog(screen, "the room below"),
    ],
)
async def test_what_only_tells_is_closed_by_enter_and_escape(
    make: Callable[[Screen[Any]], Dialog[None]], key: str
) -> None:
    class Reading(Room):
        def begin(self) -> None:
            self.push_screen(make(self.screen), self.answered)

    app = Reading(Dialog())
    async with app.run_test() as pilot:
        await pilot.press(key)
        await pilot.pause(0.1)
        assert app.answer is None
        assert app.overheard == []


async def test_an_error_says_what_is_wrong_and_what_to_do() -> None:
    app = Room(ErrorDialog.of(NotFound("There is no lot L9.", "Look at the label again.")))
    async with app.run_test():
        for said in ("Not found", "There is no lot L9.", "Look at the label again."):
            assert said in seen(app)


@pytest.mark.parametrize("size", [(80, 24), (120, 40), (200, 60)])
async def test_a_long_text_is_scrolled_and_its_answers_stay_in_sight(size: tuple[int, int]) -> None:
    app = Room(ErrorDialog("Long", LONG * 3, "The very end."))
    async with app.run_test(size=size) as pilot:
        assert "Close  Enter" in seen(app)
        assert "The very end." not in seen(app)
        await pilot.press(*["pagedown"] * 30)
        assert "The very end." in seen(app)
        assert "Close  Enter" in seen(app)


@pytest.mark.parametrize("reason", [False, True])
async def test_a_long_question_keeps_its_fields_and_answers_in_sight(reason: bool) -> None:
    app = Room(ConfirmDialog("Long", LONG, yes="Do it", no="Leave it", reason=reason, initials="AB"))
    async with app.run_test(size=(80, 24)):
        for kept in ("Initials", "Do it  Enter", "Leave it  Esc"):
            assert kept in seen(app)


async def test_the_figures_of_a_sum_stand_under_one_another() -> None:
    needed = derive(
        "Expected use",
        [Term("8 cases", 9600, "cml"), Term("purges", 480, "cml"), Term("cartridge", 5000, "cml", Op.TOLD)],
        "needed",
        "cml",
    )
    packs = derive(
        "Packs", [Term("needed", 10080, "cml"), Term("pack", 20000, "cml", Op.IN_PACKS_OF)], "order", "packs"
    )
    app = Room(WhyDialog("Why one pack", [needed, packs]))
    async with app.run_test(size=(80, 24)):
        told = [line.rstrip("│ ") for line in lines(app) if " mL" in line or " pack" in line.replace("one pack", "")]
        assert len(told) == 7
        assert len({len(line) for line in told}) == 1


async def test_help_lists_the_keys_of_the_screen_and_what_to_beware_of() -> None:
    class Helped(Room):
        BINDINGS: ClassVar[list[BindingType]] = [Binding("f5", "noop", "Read anew")]

        def begin(self) -> None:
            self.push_screen(Weekly())

    class Weekly(Screen[None]):
        BINDINGS: ClassVar[list[BindingType]] = [
            Binding("d", "noop", "Discard with proof"),
            Binding("r,R", "noop", "Receive"),
            Binding("question_mark", "help", "Help", key_display="?"),
        ]

        def compose(self) -> ComposeResult:
            yield Static("weekly")

        def action_help(self) -> None:
            self.app.push_screen(HelpDialog(self, "weekly check", ["What is discarded is gone."]))

    app = Helped(Dialog())
    async with app.run_test() as pilot:
        await pilot.press("question_mark")
        await pilot.pause(0.1)
        for said in (
            "Help: weekly check",
            "d    Discard with proof",
            "r R  Receive",
            "Read anew",
            "▵ What is discarded is",
        ):
            assert said in seen(app)
        assert "Copy selected text" not in seen(app)


CHOICES = [(number, name) for number, name in enumerate(("Upper S", "Upper M", "Lower S", "Lower M"))]


async def test_a_name_is_found_by_typing_part_of_it() -> None:
    app = Room(ChooseDialog("Which tray?", CHOICES, "It goes to reprocessing."))
    async with app.run_test() as pilot:
        assert "4 of 4 names" in seen(app)
        await pilot.press("l", "o")
        assert "2 of 4 names" in seen(app)
        await pilot.press("down", "enter")
        assert app.answer == 3
        assert app.overheard == []


async def test_a_name_is_chosen_with_the_mouse() -> None:
    app = Room(ChooseDialog("Which tray?", CHOICES))
    async with app.run_test() as pilot:
        await pilot.click(".dialog-list", offset=(3, 1))
        assert app.answer == 1


async def test_where_no_name_fits_nothing_is_chosen() -> None:
    app = Room(ChooseDialog("Which tray?", CHOICES))
    async with app.run_test() as pilot:
        await pilot.press("x", "enter", "down")
        assert "No name holds that." in seen(app)
        assert app.answer is NO_ANSWER
        await pilot.press("escape")
        await pilot.pause(0.1)
        assert app.answer is None


@pytest.mark.parametrize("text", NASTY)
async def test_nasty_text_in_dialogs_is_shown_as_it_was_typed(text: str) -> None:
    for dialog in (
        ErrorDialog(text, text, text),
        ConfirmDialog(text, text, text, yes=text, reason=True, initials=text),
        ChooseDialog(text, [(1, text)], text),
        WhyDialog(text, [derive(text, [Term(text, 1, "piece")], text, "piece")], text),
    ):
        app = Room(dialog)
        async with app.run_test():
            assert seen(app).count(shown.clean(text).strip()) >= 3
