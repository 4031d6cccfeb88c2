"""Files of open orders: what was sent to suppliers before the book began and is still to come.

The rows of one order number are one sent order; without a number those of one supplier and day are, and a number is
drawn. Only packs that have not come yet are written: what came before stands on the shelves, as opening stock. From
then on an order is received, overdue or given up like any other. Orders in the book are never changed by a file.
"""

from dataclasses import dataclass
from datetime import date, timedelta

from inventory.domain.catalogue import MOST_CENTS
from inventory.domain.ordering import order_sum
from inventory.domain.vocabulary import OrderState
from inventory.domain.words import clean
from inventory.service import on_order, ordering
from inventory.service.import_catalogue import Intake
from inventory.service.import_rows import Row
from inventory.service.practice import Desk
from inventory.store.queries import catalogue, purchases
from inventory.store.queries.catalogue import SupplyRow
from inventory.store.queries.receiving import one_at_a_time
from inventory.store.tables import Purchase, PurchaseLine

LONGEST_WAIT = timedelta(days=731)  # own judgement: a later day is a slip of the pen


@dataclass(frozen=True, slots=True)
class _Head:
    """What the rows of one order say alike; ``number`` is empty where one is to be drawn."""

    number: str
    supplier_id: int
    supplier: str
    sent_on: date


@dataclass(frozen=True, slots=True)
class _Line:
    """So many packs of a supply, ``came`` of them already."""

    supply: SupplyRow
    packs: int
    came: int
    pack_cents: int


