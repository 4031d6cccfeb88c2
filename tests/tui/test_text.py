"""Values as the screens show them; text of people is shown, never obeyed."""

from datetime import date, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st
from rich.cells import cell_len
from textual.app import App, ComposeResult
from textual.widgets import Static

from inventory.domain.dates import DateOrder, parse_date
from inventory.domain.vocabulary import BaseUnit, UseByReading
from tests.tui.seeing import seen
from tui import text as shown
from tui.theme import Status

TODAY = date(2027, 3, 10)  # a Wednesday
DAY_FIRST = shown.Formats(DateOrder.DAY_FIRST, ",")
ANY_TEXT = st.text(st.one_of(st.characters(), st.sampled_from("[]/\\\x1b\x1d\u202e\u200d日本é́…")), max_size=40)
NASTY = [
    "a[/",
    "[bold]x",
    "[/]",
    "[@click=app.quit]x[/]",
    "\\[",
    "$primary",
    "\x1b[31mred",
    "\x9b2J",
    "a\u202eb",
    "日本語",
    "é",
    "[",
    "\ud800",
]


def test_a_quantity_is_shown_in_its_unit() -> None:
    assert shown.amount(1235, BaseUnit.CML) == "12.35 mL"
    assert shown.amount(1235, BaseUnit.CML, DAY_FIRST) == "12,35 mL"
    assert shown.amount(4, BaseUnit.PIECE) == "4 pcs"


def test_stock_is_shown_in_cartridges_first_and_in_millilitres_beside() -> None:
    assert shown.units(3, 2000, 5000, BaseUnit.CML) == "3 + 0.4 opened"
    assert shown.units(3, 2000, 5000, BaseUnit.CML, DAY_FIRST) == "3 + 0,4 opened"
    assert shown.stock(3, 2000, 5000, BaseUnit.CML).plain == "3 + 0.4 opened  170 mL"
    assert shown.stock(12, 0, 1, BaseUnit.PIECE).plain == "12"


def test_money_is_shown_with_two_decimals() -> None:
    assert shown.money(1250) == "12.50"
    assert shown.money(-5, DAY_FIRST) == "-0,05"


@pytest.mark.parametrize(
    ("on", "said"),
    [
        (TODAY, "today"),
        (date(2027, 3, 11), "tomorrow"),
        (date(2027, 3, 9), "yesterday"),
        (date(2027, 3, 12), "Fri 2027-03-12"),
        (date(2027, 3, 16), "Tue 2027-03-16"),
        (date(2027, 3, 17), "2027-03-17"),
        (date(2027, 3, 5), "Fri 2027-03-05"),
        (date(2026, 3, 10), "2026-03-10"),
    ],
)
def test_a_near_date_has_its_day_of_the_week(on: date, said: str) -> None:
    assert shown.near_day(on, TODAY) == said


def test_a_date_is_iso_unless_the_person_reads_them_otherwise() -> None:
    assert shown.day(date(2027, 12, 3)) == "2027-12-03"
    assert shown.day(date(2027, 12, 3), DAY_FIRST) == "03/12/2027"
    assert shown.day(date(2027, 12, 3), shown.Formats(DateOrder.MONTH_FIRST)) == "12/03/2027"
    assert shown.day(None) == "-"


@given(st.dates(date(1990, 1, 1), date(2090, 1, 1)), st.sampled_from([None, *DateOrder]))
def test_a_date_shown_can_be_typed_as_it_stands(on: date, order: DateOrder | None) -> None:
    assert parse_date(shown.day(on, shown.Formats(order)), TODAY, order or DateOrder.DAY_FIRST).day == on


def test_a_use_by_date_says_how_it_was_read() -> None:
    end = date(2027, 3, 31)
    assert shown.use_by(end, UseByReading.DAY) == "2027-03-31"
    assert shown.use_by(end, UseByReading.MONTH) == "2027-03 end"
    assert shown.use_by(end, UseByReading.MONTH, DAY_FIRST) == "03/2027 end"
    assert shown.use_by(None, UseByReading.NONE_STATED) == "none stated"
    assert shown.use_by(None, UseByReading.NOT_READ) == "not read yet"


@pytest.mark.parametrize(
    ("days", "said"),
    [(0, "today"), (1, "in 1 day"), (-3, "3 days ago"), (13, "in 13 days"), (35, "in 5 weeks"), (365, "in 12 months")],
)
def test_how_far_off_a_day_is_is_said_in_words(days: int, said: str) -> None:
    assert shown.away(TODAY + timedelta(days=days), TODAY) == said


def test_a_count_has_its_noun() -> None:
    assert [shown.count(1, "lot"), shown.count(2, "lot"), shown.count(2, "box", "boxes")] == [
        "1 lot",
        "2 lots",
        "2 boxes",
    ]


def test_a_status_is_a_symbol_and_a_word() -> None:
    assert shown.status(Status.ACT).plain == "! act now"
    assert shown.status(Status.BLOCKED, "recalled").plain == "✗ recalled"


def test_control_characters_and_escapes_are_shown_not_obeyed() -> None:
    assert shown.clean("lot\x1d7\x1b[2J") == "lot␝7␛[2J"
    assert shown.clean("a\u202eb\x9bc\x7f") == "a\ufffdb\ufffdc␡"
    assert shown.clean("a\nb\tc") == "a␊b␉c"
    assert shown.clean_lines("a\r\nb\x07") == "a\nb␇"


@given(ANY_TEXT)
def test_clean_text_holds_nothing_a_terminal_would_obey(text: str) -> None:
    clean = shown.clean(text)
    assert not any(ord(character) < 0x20 or 0x7F <= ord(character) < 0xA0 for character in clean)
    assert clean.encode().decode() == clean
    assert shown.clean(clean) == clean


@given(ANY_TEXT)
def test_text_of_people_is_never_read_as_markup(text: str) -> None:
    assert shown.plain(text).plain == shown.clean_lines(text)
    assert shown.plain(text).spans == []
    assert shown.status(Status.OK, f"x{text}").plain == f"✓ {shown.clean(f'x{text}')}"


@given(ANY_TEXT, st.integers(0, 30))
def test_clipped_text_fits_and_shows_that_it_was_cut(text: str, cells: int) -> None:
    clean = shown.clean(text)
    clipped = shown.clip(clean, cells)
    assert cell_len(clipped) <= cells
    assert clipped == clean or not cells or clipped.endswith("…")


@given(ANY_TEXT, st.integers(0, 30), st.booleans())
def test_padded_text_takes_exactly_its_cells(text: str, cells: int, right: bool) -> None:
    assert cell_len(shown.pad(shown.clean(text), cells, right=right)) == cells


def test_a_wide_character_is_never_halved_nor_an_accent_parted_from_its_letter() -> None:
    assert shown.clip("日本語日本語", 6) == "日本…"
    assert shown.clip("ééé", 2) == "é…"
    assert shown.pad("日本", 6, right=True) == "  日本"


@pytest.mark.parametrize("text", NASTY)
async def test_nasty_text_is_seen_on_a_screen_as_it_was_typed(text: str) -> None:
    class Note(App[None]):
        def compose(self) -> ComposeResult:
            yield Static(shown.plain(text))

    app = Note()
    async with app.run_test(size=(60, 3)):
        assert seen(app).strip() == shown.clean(text).strip()
