"""Orders: what to order from each supplier, then the orders written, those still waited for first.

Enter opens the form of a proposal or a draft; what was sent is received, waited for, or given up.
"""

from collections.abc import Iterator
from dataclasses import dataclass

from textual.app import ComposeResult
from textual.binding import Binding
from textual.containers import Vertical
from textual.content import Content
from textual.widgets import Static

from inventory.domain import ordering as sums
from inventory.domain.vocabulary import OrderState
from inventory.service import orders
from inventory.service.orders import Order, Orders
from inventory.service.proposing import ProposedOrder
from tui import text as shown
from tui import workers
from tui.screens import order_deeds
from tui.screens.base import StepScreen
from tui.screens.order_form import OrderFormScreen
from tui.screens.receive import ReceiveScreen
from tui.theme import Status
from tui.widgets.table import Column, ListTable, Row

STATES = {
    OrderState.DRAFT: Status.WATCH,
    OrderState.SENT: Status.WAITING,
    OrderState.PART: Status.WAITING,
    OrderState.RECEIVED: Status.OK,
    OrderState.CANCELLED: Status.BLOCKED,
}
WORDS = {OrderState.PART: "partly here"}
FIRST = (OrderState.DRAFT, OrderState.SENT, OrderState.PART)


@dataclass(frozen=True)
class Key:
    """What a line stands for: a supplier's proposal, or an order by its number."""

    supplier: str
    number: str = ""


