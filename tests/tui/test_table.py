"""A table keeps its place, fits its width and says when it is empty."""

from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st
from textual.app import ComposeResult
from textual.content import Content
from textual.widgets import Static

from tests.tui.seeing import lines, seen, settle
from tests.tui.test_text import NASTY
from tui import text as shown
from tui.frame import Frame
from tui.theme import NAMES, Status
from tui.widgets.table import CHUNK, Column, ListTable, Row, fit

COLUMNS = (
    Column("State"),
    Column("Item", grow=True, least=10),
    Column("Stock", right=True),
    Column("Place", spare=2),
    Column("What to do", spare=1),
)


def row(key: int) -> Row[int]:
    cells = (shown.status(Status.WATCH), f"Tray material number {key}", str(key), "operatory 1", "receive or order")
    return Row(key, cells)


class Shelf(Frame):
    def __init__(self, columns: tuple[Column, ...] = COLUMNS) -> None:
        super().__init__()
        self.columns = columns
        self.chosen: list[Any] = []
        self.moved: list[Any] = []

    def compose(self) -> ComposeResult:
        yield Static("Shelf")
        yield ListTable(self.columns, empty="Nothing is on this shelf. Receive a delivery to fill it.")

    @property
    def table(self) -> ListTable[int]:
        table: ListTable[int] = self.query_one(ListTable)
        return table

    def on_list_table_chosen(self, event: ListTable.Chosen) -> None:
        self.chosen.append(event.key)

    def on_list_table_moved(self, event: ListTable.Moved) -> None:
        self.moved.append(event.key)


async def test_an_empty_table_says_so_in_words() -> None:
    app = Shelf()
    async with app.run_test(size=(40, 12)) as pilot:
        assert "Nothing is on this shelf." in seen(app)
        assert "delivery to fill it." in seen(app)
        assert app.table.current is None
        await pilot.press("enter", "down")
        assert app.chosen == []


async def test_the_line_chosen_comes_with_its_own_key() -> None:
    app = Shelf()
    async with app.run_test() as pilot:
        app.table.replace_rows(map(row, (30, 10, 20)))
        await pilot.press("down", "enter")
        assert app.chosen == [10]
        assert app.moved[-1] == 10


async def test_a_line_is_chosen_with_the_mouse() -> None:
    app = Shelf()
    async with app.run_test() as pilot:
        app.table.replace_rows(map(row, (30, 10, 20)))
        await pilot.pause()
        await pilot.click(ListTable, offset=(20, 2))
        assert (app.table.current, app.chosen) == (10, [])
        await pilot.click(ListTable, offset=(20, 2))
        assert app.chosen == [10]


async def test_the_cursor_stays_on_its_line_when_the_lines_are_read_anew() -> None:
    app = Shelf()
    async with app.run_test() as pilot:
        app.table.replace_rows(map(row, range(10)))
        app.table.select(7)
        await pilot.pause()
        app.moved.clear()
        app.table.replace_rows(map(row, (0, 1, 2, 99, 7, 8)))
        await settle(pilot)
        assert (app.table.current, app.table.cursor_row) == (7, 4)
        assert app.moved == []


async def test_where_its_line_is_gone_the_cursor_stays_at_its_height() -> None:
    app = Shelf()
    async with app.run_test() as pilot:
        app.table.replace_rows(map(row, range(5)))
        app.table.select(2)
        await pilot.pause()
        app.table.replace_rows(map(row, (0, 1, 3, 4)))
        await settle(pilot)
        app.table.replace_rows([])
        await settle(pilot)
        assert app.table.current is None
        assert app.moved[-2:] == [3, None]


async def test_the_view_does_not_jump_when_lines_are_read_anew() -> None:
    app = Shelf()
    async with app.run_test(size=(80, 12)) as pilot:
        app.table.replace_rows(map(row, range(300)))
        app.table.select(150)
        await settle(pilot)
        await pilot.press("up", "up")
        before = seen(app)
        app.table.replace_rows(map(row, range(300)))
        await settle(pilot)
        assert seen(app) == before


async def test_a_long_table_is_filled_in_pieces_and_completely() -> None:
    app = Shelf()
    async with app.run_test() as pilot:
        app.table.replace_rows(map(row, range(1234)))
        assert app.table.row_count == CHUNK
        await settle(pilot, 0.3)
        assert app.table.row_count == 1234
        assert app.table.select(1233)
        assert app.table.current == 1233
        assert not app.table.select(5000)


