"""Fields and forms: prefilled, forgiving, and nothing typed gets lost."""

from datetime import date
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st
from textual.app import ComposeResult
from textual.pilot import Pilot
from textual.screen import Screen
from textual.widgets import OptionList, Static

from inventory.domain.dates import DateOrder, TypedDate
from inventory.domain.vocabulary import BaseUnit
from inventory.errors import BadInput
from tests.tui.seeing import lines, seen
from tests.tui.test_text import NASTY
from tui import text as shown
from tui.dialogs.confirm import ConfirmDialog
from tui.frame import Frame
from tui.widgets.choice_field import ChoiceField
from tui.widgets.fields import Field, amount_field, date_field, money_field, number_field, text_field
from tui.widgets.form import CarefulScreen, Form, dirty_screens, unsaved
from tui.widgets.matching import matches

TODAY = date(2027, 3, 10)  # a Wednesday
ITEMS = ["Heavy body, fast set", "Light body, regular set", "Putty", "Bite registration", "Tray [upper] M"]


class Paper(Frame):
    """One form with the given fields."""

    def __init__(self, *fields: Field[Any]) -> None:
        super().__init__()
        self.fields = fields
        self.taken = 0

    def compose(self) -> ComposeResult:
        yield Form(*self.fields)

    def on_mount(self) -> None:
        self.fields[0].focus_input()

    def on_form_submitted(self) -> None:
        self.taken += 1


async def write(pilot: Pilot[Any], text: str) -> None:
    """Type text by hand."""
    await pilot.press(*text)


async def test_a_date_field_says_which_day_it_understood() -> None:
    field = date_field("Date", TODAY)
    async with Paper(field).run_test() as pilot:
        assert "2027-03-12, fri, in 2 weeks" in seen(pilot.app)
        await write(pilot, "fri")
        assert "Fri 2027-03-12, in 2 days" in seen(pilot.app)
        assert field.value == TypedDate(date(2027, 3, 12))


async def test_a_month_alone_is_marked_in_the_note() -> None:
    field = date_field("Use by", TODAY, order=DateOrder.MONTH_FIRST)
    async with Paper(field).run_test() as pilot:
        field.fill("2027-03")
        await pilot.pause()
        assert "month only: last day 2027-03-31" in seen(pilot.app)
        assert field.value == TypedDate(date(2027, 3, 31), month_only=True)


async def test_an_amount_can_be_typed_as_what_is_left() -> None:
    field = amount_field("Used", BaseUnit.CML, 5000, left_from=4000)
    async with Paper(field).run_test() as pilot:
        await write(pilot, "left 4t")
        assert "= 20 mL" in seen(pilot.app)
        assert field.value == 2000


async def test_the_complaint_stands_beside_the_field_and_goes_when_the_text_is_right() -> None:
    field = number_field("Packs", least=1)
    async with Paper(field, text_field("Note", needed=False)).run_test() as pilot:
        await write(pilot, "x")
        assert "!" not in lines(pilot.app)[0]
        await pilot.press("enter")
        assert "! 'x' is not a number. Type a whole" in lines(pilot.app)[0]
        assert pilot.app.focused is field.input
        await pilot.press("backspace", "3")
        assert "!" not in lines(pilot.app)[0]


async def test_a_field_left_wrong_complains_and_one_left_empty_waits_for_the_end() -> None:
    packs, price = number_field("Packs", least=1), money_field("Price")
    async with Paper(packs, price).run_test() as pilot:
        await pilot.press("tab")
        assert packs.error == ""
        await write(pilot, "1.234")
        await pilot.press("shift+tab")
        assert "is finer than the book keeps" in price.error


async def test_too_few_and_missing_values_are_refused_in_words() -> None:
    packs, note = number_field("Packs", least=1, text="0"), text_field("Lot number")
    async with Paper(packs, note).run_test():
        with pytest.raises(BadInput, match="Packs: 0 is too few"):
            _ = packs.value
        with pytest.raises(BadInput, match="Lot number: this is needed"):
            _ = note.value