class OrdersScreen(StepScreen[object]):
    """What to order, and the orders written.

    Args:
        number: an order that the person came for.
        supplier: a supplier whose proposal, or draft, the person came for.
    """

    title_text = "Orders"
    on_enter = "Open the proposal or draft to change its packs; receive what was sent"
    cautions = (
        "A proposal is only a proposal: the manager decides.",
        "The program sends nothing: p writes the sheet, you send it, s marks it sent.",
    )
    BINDINGS = [
        Binding("s", "send", "Mark sent"),
        Binding("p", "sheet", "Sheet"),
        Binding("r", "receive", "Receive"),
        Binding("e", "expect", "Day named", show=False),
        Binding("x", "give_up", "Give up"),
        Binding("w", "why", "Why"),
        Binding("escape", "leave", "Back"),
    ]

    def __init__(self, number: str = "", supplier: str = "") -> None:
        super().__init__()
        self._wanted = Key(supplier, number) if number or supplier else None
        self._seen: Orders | None = None

    def body(self) -> ComposeResult:
        yield Static("Orders", classes="heading")
        yield ListTable(
            [
                Column("How far", most=13),
                Column("Supplier", most=20),
                Column("Order", spare=1, most=14),
                Column("What", grow=True, least=16, most=60),
                Column(f"In all, {self.work.currency}" if self.work.currency else "In all", right=True),
                Column("Expected", spare=2, most=12),
            ],
            empty="◦ Looking through the stock …",
        )
        with Vertical(classes="panel", id="detail") as panel:
            panel.border_title = "This order"
            yield Static("", id="said")
        yield Static(Content(self.cautions[1]), classes="caution")

    def on_mount(self) -> None:
        self.query_one(ListTable).focus()

    def read(self) -> None:
        practice = self.practice
        workers.run(
            self, lambda: orders.overview(practice), self._show, name="orders", latest=True,
            busy="Looking through the stock",
        )  # fmt: skip

    def _show(self, seen: Orders) -> None:
        self.it_is(seen.today)
        self._seen = seen
        table = self.query_one(ListTable)
        table.empty = "No supplier sells anything yet: say in the catalogue how items are bought."
        table.replace_rows(self._rows(seen))
        if self._wanted is not None:
            wanted, self._wanted = self._wanted, None
            table.select(next((key for key in table.keys if _meant(key, wanted)), wanted))
        self._tell()

    def _rows(self, seen: Orders) -> Iterator[Row[Key]]:
        """Proposals first, but for suppliers whose draft is being written: that one stands for it."""
        proposed = [one for one in seen.proposed if seen.draft_of(one.supplier) is None]
        waiting = [one for one in seen.orders if one.state in FIRST]
        yield from (self._proposal(one) for one in proposed if one.ordered)
        yield from (self._order(one) for one in waiting)
        yield from (self._proposal(one) for one in proposed if not one.ordered)
        yield from (self._order(one) for one in seen.orders if one not in waiting)

    def _proposal(self, one: ProposedOrder) -> Row[Key]:
        far = shown.status(Status.ACT, "to order") if one.ordered else shown.status(Status.OK, "nothing due")
        what = ", ".join(f"{line.packs} x {line.name}" for line in one.ordered) or "Enter writes an order all the same"
        cents = shown.money(one.sum.total_cents, self.work.formats) if one.ordered else ""
        return Row(Key(one.supplier), (far, one.supplier, "", what, cents, ""))

    def _order(self, one: Order) -> Row[Key]:
        far = shown.status(Status.ACT, "overdue") if one.overdue else _far(one.state)
        left = ", ".join(f"{line.open_units} x {line.name}" for line in one.waiting)
        what = f"to come: {left}" if left else ", ".join(f"{line.packs} x {line.name}" for line in one.lines)
        day = shown.day(one.expected_on, self.work.formats) if one.expected_on and one.state.open else ""
        cents = shown.money(one.sum.total_cents, self.work.formats)
        return Row(Key(one.supplier, one.number), (far, one.supplier, one.number, what, cents, day))

    # the line under the cursor

    @property
    def _proposed(self) -> ProposedOrder | None:
        key = self.query_one(ListTable).current
        if key is None or key.number or self._seen is None:
            return None
        return next((one for one in self._seen.proposed if one.supplier == key.supplier), None)

    @property
    def _written(self) -> Order | None:
        key = self.query_one(ListTable).current
        if key is None or self._seen is None:
            return None
        return next((one for one in self._seen.orders if one.number == key.number), None)

    def on_list_table_moved(self, event: ListTable.Moved) -> None:
        event.stop()
        self._tell()

    def _tell(self) -> None:
        proposed, written = self._proposed, self._written
        said: list[str] = []
        if proposed is not None:
            said = [
                f"{proposed.supplier}: {sums.told(proposed.terms, proposed.sum)}.",
                f"It {proposed.lead.words}.",
            ]
            said += [f"Added {proposed.added_for}: {proposed.told_additions}."] if proposed.added_for else []
            said += proposed.warnings
        elif written is not None:
            said = [f"{written.number}, {written.supplier}, written {self._day(written.written_on)} by {written.by}."]
            said += [f"Sent {self._day(written.sent_on)}."] if written.sent_on else [
                f"{sums.told(written.terms, written.sum)}. Not sent yet: p writes the sheet, s marks it as sent."
            ]  # fmt: skip
            said += [_line(line) for line in written.lines]
        self.query_one("#said", Static).update(Content("\n").join(map(shown.plain, said)))

    def _day(self, day: object) -> str:
        return shown.day(day, self.work.formats)  # type: ignore[arg-type]

    def on_list_table_chosen(self, event: ListTable.Chosen) -> None:
        event.stop()
        proposed, written = self._proposed, self._written
        if proposed is not None:
            self.app.push_screen(OrderFormScreen(proposed), self._saved)
        elif written is not None and written.state is OrderState.DRAFT:
            self._change(written)
        elif written is not None:
            self.action_receive()

    def _change(self, order: Order) -> None:
        """Open the form of a draft, beside what is proposed now."""
        proposed = self._seen.proposed if self._seen else ()
        whole = next((one for one in proposed if one.supplier == order.supplier), None)
        if whole is None:
            self.notify(f"{order.supplier} sells nothing any more: give the draft up.", markup=False)
        else:
            self.app.push_screen(OrderFormScreen(whole, order), self._saved)

    def _saved(self, order: Order | None) -> None:
        if order is not None:
            self._wanted = Key(order.supplier, order.number)

    # what is done with an order

    def _with(self, *states: OrderState) -> Order | None:
        """The order under the cursor where it is in one of these states; says so where it is not."""
        written = self._written
        if written is not None and written.state in states:
            return written
        wanted = " or ".join(WORDS.get(state, state.value) for state in states)
        self.notify(f"This works on an order that is {wanted}.", markup=False)
        return None

    def action_send(self) -> None:
        if (order := self._with(OrderState.DRAFT)) is not None:
            order_deeds.send(self, order)

    def action_expect(self) -> None:
        if (order := self._with(OrderState.SENT, OrderState.PART)) is not None:
            order_deeds.expect(self, order)

    def action_give_up(self) -> None:
        if (order := self._with(*FIRST)) is not None:
            order_deeds.give_up(self, order)

    def action_sheet(self) -> None:
        if (order := self._with(*FIRST, OrderState.RECEIVED)) is not None:
            order_deeds.sheet(self, order)

    def action_receive(self) -> None:
        if (order := self._with(OrderState.SENT, OrderState.PART)) is not None:
            self.app.push_screen(ReceiveScreen(order=order.number))

    def action_why(self) -> None:
        order_deeds.why(self, self._proposed, self._written)


def _meant(key: Key, wanted: Key) -> bool:
    """An order by its number; else the first line of the supplier, which is what is due from it or its draft."""
    return key.number == wanted.number if wanted.number else key.supplier == wanted.supplier


def _far(state: OrderState) -> Content:
    return shown.status(STATES[state], WORDS.get(state, state.value))


def _line(line: orders.OrderLine) -> str:
    parts = [f"{shown.count(line.packs, 'pack')} of {line.name}"]
    parts += [f"{line.came_units} units came"] if line.came_units else []
    parts += [f"{line.open_units} to come"] if line.open_units else []
    parts += [f"{shown.count(line.cancelled_packs, 'pack')} given up"] if line.cancelled_packs else []
    return ", ".join(parts)
