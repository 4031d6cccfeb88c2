"""The weekly check: one list, most urgent first; Enter deals with a line, w says why."""

from collections.abc import Callable

from textual.app import ComposeResult
from textual.binding import Binding
from textual.containers import Vertical
from textual.content import Content
from textual.widgets import Static

from inventory.domain import ordering
from inventory.domain.alerts import Action, Alert, AlertKind
from inventory.service import weekly_check
from inventory.service.weekly_check import WeeklyCheck
from tui import text as shown
from tui import workers
from tui.dialogs.reading import WhyDialog
from tui.screens import stock_deeds, visit_ways
from tui.screens import visit_words as words
from tui.screens.base import CAUTION, ModeScreen
from tui.screens.classes import ClassesScreen
from tui.screens.counting import CountRoundsScreen
from tui.screens.estimates import EstimatesScreen
from tui.screens.expired_walk import ExpiredWalkScreen
from tui.screens.laboratory import LaboratoryScreen
from tui.screens.notice_list import NoticeScreen
from tui.screens.notices import NoticesScreen
from tui.screens.orders import OrdersScreen
from tui.screens.pictures import Picture, PictureScreen
from tui.screens.receive import ReceiveScreen
from tui.screens.what_if import WhatIfScreen
from tui.widgets.table import Column, ListTable, Row

ENTER = {Action.ORDER: "open the proposed order"}
"""What Enter does, where the action's own words would promise more: nothing is ordered by the program."""


