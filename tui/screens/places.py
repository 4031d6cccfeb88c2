"""What stands where: every place in walk order; and one place with its stock and the levels of its own.

An operatory is topped up to its levels with one key: the list of what to take is shown, Enter carries it, and what the
store room lacks is said.
"""

from typing import Any
from uuid import uuid4

from textual.app import ComposeResult
from textual.binding import Binding
from textual.containers import Vertical
from textual.content import Content
from textual.widgets import Static

from inventory.domain.vocabulary import PlaceRole
from inventory.domain.words import item_and_lot
from inventory.errors import NotAllowed
from inventory.service import catalogue, places
from inventory.service.moving import Slip
from inventory.service.places import LevelLine, PlaceLine, PlaceStock, ToppedUp
from inventory.service.stock_views import LotLine
from tui import text as shown
from tui import workers
from tui.dialogs.reading import ErrorDialog
from tui.dialogs.save import SaveDialog
from tui.screens.base import CAUTION, StepScreen, StockScreen
from tui.screens.deed import DeedScreen, Values
from tui.screens.heaps import STATES
from tui.screens.lots import LotsScreen
from tui.theme import Status
from tui.widgets.choice_field import ChoiceField
from tui.widgets.fields import Field, number_field
from tui.widgets.table import Column, ListTable, Row

ROLES = {
    PlaceRole.STORE: "store room",
    PlaceRole.CHAIR: "operatory",
    PlaceRole.SET_ASIDE: "set aside",
    PlaceRole.REPROCESSING: "reprocessing",
    PlaceRole.LABORATORY: "laboratory",
}
COUNTED = "A level counts sealed units that may be used, not what stands open."


class PlacesScreen(StepScreen[None]):
    """All places."""

    title_text = "Places"
    on_enter = "What stands there"
    cautions = (CAUTION, COUNTED)
    BINDINGS = [
        Binding("t", "top_up", "Top up"),
        Binding("x", "expired", "Expired stock off"),
        Binding("escape", "leave", "Back"),
    ]

    def __init__(self) -> None:
        super().__init__()
        self._places: dict[int, PlaceLine] = {}

    def body(self) -> ComposeResult:
        yield Static("What stands where, in the order of a walk", classes="heading")
        yield ListTable(
            [
                Column("Place", grow=True, least=14, most=40),
                Column("Is", most=14, spare=2),
                Column("Items", right=True),
                Column("Lots", right=True),
                Column("State", grow=True, least=34, most=60),
                Column(f"Worth, {self.work.currency}", right=True, spare=1),
            ],
            empty="◦ Reading the places …",
        )
        yield Static(Content(COUNTED), classes="caution")

    def on_mount(self) -> None:
        self.query_one(ListTable).focus()

    def read(self) -> None:
        practice = self.practice
        workers.run(self, lambda: places.places(practice), self._show, name="places", latest=True)

    def _show(self, seen: tuple[PlaceLine, ...]) -> None:
        self._places = {one.place_id: one for one in seen}
        self.query_one(ListTable).replace_rows(Row(one.place_id, self._cells(one)) for one in seen)

    def _cells(self, one: PlaceLine) -> tuple[str | Content, ...]:
        money = shown.money(one.value_cents, self.work.formats)
        return one.name, ROLES[one.role], str(one.items), str(one.lots), _state(one), money

    @property
    def _place(self) -> PlaceLine | None:
        return self._places.get(self.query_one(ListTable).current or 0)

    def on_list_table_chosen(self, event: ListTable.Chosen) -> None:
        event.stop()
        self.app.push_screen(PlaceScreen(self._places[event.key].name))

    def action_top_up(self) -> None:
        if (one := self._place) is not None:
            top_up(self, one.name)

    def action_expired(self) -> None:
        """Take expired stock off the shelves, place by place."""
        from tui.screens.expired_walk import ExpiredWalkScreen  # noqa: PLC0415 - rarely wanted

        self.app.push_screen(ExpiredWalkScreen())


def _state(one: PlaceLine) -> Content:
    if not one.active:
        return shown.muted("not in use any more")
    if not one.lots:
        return shown.muted("empty" if not one.below else f"empty; below its level of {shown.count(one.below, 'item')}")
    told = []
    if one.blocked and one.role.usable:
        told.append(f"{one.blocked} expired or on hold")
    if one.below:
        told.append(f"below its level of {shown.count(one.below, 'item')}")
    if not told:
        return shown.status(Status.OK, "at its levels" if one.levels else "in order")
    return shown.noted(Status.BLOCKED if one.blocked and one.role.usable else Status.WATCH, "; ".join(told))


