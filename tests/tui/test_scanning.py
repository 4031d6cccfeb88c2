"""A scanner is a fast keyboard that does not know where the focus is."""

import asyncio
from itertools import cycle
from typing import Any, ClassVar

from textual.app import ComposeResult
from textual.binding import Binding, BindingType
from textual.events import Paste
from textual.pilot import Pilot
from textual.screen import Screen
from textual.widgets import Input

from tests.tui.seeing import seen, settle, type_raw
from tui.dialogs.confirm import ConfirmDialog, Confirmed
from tui.frame import Frame
from tui.widgets.safe_input import SCAN_GAP, SafeInput
from tui.widgets.scan_input import ScanInput
from tui.widgets.table import Column, ListTable, Row

LABEL = "0109506000134352100329\x1d15210526"  # read in the GS1 General Specifications, lot first
LETTERS = "abcdefghijklmnopqrstuvwxyz"


class Desk(Frame):
    """A table, a label field and a reason; every letter and digit is a key of the screen."""

    BINDINGS: ClassVar[list[BindingType]] = [
        Binding(key, f"fired('{key}')", show=False) for key in LETTERS + "0123456789"
    ]

    def __init__(self, *, label_field: bool = True) -> None:
        super().__init__()
        self.has_label_field = label_field
        self.scanned: list[str] = []
        self.fired: list[str] = []
        self.submitted: list[str] = []

    def compose(self) -> ComposeResult:
        if self.has_label_field:
            yield ScanInput()
        yield ListTable([Column("Lot")], empty="No lots.")
        yield SafeInput(id="reason")

    def on_mount(self) -> None:
        table: ListTable[int] = self.query_one(ListTable)
        table.replace_rows(Row(n, (f"L{n}",)) for n in range(3))
        table.focus()

    def on_scan_input_scanned(self, event: ScanInput.Scanned) -> None:
        self.scanned.append(event.label)

    def on_input_submitted(self, event: Input.Submitted) -> None:
        self.submitted.append(event.value)

    def action_fired(self, key: str) -> None:
        self.fired.append(key)


async def wait_out_gap(pilot: Pilot[Any]) -> None:
    await settle(pilot, 2 * SCAN_GAP)


async def test_fifty_scans_at_full_speed_arrive_whole_and_in_order_whatever_ends_them() -> None:
    app = Desk()
    labels = [f"{LABEL}\x1d21{number:03d} " for number in range(50)]  # a blank at the end may be a check character
    async with app.run_test() as pilot:
        app.query_one(ScanInput).focus()
        await pilot.pause()
        type_raw(app, "".join(map("".join, zip(labels, cycle(["\r", "\n", "\r\n", "\t"]), strict=False))))
        await wait_out_gap(pilot)
        assert app.scanned == labels
        assert app.query_one(ScanInput).value == ""


async def test_fifty_scans_over_a_table_arrive_whole_and_fire_no_key() -> None:
    app = Desk()
    labels = [f"{LABEL}\x1d21{number:04d}" for number in range(50)]
    async with app.run_test() as pilot:
        await pilot.pause()
        type_raw(app, "".join(label + "\r" for label in labels))
        await wait_out_gap(pilot)
        assert app.scanned == labels
        assert app.fired == []


async def test_the_separator_is_shown_while_a_label_stands_in_the_field() -> None:
    app = Desk()
    async with app.run_test() as pilot:
        type_raw(app, LABEL)
        await wait_out_gap(pilot)
        assert "0109506000134352100329␝15210526" in seen(app)
        await pilot.press("enter")
        assert app.scanned == [LABEL]


async def test_a_pasted_label_is_taken_whole_wherever_the_focus_is() -> None:
    app = Desk()
    async with app.run_test() as pilot:
        app.post_message(Paste(f"{LABEL}\nA123BJC5D6E71G\nrest"))
        await pilot.pause()
        assert app.scanned == [LABEL, "A123BJC5D6E71G"]
        assert app.query_one(ScanInput).value == "rest"


async def test_a_scan_replaces_what_was_left_in_the_label_field() -> None:
    app = Desk()
    async with app.run_test() as pilot:
        app.query_one(ScanInput).value = "half a label"
        type_raw(app, LABEL + "\r")
        await wait_out_gap(pilot)
        assert app.scanned == [LABEL]


async def test_a_single_letter_over_a_table_still_does_what_it_does() -> None:
    app = Desk()
    async with app.run_test() as pilot:
        await pilot.press("b", "x")
        await wait_out_gap(pilot)
        assert app.fired == ["b", "x"]
        assert app.scanned == []


async def test_two_keys_pressed_almost_together_are_two_keys() -> None:
    app = Desk()
    async with app.run_test() as pilot:
        await pilot.pause()
        type_raw(app, "bx")
        await wait_out_gap(pilot)
        assert app.fired == ["b", "x"]