class WeekScreen(ModeScreen):
    """What wants a decision this week."""

    title_text = "Weekly check"
    on_enter = "Deal with the line: discard, set aside, order, open the visit or the order, read the date"
    cautions = (CAUTION, "A proposal is only a proposal: the manager decides, and nothing is ordered by the program.")
    BINDINGS = [
        Binding("w", "why", "Why"),
        Binding("o", "orders", "Orders"),
        Binding("r", "receive", "Receive"),
        Binding("d", "discard", "Discard"),
        Binding("i", "what_if", "What if"),
        Binding("c", "count", "Count stock in a round", show=False),
        Binding("f", "forecast", "Forecast of the line's item, as a picture", show=False),
        Binding("b", "lots", "All lots until their last day, as a picture", show=False),
        Binding("e", "estimates", "What steps take", show=False),
        Binding("x", "expired_walk", "Take expired stock off the shelves, place by place", show=False),
        Binding("l", "recalls", "Recall notices", show=False),
        Binding("a", "read_again", "Read again", show=False),
    ]

    def body(self) -> ComposeResult:
        yield Static(shown.muted("◦ looking through the stock …"), id="summary")
        yield ListTable(
            [
                Column("Matter", most=17),
                Column("What", grow=True, least=28, most=34, first=True),
                Column("How it stands", grow=True, least=16, most=80),
                Column("Day", spare=1, most=10),
            ],
            empty="",
            id="lines",
        )
        with Vertical(classes="panel", id="detail") as panel:
            panel.border_title = "This line"
            yield Static("", id="where")
            yield Static("", id="how")
            yield Static("", id="todo")
            yield Static("", id="order")
        yield Static(Content(CAUTION), classes="caution")

    def on_mount(self) -> None:
        self.query_one("#lines").focus()

    def read(self) -> None:
        practice = self.practice
        workers.run(
            self,
            lambda: weekly_check.weekly_check(practice),
            self._show,
            name="check",
            latest=True,
            busy="Looking through the stock",
        )

    def about(self, subject: object) -> None:
        """Put the cursor on the line that the person came for."""
        if isinstance(subject, Alert):
            self._wanted = subject
            self.query_one("#lines", ListTable).select(subject)

    _wanted: Alert | None = None
    _check: WeeklyCheck | None = None

    def _show(self, check: WeeklyCheck) -> None:
        self.it_is(check.today)
        self._check = check
        table = self.query_one("#lines", ListTable)
        table.empty = "Nothing wants a decision."
        table.replace_rows(Row(alert, self._cells(alert)) for alert in check.lines)
        if self._wanted is not None:
            table.select(self._wanted)
            self._wanted = None
        self.query_one("#summary", Static).update(words.counts(check))
        self._tell(table.current)

    def _cells(self, alert: Alert) -> tuple[str | Content, ...]:
        day = shown.day(alert.due, self.work.formats) if alert.due else shown.NOTHING
        matter = shown.status(words.urgency(alert.kind), words.KINDS[alert.kind])
        return matter, alert.subject, alert.what, day

    def on_list_table_moved(self, event: ListTable.Moved) -> None:
        self._tell(event.key)

    def _tell(self, alert: Alert | None) -> None:
        where = " · ".join(filter(None, (alert.subject, alert.where, self._day(alert)))) if alert else ""
        self.query_one("#where", Static).update(shown.plain(where, "bold"))
        self.query_one("#how", Static).update(shown.plain(alert.what if alert else ""))
        key = f"{alert.todo}  Enter: {ENTER.get(alert.action, alert.action)}." if alert else ""
        self.query_one("#todo", Static).update(shown.plain(key, "$muted"))
        self.query_one("#order", Static).update(shown.plain(self._order(alert)))

    def _day(self, alert: Alert) -> str:
        """The day that matters, and what it is."""
        if alert.due is None:
            return ""
        return f"{words.DAYS.get(alert.kind, 'use by')} {shown.day(alert.due, self.work.formats)}"

    def _order(self, alert: Alert | None) -> str:
        """What the whole order comes to in which the line's item stands, where the line is about ordering."""
        ordering_it = alert is not None and alert.kind in (AlertKind.RUNS_SHORT, AlertKind.ORDER_OVERDUE)
        order = self._check.basket_of(alert.item_id) if self._check and alert and ordering_it else None
        if order is None:
            return ""
        added = f"; {shown.money(order.sum.goods_cents - order.due_cents)} of it {order.added_for}"
        return f"{order.supplier}: {ordering.told(order.terms, order.sum)}{added if order.added_for else ''}"

    def on_list_table_chosen(self, event: ListTable.Chosen) -> None:
        self._deal(event.key)

    def _deal(self, alert: Alert) -> None:
        deeds: dict[Action, Callable[[Alert], None]] = {
            Action.OPEN_NOTICE: self._open_notice,
            Action.DISCARD: self._discard,
            Action.SET_ASIDE: self._set_aside,
            Action.OPEN_VISIT: self._open_visit,
            Action.SEND: self._send,
            Action.OPEN_ORDER: self._open_order,
            Action.ORDER: self._open_order,
            Action.RECEIVE: self._receive,
            Action.READ_DATE: self._read_date,
            Action.LOOK: self._to_stock,
            Action.COUNT: self._to_classes,
        }
        deeds[alert.action](alert)

    def _open_notice(self, alert: Alert) -> None:
        self.app.push_screen(NoticeScreen(alert.notice))

    def action_recalls(self) -> None:
        """All recall notices, and a new one."""
        self.app.push_screen(NoticesScreen())

    def _discard(self, alert: Alert) -> None:
        if alert.holding_id is not None:
            what = f"{alert.subject}, {alert.where}: {alert.what}"
            stock_deeds.discard(self, alert.holding_id, what, reason=words.KINDS[alert.kind])

    def _set_aside(self, alert: Alert) -> None:
        if alert.holding_id is not None:
            stock_deeds.set_aside(self, alert.holding_id, f"{alert.subject}, {alert.where}")

    def _open_visit(self, alert: Alert) -> None:
        if alert.visit_id is not None:
            visit_ways.open_visit(self, alert.visit_id)

    def _send(self, alert: Alert) -> None:
        self.app.push_screen(LaboratoryScreen(alert.visit_id))

    def _open_order(self, alert: Alert) -> None:
        basket = self._check.basket_of(alert.item_id) if self._check else None
        self.app.push_screen(OrdersScreen(alert.order, basket.supplier if basket else ""))

    def action_orders(self) -> None:
        """What to order, and the orders written."""
        self.app.push_screen(OrdersScreen())

    def _read_date(self, alert: Alert) -> None:
        if alert.lot_id is not None:
            what = f"{alert.subject}, {alert.where}"
            stock_deeds.amend(self, alert.lot_id, what, reason="read from the label")

    def _to_stock(self, alert: Alert) -> None:
        self.stock_app.go("stock", alert)

    def _to_classes(self, _: Alert) -> None:
        self.app.push_screen(ClassesScreen(only_due=True))

    def _receive(self, alert: Alert | None = None) -> None:
        self.app.push_screen(ReceiveScreen(alert.item_id if alert is not None else None))

    def action_why(self) -> None:
        alert = self.query_one("#lines", ListTable).current
        if alert is None:
            return
        note = "" if alert.why else "This line is a plain fact; there is no arithmetic behind it."
        self.app.push_screen(WhyDialog(f"Why: {alert.subject}", list(alert.why), note=note))

    def action_discard(self) -> None:
        """Discard what the line is about, where it is about something on a shelf."""
        alert = self.query_one("#lines", ListTable).current
        if alert is not None and alert.holding_id is not None:
            self._discard(alert)
        elif alert is not None:
            self.notify("This line is not about one thing on a shelf; there is nothing to discard.", markup=False)

    def action_receive(self) -> None:
        """Receive a delivery, beginning with what runs short where the cursor is on it."""
        alert = self.query_one("#lines", ListTable).current
        self._receive(alert if alert is not None and alert.kind is AlertKind.RUNS_SHORT else None)

    def action_estimates(self) -> None:
        """What steps take, as learned here."""
        self.app.push_screen(EstimatesScreen())

    def action_what_if(self) -> None:
        self.app.push_screen(WhatIfScreen())

    def action_count(self) -> None:
        """Count the stock, or a part of it, in a round."""
        self.app.push_screen(CountRoundsScreen())

    def action_forecast(self) -> None:
        """Look at what is ahead of the item that the line is about, or of one to be chosen."""
        alert = self.query_one("#lines", ListTable).current
        self.app.push_screen(PictureScreen(Picture.COURSE, item_id=alert.item_id if alert else None))

    def action_lots(self) -> None:
        """Look at all lots on their way to their last day."""
        self.app.push_screen(PictureScreen(Picture.LOTS))

    def action_expired_walk(self) -> None:
        """Take expired stock off the shelves, place by place."""
        self.app.push_screen(ExpiredWalkScreen())

    def action_read_again(self) -> None:
        self.read()