class PlaceScreen(StepScreen[None]):
    """One place: its lots, and the levels of its own.

    Args:
        name: which place.
    """

    title_text = "A place"
    on_enter = "The lots of the item"
    cautions = (CAUTION, COUNTED)
    BINDINGS = [
        Binding("t", "top_up", "Top up"),
        Binding("v", "level", "Level of an item"),
        Binding("x", "expired", "Expired stock off"),
        Binding("escape", "leave", "Back"),
    ]

    def __init__(self, name: str) -> None:
        super().__init__()
        self._place_name = name
        self._seen: PlaceStock | None = None

    def body(self) -> ComposeResult:
        yield Static(shown.plain(self._place_name), classes="heading")
        yield ListTable(
            [
                Column("Item", grow=True, least=20, most=44),
                Column("Lot", most=18),
                Column("There", most=18),
                Column("Last day", most=10),
                Column("State", grow=True, least=14, most=40),
            ],
            empty="◦ Reading the place …",
        )
        with Vertical(classes="panel", id="detail") as panel:
            panel.border_title = "Its own levels"
            yield Static("", id="said")
        yield Static(Content(COUNTED), classes="caution")

    def on_mount(self) -> None:
        self.query_one(ListTable).focus()

    def read(self) -> None:
        practice, name = self.practice, self._place_name
        workers.run(
            self, lambda: places.place(practice, name), self._show, name="place", latest=True, failed=self.leave_with
        )

    def _show(self, seen: PlaceStock) -> None:
        self._seen = seen
        self.it_is(seen.today)
        table = self.query_one(ListTable)
        table.empty = "Nothing stands here."
        table.replace_rows(Row(at, self._cells(line)) for at, line in enumerate(seen.lines))
        levels = [_level(line) for line in seen.levels] or ["None: v sets one, t tops the place up to it."]
        self.query_one("#said", Static).update(shown.plain("; ".join(levels)))

    def _cells(self, line: LotLine) -> tuple[str | Content, ...]:
        last = shown.day(line.last_day, self.work.formats) if line.last_day else shown.NOTHING
        state = shown.status(STATES[line.state], line.state.value)
        return line.item_name, line.lot_number, line.amount, last, state

    def on_list_table_chosen(self, event: ListTable.Chosen) -> None:
        event.stop()
        if self._seen is not None:
            line = self._seen.lines[event.key]
            self.app.push_screen(LotsScreen(line.item_id, line.lot_id))

    def action_top_up(self) -> None:
        top_up(self, self._place_name)

    def action_expired(self) -> None:
        """Take expired stock off this place."""
        from tui.screens.expired_walk import ExpiredWalkScreen  # noqa: PLC0415 - rarely wanted

        self.app.push_screen(ExpiredWalkScreen(self._place_name))

    def action_level(self) -> None:
        """Set the level that the place has of an item."""
        at = self.query_one(ListTable).current
        code = self._seen.lines[at].item_code if self._seen is not None and at is not None else None
        if self._seen is not None:
            set_level(self, self._seen, code)


def _level(line: LevelLine) -> str:
    return f"{line.name} {line.there} of {line.level}"


def set_level(screen: StockScreen, place: PlaceStock, code: str | None) -> None:
    """Ask for an item and the units that an operatory has of its own; 0 takes the level away."""
    if place.role is not PlaceRole.CHAIR:
        said = NotAllowed(f"{place.name} is no operatory.", "Levels are for operatories; choose one in the list.")
        screen.app.push_screen(ErrorDialog.of(said))
        return
    practice = screen.practice
    known = {line.code: line.level for line in place.levels}

    def show(items: tuple[catalogue.ItemLine, ...]) -> None:
        names = [(one.code, f"{one.name} ({one.code})") for one in items]
        units = str(known[code]) if code in known else ""
        fields: list[Field[Any]] = [
            ChoiceField("Item", names, chosen=code, hint="type part of its name", id="item"),
            number_field("Sealed units", text=units, hint="0: no level of its own", id="units"),
        ]

        def deed(values: Values, by: str, _: object) -> LevelLine:
            return places.set_level(practice, place.name, values["item"], values["units"], by=by)

        screen.app.push_screen(DeedScreen("Level of an item", f"{place.name} is topped up to it.", fields, deed,
                                          caution=COUNTED))  # fmt: skip

    workers.run(screen, lambda: catalogue.items(practice), show, name="items")


def top_up(screen: StockScreen, name: str) -> None:
    """Show what would be carried to a place and what lacks; Enter carries it."""
    practice, key = screen.practice, uuid4().hex

    def ask(plan: ToppedUp) -> None:
        if not plan.picks:
            lacks = _lacks(plan)
            screen.notify(lacks or f"{plan.place} has all of its levels.", markup=False, timeout=8)
            return
        parts = [shown.plain("\n".join(_pick(line, one.amount, one.lot_number, one.from_place)
                                       for line, one in plan.picks))]  # fmt: skip
        parts += [shown.noted(Status.WATCH, _lacks(plan))] if plan.lacking else []

        def answered(yes: bool | None) -> None:
            if yes:
                screen.signed(carry)

        screen.app.push_screen(SaveDialog(f"Carry to {plan.place}?", parts, yes="Carry"), answered)

    def carry(by: str) -> None:
        def told(done: ToppedUp) -> None:
            screen.notify(f"Carried to {done.place}: entry {done.document_id}.", markup=False, timeout=8)
            screen.read()

        workers.run(screen, lambda: places.top_up(practice, name, Slip(key, by)), told, name="top-up", busy="Carrying")

    workers.run(screen, lambda: places.plan(practice, name), ask, name="plan")


def _pick(line: LevelLine, amount: str, lot: str, source: str) -> str:
    return f"{amount}  {item_and_lot(line.name, lot)}, from {source}"


def _lacks(plan: ToppedUp) -> str:
    if not plan.lacking:
        return ""
    return f"The store room lacks: {', '.join(f'{line.lacks} x {line.name}' for line in plan.lacking)}."