async def test_a_field_that_may_be_empty_has_no_value_then() -> None:
    field = money_field("Price", needed=False, cents=1250)
    async with Paper(field).run_test():
        assert field.value == 1250
        field.fill("")
        assert field.value is None


async def test_an_error_of_a_service_can_be_shown_beside_its_field() -> None:
    field = text_field("Lot number", text="L1")
    async with Paper(field).run_test() as pilot:
        field.complain(BadInput("lot: L1 is here already.", "Choose it from the list."))
        await pilot.pause()
        assert "! L1 is here already. Choose it" in seen(pilot.app)


async def test_a_field_reads_in_the_unit_of_another_item_once_told() -> None:
    field = number_field("Amount", text="3")
    async with Paper(field).run_test() as pilot:
        field.reads(lambda text: int(text) * 100, lambda qty: f"= {qty} of it")
        await pilot.pause()
        assert "= 300 of it" in seen(pilot.app)


async def test_enter_goes_from_field_to_field_and_takes_the_form_at_the_end() -> None:
    lot, packs = text_field("Lot"), number_field("Packs")
    app = Paper(lot, packs)
    async with app.run_test() as pilot:
        await pilot.press("L", "1", "enter", "2", "enter")
        assert (lot.value, packs.value, app.taken) == ("L1", 2, 1)


async def test_a_form_with_a_fault_is_not_taken_and_leads_to_the_fault() -> None:
    lot, packs = text_field("Lot"), number_field("Packs", text="2")
    app = Paper(lot, packs)
    async with app.run_test() as pilot:
        packs.focus_input()
        await pilot.press("enter")
        assert app.taken == 0
        assert app.focused is lot.input
        assert "This is needed." in lines(app)[0]


def choice(**more: Any) -> ChoiceField[int]:
    return ChoiceField("Item", list(enumerate(ITEMS)), **more)


async def test_enter_in_a_choice_at_the_end_takes_the_form_once() -> None:
    field = choice()
    async with Paper(field).run_test() as pilot:
        await write(pilot, "putty")
        await pilot.press("enter")
        await pilot.pause()
        assert pilot.app.taken == 1  # type: ignore[attr-defined]


async def test_typing_part_of_a_name_offers_the_names_that_hold_it() -> None:
    field = choice()
    async with Paper(field, text_field("Lot", needed=False)).run_test() as pilot:
        await write(pilot, "bod")
        assert "Heavy body, fast set" in seen(pilot.app)
        assert "Putty" not in seen(pilot.app)
        await pilot.press("down", "enter")
        assert (field.value, field.text, field.is_open) == (1, "Light body, regular set", False)


async def test_an_arrow_opens_the_whole_list() -> None:
    field = choice(chosen=2)
    async with Paper(field).run_test() as pilot:
        assert field.value == 2
        await pilot.press("down")
        assert "Bite registration" in seen(pilot.app)
        await pilot.press("up", "enter")
        assert field.value == 4


async def test_escape_closes_the_list_and_puts_the_old_name_back() -> None:
    field = choice(chosen=2)
    async with Paper(field).run_test() as pilot:
        await write(pilot, "li")
        await pilot.press("escape")
        assert (field.value, field.is_open, field.dirty) == (2, False, False)


async def test_a_name_of_the_list_can_be_clicked() -> None:
    field = choice()
    async with Paper(field).run_test() as pilot:
        await write(pilot, "bod")
        await pilot.click(field.query_one(OptionList), offset=(5, 2))
        assert field.value == 1
        assert not field.is_open


async def test_leaving_a_choice_takes_the_only_name_that_fits_and_refuses_others() -> None:
    field = choice()
    async with Paper(field, text_field("Lot", needed=False)).run_test() as pilot:
        await write(pilot, "putt")
        await pilot.press("tab")
        assert field.value == 2
        field.fill("body")
        assert not field.check()
        assert "2 names hold 'body'" in field.error
        field.fill("gypsum")
        assert not field.check()
        assert "Nothing is called 'gypsum'" in field.error


