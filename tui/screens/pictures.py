"""Pictures to look at instead of figures: the course of a stock, lots until their last day, use by week, sizes fitted.

Each is drawn as wide as the screen is and told in sentences below it when asked for; ``i`` goes on to another item.
"""

from collections.abc import Callable, Iterable
from dataclasses import dataclass
from enum import Enum
from typing import Any

from textual.app import ComposeResult
from textual.binding import Binding
from textual.containers import VerticalScroll
from textual.widgets import Static

from inventory.service import fitted_sizes, forecast, shelf_timeline, stock_views, weekly_use
from inventory.service.practice import Practice
from tui import text as shown
from tui import workers
from tui.dialogs.choose import ChooseDialog
from tui.pictures import shelf_bars, size_bars, stock_course, week_bars
from tui.screens.base import StepScreen

FRAME = 8  # lines of the screen that are no picture: bar, heading, axis, meaning of the signs, keys
LEAST_HEIGHT, MOST_HEIGHT = 8, 24


@dataclass(frozen=True)
class Kind:
    """One kind of picture: how it is read from the practice for an item's code, drawn, and told."""

    title: str
    read: Callable[[Practice, str], Any]
    draw: Callable[[Any, int, int], list[str]]
    legend: Callable[[Any], list[str]]
    tell: Callable[[Any], Iterable[str]]


class Picture(Enum):
    """What can be looked at."""

    COURSE = Kind("Forecast of the stock", forecast.forecast, stock_course.draw, stock_course.legend, stock_course.tell)
    LOTS = Kind(
        "Lots until their last day", shelf_timeline.timeline, lambda found, width, _: shelf_bars.draw(found, width),
        shelf_bars.legend, shelf_bars.tell,
    )  # fmt: skip
    WEEKS = Kind("Use by week", weekly_use.weekly_use, week_bars.draw, week_bars.legend, week_bars.tell)
    SIZES = Kind(
        "Tray sizes fitted", lambda practice, _: fitted_sizes.fitted_sizes(practice),
        lambda found, width, _: size_bars.draw(found, width), size_bars.legend, size_bars.tell,
    )  # fmt: skip


class PictureScreen(StepScreen[None]):
    """One picture; where it is about an item, the others of that item are a key away.

    Args:
        picture: which.
        code: of the item; empty for all lots or all trays, and asked for where the picture needs one.
        item_id: the item, where its code is not at hand.
    """

    title_text = "Pictures"
    cautions = (
        "What is ahead is an estimate from booked visits and past ones, not a promise; 'forecast' by command says why.",
        "In a picture of all lots nothing is left out that stands where it is used; trays and tips have no last day.",
    )
    BINDINGS = [
        Binding("f", "look('COURSE')", "Forecast"),
        Binding("b", "look('LOTS')", "Lots"),
        Binding("w", "look('WEEKS')", "Weeks"),
        Binding("i", "item", "Other item"),
        Binding("d", "describe", "In words"),
        Binding("z", "look('SIZES')", "Tray sizes fitted", show=False),
        Binding("escape", "leave", "Back"),
    ]

    def __init__(self, picture: Picture, code: str = "", *, item_id: int | None = None) -> None:
        super().__init__()
        self._picture, self._code, self._item_id = picture, code, item_id
        self._found: Any = None
        self._told = False

    def body(self) -> ComposeResult:
        yield Static("", id="what", classes="heading")
        with VerticalScroll(id="look"):
            yield Static(shown.muted("◦ One moment …"), id="drawn")
            yield Static("", id="told")
        yield Static("", id="signs", classes="muted")

    def on_mount(self) -> None:
        self.query_one("#told").display = False
        self.query_one("#look").focus()

    def read(self) -> None:
        picture, code, practice = self._picture, self._code, self.practice
        if not code and picture in (Picture.COURSE, Picture.WEEKS):
            self.action_item()
            return
        workers.run(
            self, lambda: (picture, picture.value.read(practice, code)), self._show, name="picture", latest=True,
            busy="Drawing", failed=self.leave_with,
        )  # fmt: skip

    def _show(self, seen: tuple[Picture, Any]) -> None:
        self._picture, self._found = seen
        self.it_is(self._found.today)
        self._draw()

    def on_resize(self) -> None:
        if self._found is not None:
            self._draw()

    def _draw(self) -> None:
        kind, found = self._picture.value, self._found
        name = getattr(found, "name", "")  # of the lots it has none
        self.query_one("#what", Static).update(shown.plain(" · ".join(filter(None, (kind.title, self._code, name)))))
        height = max(LEAST_HEIGHT, min(MOST_HEIGHT, self.size.height - FRAME - len(kind.legend(found))))
        lines = kind.draw(found, self.size.width - 4, height)
        self.query_one("#drawn", Static).update(shown.plain("\n".join(lines)))
        self.query_one("#signs", Static).update(shown.plain("\n".join(kind.legend(found)), shown.MUTED))
        self.query_one("#told", Static).update(shown.plain("\n".join(kind.tell(found))))

    def action_look(self, name: str) -> None:
        """Look at another picture."""
        self._picture = Picture[name]
        self.query_one("#look").scroll_home(animate=False)
        self.read()

    def action_describe(self) -> None:
        """Tell the picture in sentences below it, or take them away again."""
        self._told = not self._told
        told = self.query_one("#told")
        told.display = self._told
        look = self.query_one("#look", VerticalScroll)
        if self._told:
            told.call_after_refresh(self._go_to_words)  # it has its place only then
        else:
            look.scroll_home(animate=False)

    def _go_to_words(self) -> None:
        look = self.query_one("#look", VerticalScroll)
        look.scroll_to(y=self.query_one("#drawn").outer_size.height, animate=False, force=True)

    def action_item(self) -> None:
        """Choose the item that the picture is about."""
        practice = self.practice
        workers.run(self, lambda: stock_views.items(practice), self._ask, name="items", latest=True)

    def _ask(self, items: stock_views.Items) -> None:
        def chosen(code: str | None) -> None:
            if code is not None:
                self._code = code
                self.read()
            elif self._found is None:
                self.finish()

        known = next((line.code for line in items.lines if line.item_id == self._item_id), None)
        if known is not None:  # the screen was opened on it
            self._item_id = None
            chosen(known)
            return
        names = [(line.code, f"{line.code} {line.name}") for line in items.lines if line.active]
        self.app.push_screen(ChooseDialog("Which item?", names, of=("item", "items")), chosen)
