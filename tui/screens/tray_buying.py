"""Which tray size to buy next, and what money lies in sizes that nobody needed."""

from textual.app import ComposeResult
from textual.binding import Binding
from textual.containers import Vertical
from textual.content import Content
from textual.widgets import Static

from inventory.service import tray_buying
from inventory.service.tray_buying import IdleSize, LineToBuy, NextTray, TrayBuying
from tui import text as shown
from tui import tray_words as words
from tui import workers
from tui.screens.base import StepScreen
from tui.theme import Status
from tui.widgets.table import Column, ListTable, Row


class TrayBuyingScreen(StepScreen[None]):
    """Sizes, the one whose next tray helps most first; below them sizes that were not used for a year."""

    title_text = "Which trays to buy"
    cautions = (
        "The chance is that all of the next visits can be fitted, both arches; sizes not known follow the size mix.",
        "How often a tray is tried in vain or taken anew at a retake is learned here, from a belief shown beside it.",
    )
    BINDINGS = [
        Binding("a", "read_again", "Read again"),
        Binding("escape", "leave", "Back"),
    ]

    def body(self) -> ComposeResult:
        yield Static(shown.muted("◦ looking through the trays …"), id="lines-said")
        yield ListTable(
            [
                Column("Line", most=20),
                Column("Arch", most=7),
                Column("Size", most=8),
                Column("There", right=True),
                Column("One more", right=True, most=14),
                Column("Item", grow=True, least=10, most=40, spare=1),
            ],
            empty="There is no tray line yet.",
            id="sizes",
        )
        with Vertical(classes="panel", id="idle-sizes") as panel:
            panel.border_title = "Not used"
            yield ListTable(
                [
                    Column("Line", most=20),
                    Column("Arch", most=7),
                    Column("Size", most=8),
                    Column("Trays", right=True),
                    Column("Cost", right=True),
                    Column("Last fitted", grow=True, least=12, most=30),
                ],
                empty="Every size on the shelf was used in the last twelve months.",
                id="idle",
            )
        yield Static(id="rates")

    def on_mount(self) -> None:
        self.query_one("#sizes").focus()

    def read(self) -> None:
        practice = self.practice
        workers.run(self, lambda: tray_buying.tray_buying(practice), self._show, name="buying", latest=True)

    def action_read_again(self) -> None:
        self.read()

    def _show(self, found: TrayBuying) -> None:
        self.it_is(found.today)
        said = [self._said(line, found.target_percent) for line in found.lines]
        self.query_one("#lines-said", Static).update(Content("\n").join(said))
        sizes = sorted(((line, size) for line in found.lines for size in line.sizes), key=_merit, reverse=True)
        self.query_one("#sizes", ListTable).replace_rows(
            Row((line.line, size.arch, size.size), self._size_cells(line, size)) for line, size in sizes
        )
        money = shown.money(found.idle_cents)
        since = shown.day(found.idle_since, self.work.formats)
        self.query_one("#idle-sizes").border_title = f"Not used since {since}: {money}"
        self.query_one("#idle", ListTable).replace_rows(
            Row((one.line, one.arch, one.size), self._idle(one)) for one in found.idle
        )
        rates = [shown.muted(shown.clean(words.rate(rate))) for rate in found.rates]
        self.query_one("#rates", Static).update(Content("\n").join(rates))

    def _said(self, line: LineToBuy, target: int) -> Content:
        status = Status.ACT if line.to_target else Status.OK
        chance = f"all fitted in {words.percent(line.chance_ppm)} of 100"
        return shown.noted(status, f"{line.line}: {words.looked_at(line)}: {chance}; {words.to_target(line, target)}")

    def _size_cells(self, line: LineToBuy, size: NextTray) -> tuple[str | Content, ...]:
        with_it = f"{words.percent(size.chance_ppm)} of 100"
        return line.line, words.ARCHES[size.arch], size.size, str(size.available), with_it, size.item_code

    def _idle(self, one: IdleSize) -> tuple[str | Content, ...]:
        last = shown.day(one.last_fitted, self.work.formats) if one.last_fitted else "never"
        return one.line, words.ARCHES[one.arch], one.size, str(one.trays), shown.money(one.cents), last


def _merit(of_line: tuple[LineToBuy, NextTray]) -> int:
    """What one tray more does for the chance of its line."""
    line, size = of_line
    return size.chance_ppm - line.chance_ppm