async def test_a_new_name_is_taken_where_new_names_are_allowed() -> None:
    field = ChoiceField("Case", [("C-1", "C-1"), ("C-12", "C-12")], other=str)
    async with Paper(field).run_test() as pilot:
        await pilot.press("C", "-", "1", "3", "enter")
        assert field.value == "C-13"
        field.fill("")
        await pilot.press("C", "-", "1", "down", "down", "enter")
        assert field.value == "C-12"


async def test_other_choices_replace_the_old_ones() -> None:
    field = choice(chosen=1)
    async with Paper(field).run_test():
        field.offer([(7, "Seven"), (8, "Eight")], chosen=8)
        assert (field.value, field.text, field.dirty) == (8, "Eight", False)
        assert "▾" in str(field.query_one(".field-note", Static).content)  # others can be chosen


@pytest.mark.parametrize("text", NASTY)
async def test_nasty_text_in_fields_and_lists_is_shown_as_it_was_typed(text: str) -> None:
    field, names = text_field("Note", text=text), ChoiceField("Item", [(1, f"{text} one")], chosen=1)
    async with Paper(field, names).run_test() as pilot:
        names.focus_input()
        await pilot.press("down")
        assert shown.clean(text).strip() in lines(pilot.app)[0]
        assert seen(pilot.app).count(shown.clean(f"{text} one").strip()) == 2
        assert names.value == 1


class Entry(CarefulScreen[None]):
    def compose(self) -> ComposeResult:
        yield Form(text_field("Lot", text="L1"))


class Desk(Frame):
    def get_default_screen(self) -> Screen[Any]:
        return Screen()


async def test_escape_leaves_a_form_in_which_nothing_was_typed() -> None:
    app = Desk()
    async with app.run_test() as pilot:
        await app.push_screen(Entry())
        await pilot.press("escape")
        assert len(app.screen_stack) == 1


async def test_escape_asks_before_typed_things_are_lost() -> None:
    app = Desk()
    async with app.run_test() as pilot:
        entry = Entry()
        await app.push_screen(entry)
        await pilot.press("end", "2", "escape")
        assert isinstance(app.screen_stack[-1], ConfirmDialog)
        await pilot.press("n")
        await pilot.pause(0.1)
        assert app.screen_stack[1:] == [entry]
        assert (unsaved(entry), dirty_screens(app)) == (True, [entry])
        await pilot.press("escape", "y")
        await pilot.pause(0.1)
        assert app.screen_stack[1:] == []


@pytest.mark.parametrize("size", [(80, 24), (120, 40), (200, 60)])
async def test_long_complaints_wrap_and_are_never_cut(size: tuple[int, int]) -> None:
    field = amount_field("Amount used", BaseUnit.CML, 5000, text="twelve")
    async with Paper(field).run_test(size=size) as pilot:
        field.check()
        await pilot.pause()
        note = " ".join(" ".join(line[43:].split()) for line in lines(pilot.app)[:5])
        assert "'twelve' can't be read. Type e.g. 12.5 (mL), 3t (tenths of a cartridge), left 4t or left 20." in note


def test_names_are_found_by_any_of_their_words_without_case_and_accents() -> None:
    names = ["Alginate, dust-free", "Light body", "Heavy body", "Bödy lotion", "Antibody test"]
    assert [names[index] for index in matches("BOD", names)] == [
        "Bödy lotion",
        "Light body",
        "Heavy body",
        "Antibody test",
    ]
    assert [names[index] for index in matches("free alg", names)] == ["Alginate, dust-free"]
    assert matches("", names) == [0, 1, 2, 3, 4]


@given(st.text(max_size=8), st.lists(st.text(max_size=12), max_size=8))
def test_every_name_is_found_by_itself_and_none_twice(query: str, names: list[str]) -> None:
    found = matches(query, names)
    assert len(found) == len(set(found))
    for index, name in enumerate(names):
        assert index in matches(name, names)