async def test_a_letter_held_down_is_not_a_label() -> None:
    app = Desk()
    async with app.run_test() as pilot:
        await pilot.pause()
        type_raw(app, "j" * 9)
        await wait_out_gap(pilot)
        assert app.fired == ["j"] * 9


async def test_letters_and_arrow_keys_keep_their_order() -> None:
    app = Desk()
    async with app.run_test() as pilot:
        await pilot.pause()
        type_raw(app, "b\x1b[Bx")
        await wait_out_gap(pilot)
        assert app.fired == ["b", "x"]
        assert app.query_one(ListTable).cursor_row == 1


async def test_a_scan_into_a_text_field_goes_to_the_label_field_and_the_text_stays() -> None:
    app = Desk()
    async with app.run_test() as pilot:
        reason = app.query_one("#reason", SafeInput)
        reason.focus()
        await pilot.press("o", "k")
        await wait_out_gap(pilot)
        type_raw(app, LABEL + "\r")
        await wait_out_gap(pilot)
        assert app.scanned == [LABEL]
        assert reason.value == "ok"
        assert app.submitted == []


async def test_text_typed_by_hand_is_submitted_as_ever() -> None:
    app = Desk()
    async with app.run_test() as pilot:
        app.query_one("#reason", SafeInput).focus()
        await pilot.press(*"dropped it", "enter")
        assert app.submitted == ["dropped it"]


async def test_without_a_label_field_a_scan_does_nothing_and_says_so() -> None:
    app = Desk(label_field=False)
    async with app.run_test(notifications=True) as pilot:
        await pilot.pause()
        type_raw(app, LABEL + "\r")
        await wait_out_gap(pilot)
        assert app.fired == []
        assert "Label not used" in seen(app)
        await pilot.press("b")
        await wait_out_gap(pilot)
        assert app.fired == ["b"]


async def test_a_scan_without_an_end_is_let_go_after_a_moment() -> None:
    app = Desk(label_field=False)
    async with app.run_test() as pilot:
        await pilot.pause()
        type_raw(app, "by0123456789")
        await wait_out_gap(pilot)
        await pilot.press("b")
        await wait_out_gap(pilot)
        assert app.fired == ["b"]


async def test_a_label_scanned_behind_a_question_waits_where_the_screen_says_so() -> None:
    app = Desk()
    async with app.run_test() as pilot:
        app.query_one(ScanInput).waits = True
        app.push_screen(ConfirmDialog("Is it right?", "The lot reads L717281231.", reason=True))
        await pilot.pause()
        type_raw(app, LABEL + "\r")  # into the reason
        await wait_out_gap(pilot)
        app.screen.set_focus(app.screen.query("Button").first())
        type_raw(app, LABEL + "2\t")  # over a button
        await wait_out_gap(pilot)
        app.post_message(Paste(LABEL + "3"))
        await pilot.pause()
        assert app.scanned == [LABEL, LABEL + "2", LABEL + "3"]
        assert isinstance(app.screen, ConfirmDialog)


async def test_a_scan_over_a_question_answers_nothing() -> None:
    """The label holds y and n and ends with Enter: each alone would answer."""
    app = Desk()
    answers: list[Confirmed | None] = []
    async with app.run_test() as pilot:
        dialog = ConfirmDialog("Discard?", "Three cartridges.")
        app.push_screen(dialog, answers.append)
        await pilot.pause()
        type_raw(app, "yny01095060001343521\r")
        await wait_out_gap(pilot)
        assert answers == []
        assert app.screen is dialog
        assert app.scanned == []


async def test_a_scan_into_the_reason_of_a_question_is_no_reason() -> None:
    app = Desk()
    async with app.run_test(notifications=True) as pilot:
        app.push_screen(ConfirmDialog("Discard?", "Three cartridges.", reason=True))
        await pilot.pause()
        type_raw(app, LABEL + "\r")
        await wait_out_gap(pilot)
        assert isinstance(app.screen, ConfirmDialog)
        assert app.screen.query_one(SafeInput).value == ""
        assert "Label not used" in seen(app)


async def test_each_screen_has_its_own_label_field() -> None:
    class Other(Screen[None]):
        def compose(self) -> ComposeResult:
            yield ListTable([Column("Lot")], empty="No lots.")
            yield ScanInput(id="other")

    app = Desk()
    async with app.run_test() as pilot:
        await app.push_screen(Other())
        await pilot.pause()
        type_raw(app, LABEL)
        await wait_out_gap(pilot)
        assert app.screen.query_one("#other", ScanInput).value.startswith("0109506000134352")
        assert app.focused is app.screen.query_one("#other")


async def test_a_scanner_with_pauses_between_characters_is_followed() -> None:
    """Many scanners wait some milliseconds between characters so that slow programs keep up."""
    app = Desk()
    async with app.run_test() as pilot:
        await pilot.pause()
        for character in LABEL + "\r":
            type_raw(app, character)
            await asyncio.sleep(SCAN_GAP / 10)
        await wait_out_gap(pilot)
        assert app.scanned == [LABEL]
        assert app.fired == []
