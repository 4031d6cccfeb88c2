"""The dentist's look: trays by size, materials, and booked visits that can't be done; nothing to scroll at 80x24."""

from collections.abc import Iterator

from textual.app import ComposeResult
from textual.binding import Binding
from textual.containers import Vertical
from textual.content import Content
from textual.widgets import Static

from inventory.domain.trays import SizeWord
from inventory.domain.vocabulary import Viscosity
from inventory.service import dentists_view, retakes
from inventory.service.dentists_view import DentistsView, MaterialLine, SizeCell, SizeGrid, SizeRow
from inventory.service.retakes import Retakes
from tui import retake_words, workers
from tui import text as shown
from tui.dialogs.choose import ChooseDialog
from tui.dialogs.reading import ReadingDialog
from tui.screens import visit_ways
from tui.screens.base import CAUTION, ModeScreen
from tui.screens.pictures import Picture, PictureScreen
from tui.screens.tray_buying import TrayBuyingScreen
from tui.screens.visit_words import ARCH
from tui.theme import Status
from tui.widgets.table import Column, ListTable, Row

WORDS = {
    SizeWord.NONE: (Status.ACT, "none"),
    SizeWord.SHORT: (Status.ACT, "short"),
    SizeWord.LOW: (Status.WATCH, "low"),
    SizeWord.ENOUGH: (Status.OK, ""),
}
BODIES = {
    Viscosity.PUTTY: "putty",
    Viscosity.HEAVY: "heavy-bodied",
    Viscosity.MEDIUM: "medium-bodied",
    Viscosity.LIGHT: "light-bodied",
}


NAMED = 2  # cases in the line above the trays; it has no room for more


