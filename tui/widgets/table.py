"""A table of lines a person acts on.

It keeps the cursor on its line when the lines are read anew, fills itself in pieces so that keys are answered
meanwhile, fits its columns to the width there is (what does not fit ends in ``…``, and columns that can be spared go
first), and says in words when there is nothing in it. Cells are never read as markup.
"""

import textwrap
from collections.abc import Hashable, Iterable, Sequence
from dataclasses import dataclass
from typing import Any, Generic, Literal, TypeVar

from rich.cells import cell_len
from rich.console import Console, ConsoleOptions, RenderResult
from rich.measure import Measurement
from rich.segment import Segment
from rich.text import Text
from textual.content import Content
from textual.message import Message
from textual.strip import Strip
from textual.widgets import DataTable

from tui.text import clean

Key = TypeVar("Key", bound=Hashable)
Cell = str | Content

CHUNK = 100
"""Rows put in at first, more than any screen shows: 65 ms for 1,000 rows would be felt as a stumble."""

LARGEST_CHUNK = 500
"""Rows put in at once later; each chunk also redraws the view, so they double up to this."""


@dataclass(frozen=True)
class Column:
    """One column.

    Args:
        label: its head.
        right: whether its cells stand at the right edge, as figures do.
        most: no wider than so many cells, however long the text.
        grow: whether it gives way first and takes what width is left; at least `least` cells.
        least: a growing column is never narrower.
        spare: columns with a higher number disappear first where the width does not do; 0 never does.
        first: of what width is left it takes what it needs before the others do.
    """

    label: str
    right: bool = False
    most: int = 40
    grow: bool = False
    least: int = 12
    spare: int = 0
    first: bool = False


@dataclass(frozen=True)
class Row(Generic[Key]):
    """One line: what it stands for (unique in the table) and its cells, one for each column."""

    key: Key
    cells: tuple[Cell, ...]


class _Shown:
    """A cell as the table draws it: styles looked up in the present theme, cut with ``…`` at the column's width."""

    def __init__(self, cell: Cell, *, right: bool) -> None:
        self.content = Content(clean(cell)) if isinstance(cell, str) else cell
        self.justify: Literal["left", "right"] = "right" if right else "left"

    def __rich_console__(self, console: Console, options: ConsoleOptions) -> RenderResult:
        text = Text(no_wrap=True, overflow="ellipsis", justify=self.justify, end="")
        for piece, style in self.content.render(end=""):
            text.append(piece.replace("\n", " "), style.rich_style)
        yield text

    def __rich_measure__(self, console: Console, options: ConsoleOptions) -> Measurement:
        return Measurement(1, 1)  # columns have the widths that `fit` gave them


def plain(cell: Cell) -> str:
    """The cell's text without its styles."""
    return clean(cell) if isinstance(cell, str) else cell.plain


def natural_widths(columns: Sequence[Column], rows: Sequence[Row[Any]]) -> list[int]:
    """Cells each column would need to cut nothing, up to its own limit."""
    widths = [cell_len(column.label) for column in columns]
    for row in rows:
        for index, cell in enumerate(row.cells):
            widths[index] = max(widths[index], cell_len(plain(cell)))
    limits = [max(column.most, cell_len(column.label)) for column in columns]
    return [min(width, limit) for width, limit in zip(widths, limits, strict=True)]


def fit(columns: Sequence[Column], natural: Sequence[int], room: int, gap: int = 2) -> dict[int, int]:
    """Which columns are shown, and how wide.

    Args:
        columns: all columns in order.
        natural: cells each would need.
        room: cells there are in all.
        gap: blank cells that go with each column.

    Returns:
        Width by column index. Spare columns go first; then growing columns shrink to their least; then the widest do.
    """

    def smallest(index: int) -> int:
        return min(natural[index], columns[index].least) if columns[index].grow else natural[index]

    shown = list(range(len(columns)))
    while sum(smallest(index) + gap for index in shown) > room:
        spare = max(shown, key=lambda index: (columns[index].spare, index))
        if columns[spare].spare == 0:
            break
        shown.remove(spare)
    widths = {index: smallest(index) for index in shown}
    left = room - sum(width + gap for width in widths.values())
    while left < 0 and max(widths.values()) > 1:
        widest = max(widths, key=lambda index: widths[index])
        widths[widest] -= 1
        left += 1
    for index in sorted(shown, key=lambda index: not columns[index].first):
        more = min(max(left, 0), natural[index] - widths[index])
        widths[index] += more
        left -= more
    return widths