class OrdersIntake(Intake):
    def __init__(self, desk: Desk, person_id: int, *, update: bool) -> None:
        super().__init__(desk, person_id, update=update)
        one_at_a_time(desk.session, ordering.WRITING)
        self._suppliers = {row.name.casefold(): row for row in catalogue.suppliers(desk.session)}
        self._items = {row.code: row for row in catalogue.items(desk.session) if row.active}
        self._sold: dict[tuple[int, int], list[SupplyRow]] = {}
        for supply in catalogue.supplies(desk.session):
            if supply.valid_from <= desk.today:
                self._sold.setdefault((supply.supplier_id, supply.item_id), []).append(supply)
        rows = purchases.orders(desk.session)
        lines = purchases.order_lines(desk.session, [row.order_id for row in rows])
        self._known = {row.number: row for row in rows}
        self._sent = {
            (row.supplier_id, row.sent_on, line.item_id): row.number
            for row in rows
            for line in lines.get(row.order_id, ())
        }
        self._heads: dict[str, tuple[int, _Head]] = {}  # by number: the row that said it first
        self._expected: dict[_Head, date] = {}
        self._lines: dict[_Head, list[tuple[Row, _Line]]] = {}

    def read(self, row: Row) -> None:
        head, line = self._head(row), self._line(row)
        if head is None or line is None:
            return
        self._check_new(row, head, line)
        self.once(row, "item", (head, line.supply.supply_id))
        self._lines.setdefault(head, []).append((row, line))

    def _head(self, row: Row) -> _Head | None:
        number = row.parsed("order", lambda text: clean(text.upper(), "order", 40), "")
        supplier = self._suppliers.get(row.text("supplier").casefold())
        if supplier is None:
            known = ", ".join(one.name for one in self._suppliers.values() if one.active) or "none yet"
            row.fault("supplier", f"there is no supplier {row.text('supplier')!r}; known are {known}")
        sent_on = row.day("sent_on")
        if sent_on is not None and sent_on > self.desk.today:
            row.fault("sent_on", f"{sent_on} is still to come; write an order that is not sent as a draft")
        if supplier is None or sent_on is None:
            return None
        head = _Head(number, supplier.id or 0, supplier.name, sent_on)
        if number:
            self._check_alike(row, head)
        self._expect(row, head)
        return head

    def _check_alike(self, row: Row, head: _Head) -> None:
        at, first = self._heads.setdefault(head.number, (row.number, head))
        for column, here, there in (
            ("supplier", head.supplier, first.supplier),
            ("sent_on", head.sent_on, first.sent_on),
        ):
            if here != there:
                row.fault(column, f"row {at} says {there} for order {head.number}")

    def _expect(self, row: Row, head: _Head) -> None:
        expected_on = row.day("expected_on")
        if expected_on is None:
            return
        if not head.sent_on <= expected_on <= head.sent_on + LONGEST_WAIT:
            row.fault("expected_on", f"{expected_on} can't be; give a day within two years from {head.sent_on} on")
        elif self._expected.setdefault(head, expected_on) != expected_on:
            row.fault("expected_on", f"another row says {self._expected[head]} for the same order")

    def _line(self, row: Row) -> _Line | None:
        packs = row.whole("packs") or 0
        came = row.whole("received_packs", 0) or 0
        if not 1 <= packs <= ordering.MOST_PACKS:
            row.fault("packs", f"give 1 to {ordering.MOST_PACKS}")
        elif came > packs:
            row.fault("received_packs", f"{came} of {packs} packs can't have come; what came on top is opening stock")
        supply = self._supply(row)
        cents = row.scaled("price", 100)
        if cents is not None and cents > MOST_CENTS:
            row.fault("price", "it is too much")
        if supply is None or row.faults:
            return None
        return _Line(supply, packs, came, ordering.pack_price(supply, packs) if cents is None else cents)

    def _supply(self, row: Row) -> SupplyRow | None:
        item = self._items.get(row.text("item").upper())
        supplier = self._suppliers.get(row.text("supplier").casefold())
        if item is None:
            row.fault("item", f"there is no item {row.text('item')!r}; import the items first")
        size = row.whole("units_per_pack")
        if item is None or supplier is None:
            return None
        sold = self._sold.get((supplier.id or 0, item.id or 0), [])
        found = next((supply for supply in sold if size in (None, supply.units_per_pack)), None)
        if found is None and not sold:
            row.fault("item", f"{supplier.name} sells no {item.code}; import the supplies first")
        elif found is None:
            sizes = ", ".join(str(size) for size in sorted({supply.units_per_pack for supply in sold}))
            row.fault("units_per_pack", f"{supplier.name} sells {item.code} in packs of {sizes}")
        return found

    def _check_new(self, row: Row, head: _Head, line: _Line) -> None:
        """A file read twice must not order twice, be it with numbers or without."""
        if head.number in self._known:
            row.fault("order", f"order {head.number} is in the book already; change it there")
        same = self._sent.get((head.supplier_id, head.sent_on, line.supply.item_id))
        if same and not head.number:
            row.fault(
                "order", f"order {same} of that day orders this item already; if this is another, give its number"
            )

    def keep_together(self, rows: tuple[Row, ...]) -> None:
        orders: dict[object, list[Row]] = {}
        for row in rows:
            unnumbered = (row.text("supplier").casefold(), row.day("sent_on") or row.number)
            orders.setdefault(row.text("order").upper() or unnumbered, []).append(row)
        for order in orders.values():
            wrong = [row.number for row in order if row.faults]
            for row in order:
                if wrong and not row.faults:
                    row.fault("order", f"row {wrong[0]} of the same order is wrong")

    def save(self) -> None:
        numbered_first = sorted(self._lines.items(), key=lambda pair: (not pair[0].number, pair[0].sent_on))
        for head, rows in numbered_first:  # so that no number is drawn that another order has
            lines = [line for row, line in rows if not row.faults]
            for row, line in rows:
                if not row.faults and line.came == line.packs:
                    self.warnings.append(f"row {row.number}: all of it has come, so it is not on order.")
            if any(line.packs > line.came for line in lines):
                self._save(head, lines)

    def _save(self, head: _Head, lines: list[_Line]) -> None:
        due = self._expected.get(head) or on_order.expected_on(self.desk, head.supplier_id, head.sent_on)
        terms = ordering.terms_of(self.desk, head.supplier_id)
        order_id = self.desk.add(
            Purchase(
                number=head.number or ordering.next_number(self.desk), supplier_id=head.supplier_id,
                state=OrderState.SENT, written_on=head.sent_on, sent_on=head.sent_on, expected_on=due,
                fee_cents=order_sum(terms, [line.packs * line.pack_cents for line in lines]).fee_cents,
                person_id=self.person_id,
            )
        )  # fmt: skip
        still = [line for line in lines if line.packs > line.came]
        self.desk.session.add_all(
            PurchaseLine(
                purchase_id=order_id, supply_id=line.supply.supply_id, packs=line.packs - line.came,
                units_per_pack=line.supply.units_per_pack, pack_cents=line.pack_cents, why=[],
            )
            for line in still
        )  # fmt: skip
        self.desk.session.flush()
        self.added += len(still)
        changes = {"state": (None, OrderState.SENT.value), "expected_on": (None, due)}
        self.desk.log_change(self.person_id, "purchase", order_id, changes, "import")