class TraysScreen(ModeScreen):
    """Tray sizes, materials and visits in one look."""

    title_text = "Trays"
    on_enter = "Look at the lots of a size, or of a material"
    cautions = (
        CAUTION,
        "A tray that was in a mouth never goes back to stock.",
        "What booked visits will take is an estimate: sizes known beforehand are certain, others follow the size mix.",
    )
    BINDINGS = [
        Binding("v", "visits", "Short visits"),
        Binding("k", "possible", "Visits possible"),
        Binding("n", "buy_next", "Buy next"),
        Binding("f", "fitted", "Fitted"),
        Binding("r", "retakes", "Retakes"),
        Binding("a", "read_again", "Read again", show=False),
    ]

    def __init__(self) -> None:
        super().__init__()
        self._seen: DentistsView | None = None

    def body(self) -> ComposeResult:
        yield Static(shown.muted("◦ looking through the trays …"), id="visits-said")
        yield Vertical(id="grids")
        with Vertical(classes="panel", id="materials") as panel:
            panel.border_title = "Materials"
            yield ListTable(
                [
                    Column("Material", grow=True, least=24, most=40),
                    Column("Body", most=14, spare=1),
                    Column("Set", most=8, spare=2),
                    Column("Usable", most=18),
                    Column("Today, with retakes", most=20),
                    Column("First use-by", most=12, spare=3),
                ],
                empty="No material is on the practice's list yet.",
                id="material-lines",
            )
        yield Static(Content(CAUTION), classes="caution")

    def read(self) -> None:
        practice = self.practice
        workers.run(self, lambda: dentists_view.dentists_view(practice), self._show, name="trays", latest=True)

    def action_fitted(self) -> None:
        """Look at which sizes were fitted, beside what is there."""
        self.app.push_screen(PictureScreen(Picture.SIZES))

    def action_retakes(self) -> None:
        """Say how much was taken again, by arch and by lot."""
        practice = self.practice

        def show(found: Retakes) -> None:
            parts = [shown.plain(line) for line in retake_words.told(found)]
            self.app.push_screen(ReadingDialog("Retakes", [Content("\n").join(parts)]))

        workers.run(self, lambda: retakes.retakes(practice), show, name="retakes", latest=True)

    def action_read_again(self) -> None:
        self.read()

    def _show(self, seen: DentistsView) -> None:
        self._seen = seen
        self.it_is(seen.today)
        self.query_one("#visits-said", Static).update(self._said(seen))
        self.call_next(self._show_grids, seen.grids)
        materials = self.query_one("#material-lines", ListTable)
        materials.replace_rows(Row(line, tuple(self._material(line))) for line in seen.materials)

    def _said(self, seen: DentistsView) -> Content:
        booked = shown.count(seen.booked, "booked visit")
        until = shown.day(seen.until, self.work.formats)
        if not seen.not_ready:
            return shown.noted(Status.OK, f"{booked} until {until}: all can be done from stock")
        cases = [one.case_ref for one in seen.not_ready]
        named = ", ".join(cases[:NAMED]) + (f" and {len(cases) - NAMED} more" if len(cases) > NAMED else "")
        short = f"{len(cases)} of {shown.count(seen.booked, 'visit')} until {until} can't be done (v: why): {named}"
        return shown.noted(Status.ACT, short)

    async def _show_grids(self, grids: tuple[SizeGrid, ...]) -> None:
        """One table for each tray line; made anew only where the lines or their sizes changed."""
        holder = self.query_one("#grids", Vertical)
        names = [(grid.line, tuple(cell.size for cell in grid.rows[0].cells)) for grid in grids]
        if names != getattr(self, "_names", None):
            self._names = names
            await holder.remove_children()
            for number, (_, sizes) in enumerate(names):
                columns = [Column("", most=12), *(Column(size, grow=True, least=9, most=24) for size in sizes)]
                table: ListTable[tuple[str, SizeRow]] = ListTable(columns, empty="No sizes.", id=f"grid-{number}")
                await holder.mount(Static("", classes="heading"), table)
            self.query(ListTable).first().focus()
        for heading, table, grid in zip(holder.query(Static), holder.query(ListTable), grids, strict=True):
            heading.update(self._heading(grid))
            table.replace_rows(self._rows(grid))

    def _heading(self, grid: SizeGrid) -> Content:
        if not grid.booked:
            return Content(f"{shown.clean(grid.line)}: no visit booked")
        chance = f"{grid.all_fitted_percent} in 100 that all can be fitted"
        return Content(f"{shown.clean(grid.line)}: {shown.count(grid.booked, 'visit')} booked, {chance}")

    def _rows(self, grid: SizeGrid) -> Iterator[Row[tuple[str, SizeRow]]]:
        for row in grid.rows:
            yield Row(("trays", row), (ARCH[row.arch], *(self._there(cell) for cell in row.cells)))
            yield Row(("take", row), (shown.muted("  to be used"), *(self._take(cell) for cell in row.cells)))

    def _there(self, cell: SizeCell) -> Content:
        status, word = WORDS[cell.word]
        away = f"+{cell.away} away" if cell.away else ""
        return shown.noted(status, " ".join(part for part in (str(cell.available), word, away) if part))

    def _take(self, cell: SizeCell) -> Content:
        tenths = cell.expected_tenths
        return shown.muted(f"  {tenths // 10}.{tenths % 10}" if tenths else f"  {shown.NOTHING}")

    def _material(self, line: MaterialLine) -> Iterator[str | Content]:
        yield line.name
        yield BODIES[line.viscosity] if line.viscosity is not None else shown.NOTHING
        yield line.setting_speed.value if line.setting_speed else shown.NOTHING
        yield line.amount
        yield self._enough(line)
        yield shown.day(line.last_day, self.work.formats) if line.last_day else shown.NOTHING

    def _enough(self, line: MaterialLine) -> Content:
        if not line.qty:
            return shown.status(Status.ACT, "none usable")
        if not line.needed_today:
            return shown.muted("not needed today")
        return shown.status(*((Status.OK, "enough") if line.enough_today else (Status.ACT, "short")))

    def on_list_table_chosen(self, event: ListTable.Chosen) -> None:
        if isinstance(event.key, MaterialLine):
            self.stock_app.go("stock", ("item", event.key.item_id))
            return
        _, row = event.key
        sizes = [(cell, f"{cell.size}: {cell.reason}") for cell in row.cells]

        def chosen(cell: SizeCell | None) -> None:
            if cell is not None and cell.item_ids:
                self.stock_app.go("stock", ("item", cell.item_ids[0]))

        self.app.push_screen(ChooseDialog(f"Sizes, {ARCH[row.arch]}", sizes, "Enter: its lots"), chosen)

    def action_visits(self) -> None:
        if self._seen is None or not self._seen.not_ready:
            self.notify("All booked visits can be done from stock.")
            return
        lines = [(one.visit_id, f"{one.on} {one.case_ref}: {'; '.join(one.missing)}") for one in self._seen.not_ready]

        def chosen(visit_id: int | None) -> None:
            if visit_id is not None:
                visit_ways.open_visit(self, visit_id)

        self.app.push_screen(ChooseDialog("Visits that can't be done", lines, "Enter opens the visit"), chosen)

    def action_buy_next(self) -> None:
        self.app.push_screen(TrayBuyingScreen())

    def action_possible(self) -> None:
        if self._seen is None:
            return
        lines = []
        for kind in self._seen.possible:
            more = "or more" if kind.capped else f"then short of {', '.join(kind.lacks)}"
            lines.append((kind.case_kind, f"{kind.name}: {kind.count} {more}"))
        self.app.push_screen(ChooseDialog("Visits possible from stock, both arches", lines, "One kind at a time"))