class ListTable(DataTable[_Shown], Generic[Key]):
    """Lines to choose from.

    Posts `Chosen` on Enter or a second click, `Moved` when the cursor comes to another line.
    """

    COMPONENT_CLASSES = {"list-table--empty"}

    @dataclass
    class Chosen(Message):
        """A line was chosen; `key` is its row's key."""

        table: "ListTable[Any]"
        key: Any

        @property
        def control(self) -> "ListTable[Any]":
            return self.table

    @dataclass
    class Moved(Message):
        """The cursor came to another line; `key` is None where the table became empty."""

        table: "ListTable[Any]"
        key: Any

        @property
        def control(self) -> "ListTable[Any]":
            return self.table

    def __init__(
        self,
        columns: Iterable[Column],
        *,
        empty: str,
        id: str | None = None,  # noqa: A002 - Textual's name
        classes: str = "",
    ) -> None:
        """A table without lines yet.

        Args:
            columns: from left to right.
            empty: what to say where there are no lines, as a sentence.
            id: the widget's id.
            classes: its style classes.
        """
        super().__init__(cursor_type="row", zebra_stripes=False, id=id, classes=classes)
        self._all_columns = tuple(columns)
        self.empty = empty
        self._rows: tuple[Row[Key], ...] = ()
        self._natural: list[int] = []
        self._widths: dict[int, int] = {}
        self._filling = 0  # grows with each fill: chunks of an older one are dropped

    @property
    def current(self) -> Key | None:
        """The key of the line the cursor is on; None in an empty table."""
        return self._rows[self.cursor_row].key if self.cursor_row < len(self._rows) else None

    @property
    def keys(self) -> list[Key]:
        """The keys of all lines, in order, whether they are drawn yet or not."""
        return [row.key for row in self._rows]

    def replace_rows(self, rows: Iterable[Row[Key]]) -> None:
        """Show these lines instead of the present ones.

        The cursor stays on the line with the same key; where that is gone, at the same height.
        """
        before, at = self.current, self.cursor_row
        self._rows = tuple(rows)
        self._natural = natural_widths(self._all_columns, self._rows)
        self._widths = self._fitted()
        keys = self.keys
        self._fill(keys.index(before) if before in keys else min(at, len(keys) - 1))
        if self.current != before:
            self.post_message(self.Moved(self, self.current))

    def select(self, key: Key) -> bool:
        """Put the cursor on a line; False where there is none with this key."""
        keys = self.keys
        if key not in keys:
            return False
        self._add_up_to(keys.index(key) + 1)
        self.move_cursor(row=keys.index(key))
        return True

    def _fill(self, cursor: int) -> None:
        self._filling += 1
        above = self.cursor_row - round(self.scroll_y)  # lines between the top of the view and the cursor
        with self.prevent(DataTable.RowHighlighted):
            self.clear(columns=True)
            for index, width in self._widths.items():
                column = self._all_columns[index]
                head = Text(column.label, no_wrap=True, justify="right" if column.right else "left")
                self.add_column(head, width=width, key=str(index))
            self._add_up_to(max(CHUNK, cursor + self.size.height + 1))
            if cursor > 0:
                self.move_cursor(row=cursor, scroll=False)
                self.call_after_refresh(self._keep_height, cursor - above)
        self._fill_later(self._filling)

    def _keep_height(self, top: int) -> None:
        self.scroll_to(y=max(0, top), animate=False, force=True)

    def _fill_later(self, filling: int) -> None:
        if self.row_count < len(self._rows):
            self.call_after_refresh(self._next_chunk, filling)

    def _next_chunk(self, filling: int) -> None:
        if filling == self._filling:
            self._add_up_to(self.row_count + min(self.row_count, LARGEST_CHUNK))
            self._fill_later(filling)

    def _add_up_to(self, count: int) -> None:
        for index in range(self.row_count, min(count, len(self._rows))):
            cells = self._rows[index].cells
            shown = (_Shown(cells[at], right=self._all_columns[at].right) for at in self._widths)
            self.add_row(*shown, key=str(index))

    def _fitted(self) -> dict[int, int]:
        natural = self._natural or natural_widths(self._all_columns, ())
        return fit(self._all_columns, natural, self.scrollable_content_region.width, 2 * self.cell_padding)

    def on_mount(self) -> None:
        self._widths = self._fitted()
        self._fill(0)

    def on_resize(self) -> None:
        widths = self._fitted()
        if widths != self._widths:
            self._widths = widths
            self._fill(self.cursor_row)

    def on_data_table_row_selected(self, event: DataTable.RowSelected) -> None:
        event.stop()
        if self.current is not None:
            self.post_message(self.Chosen(self, self.current))

    def on_data_table_row_highlighted(self, event: DataTable.RowHighlighted) -> None:
        event.stop()
        if event.cursor_row == self.cursor_row:
            self.post_message(self.Moved(self, self.current))

    def render_line(self, y: int) -> Strip:
        if self._rows or y == 0:
            return super().render_line(y)
        lines = ["", *textwrap.wrap(self.empty, max(self.size.width - 2, 1))]
        line = lines[y - 1] if y <= len(lines) else ""
        style = self.get_component_rich_style("list-table--empty")
        return Strip([Segment(f" {line}", style)]).adjust_cell_length(self.size.width, self.rich_style)