async def test_a_line_far_down_can_be_selected_before_it_is_drawn() -> None:
    app = Shelf()
    async with app.run_test() as pilot:
        app.table.replace_rows(map(row, range(1000)))
        assert app.table.select(900)
        await settle(pilot)
        assert app.table.current == 900
        assert "number 900" in seen(app)


async def test_a_new_reading_overtakes_the_filling_of_an_old_one() -> None:
    app = Shelf()
    async with app.run_test() as pilot:
        app.table.replace_rows(map(row, range(1000)))
        app.table.replace_rows(map(row, range(5)))
        await settle(pilot, 0.2)
        assert app.table.row_count == 5


async def test_columns_that_can_be_spared_go_first_and_figures_stand_at_the_right() -> None:
    app = Shelf()
    async with app.run_test(size=(58, 8)) as pilot:
        app.table.replace_rows(map(row, (1, 22)))
        await settle(pilot)
        narrow = seen(app)
        assert "What to do" in narrow
        assert "Place" not in narrow
        assert lines(app)[2].index("1 ") > lines(app)[3].index("22")
        await pilot.resize_terminal(120, 8)
        await settle(pilot)
        assert "operatory 1" in seen(app)


async def test_what_is_cut_shows_that_it_was_cut() -> None:
    app = Shelf()
    async with app.run_test(size=(32, 8)) as pilot:
        app.table.replace_rows([row(1)])
        await settle(pilot)
        assert "Tray materia…" in seen(app)
        assert "number 1" not in seen(app)


async def test_the_cursor_stays_where_it_is_when_the_terminal_is_resized() -> None:
    app = Shelf()
    async with app.run_test(size=(120, 20)) as pilot:
        app.table.replace_rows(map(row, range(50)))
        app.table.select(30)
        await settle(pilot)
        await pilot.resize_terminal(50, 20)
        await settle(pilot)
        assert app.table.current == 30
        assert "30" in seen(app)


@pytest.mark.parametrize("text", NASTY)
async def test_nasty_text_is_shown_in_a_cell_as_it_was_typed(text: str) -> None:
    app = Shelf((Column("Note"), Column("Again")))
    async with app.run_test(size=(80, 5)) as pilot:
        app.table.replace_rows([Row(1, (text, shown.plain(text)))])
        await settle(pilot)
        assert seen(app).count(shown.clean(text).strip()) >= 2


@pytest.mark.parametrize("theme", NAMES)
async def test_cells_take_the_colours_of_the_theme(theme: str) -> None:
    app = Shelf((Column("State"),))
    async with app.run_test(size=(40, 6)) as pilot:
        app.table.replace_rows([Row(1, ("first",)), Row(2, (shown.status(Status.ACT),))])
        await settle(pilot)
        app.theme = theme
        await settle(pilot)
        strip = app.screen._compositor.render_strips()[3]
        segment = next(segment for segment in strip if "act now" in segment.text)
        assert segment.style is not None
        assert segment.style.color is not None
        assert segment.style.color.name == app.theme_variables["status-act"].lower()


async def test_a_cell_of_several_lines_stays_one_line() -> None:
    app = Shelf((Column("Note"),))
    async with app.run_test(size=(40, 6)) as pilot:
        app.table.replace_rows([Row(1, (Content("first\nsecond"),)), Row(2, ("third\nfourth",))])
        await settle(pilot)
        assert lines(app)[2].strip() == "first second"
        assert lines(app)[3].strip() == "third␊fourth"


@given(st.lists(st.integers(1, 60), min_size=5, max_size=5), st.integers(10, 200))
def test_columns_never_take_more_room_than_there_is(natural: list[int], room: int) -> None:
    widths = fit(COLUMNS, natural, room)
    assert sum(width + 2 for width in widths.values()) <= max(room, 3 * len(widths))
    assert all(1 <= width <= natural[index] for index, width in widths.items())
    assert {0, 1, 2} <= set(widths)


@given(st.lists(st.integers(1, 60), min_size=5, max_size=5))
def test_where_there_is_room_nothing_is_cut(natural: list[int]) -> None:
    assert fit(COLUMNS, natural, sum(natural) + 10) == dict(enumerate(natural))
