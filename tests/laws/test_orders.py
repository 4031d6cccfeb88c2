"""Whatever happens to an order, in whatever order: nothing is received twice, nothing is lost, and on order is never
less than nothing.

A history of orders sent, deliveries (short, in full, too much, damaged, posted twice), undoings and givings-up is lived
on a store, and beside it a plain count is kept of what was ordered, what came and what was given up.
"""

import shutil
from collections import Counter
from contextlib import closing
from dataclasses import dataclass, field
from datetime import date
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from inventory.domain.vocabulary import OrderState
from inventory.errors import AlreadyDone, NotAllowed, NotFound
from inventory.service import catalogue, correcting, forecasting, ordering, orders, receiving, stock_views
from inventory.service.lots import UseBy
from inventory.service.ordering import Wanted
from inventory.service.practice import Practice
from inventory.service.receiving import Arrival, Delivery
from inventory.service.verifying import verify
from inventory.store.engine import Store, open_store
from tests.service.catalogue_samples import BY, SUPPLIER, TODAY, box, new_clock, stocked_practice
from tests.stores import fill

ITEMS = ("LIGHT-A", "HEAVY-A")
LATER = UseBy.on(date(2028, 12, 31))
PER_PACK = 2
STEP = st.one_of(
    st.tuples(st.just("send"), st.integers(1, 4), st.integers(0, 3)),
    st.tuples(st.just("receive"), st.integers(0, 1), st.integers(1, 5), st.integers(0, 3)),
    st.tuples(st.just("undo"), st.integers(0, 5)),
    st.tuples(st.just("close"), st.integers(0, 1)),
    st.tuples(st.just("cancel")),
)


@dataclass
class Lived:
    """What a person with a pencil would have written down, in units."""

    ordered: Counter[str] = field(default_factory=Counter)
    given_up: Counter[str] = field(default_factory=Counter)
    came: Counter[str] = field(default_factory=Counter)
    stock: Counter[str] = field(default_factory=Counter)

    def left(self, item: str) -> int:
        return max(0, self.ordered[item] - self.given_up[item] - self.came[item])


def build(store: Store) -> None:
    practice = stocked_practice(store)
    for item in ITEMS:
        catalogue.save_supply(practice, box(item, units_per_pack=PER_PACK), by=BY)


class History:
    """One order at a time; the next is sent when nothing is to come of the last."""

    def __init__(self, practice: Practice) -> None:
        self.practice = practice
        self.number = ""
        self.lived = Lived()
        self.standing: list[tuple[int, str, int]] = []  # deliveries that stand for the present order
        self.keys = 0

    def live(self, step: tuple[object, ...]) -> None:
        verb, *said = step
        if verb == "send":
            self.send(*said)  # type: ignore[arg-type]
        elif self.number:
            getattr(self, str(verb))(*said)

    def send(self, light: int, heavy: int) -> None:
        if self.number and orders.order(self.practice, self.number).state.open:
            return
        wanted = [Wanted(item, packs) for item, packs in zip(ITEMS, (light, heavy), strict=True)]
        self.number = ordering.draft(self.practice, SUPPLIER.name, wanted, by=BY).number
        ordering.send(self.practice, self.number, by=BY)
        self.lived = Lived(
            ordered=Counter({line.item: line.packs * PER_PACK for line in wanted}), stock=self.lived.stock
        )
        self.standing = []

    def receive(self, which: int, units: int, damaged: int) -> None:
        item, damaged = ITEMS[which], min(damaged, units)
        self.keys += 1
        arrival = Arrival(item=item, units=units, lot=f"L{self.keys}", use_by=LATER, damaged_units=damaged)
        slip = Delivery(supplier=SUPPLIER.name, lines=(arrival,), order=self.number)
        posted = []
        for _ in range(2):  # Enter pressed twice
            try:
                posted.append(
                    receiving.receive(self.practice, slip, by=BY, request_key=f"k{self.keys}", confirmed=True)
                )
            except NotAllowed:
                assert not orders.order(self.practice, self.number).state.open
        if not posted:
            return
        on_it = self.lived.ordered[item] > 0
        self.lived.came[item] += units - damaged if on_it else 0
        self.lived.stock[item] += units - damaged
        if units > damaged:
            self.standing.append((posted[0].document_id, item, units))

    def undo(self, which: int) -> None:
        if not self.standing:
            return
        document, item, _ = self.standing.pop(which % len(self.standing))
        self.keys += 1
        undone = correcting.undo(self.practice, document, reason="wrong", by=BY, request_key=f"k{self.keys}")
        units = -sum(line.qty for line in undone.lines) // 5000
        self.lived.came[item] -= units if self.lived.ordered[item] else 0
        self.lived.stock[item] -= units

    def close(self, which: int) -> None:
        item = ITEMS[which]
        left = self.lived.left(item)
        try:
            ordering.close_short(self.practice, self.number, item, reason="none left", by=BY)
        except (AlreadyDone, NotFound):
            assert left == 0 or not orders.order(self.practice, self.number).state.open
        else:
            self.lived.given_up[item] += -(-left // PER_PACK) * PER_PACK

    def cancel(self) -> None:
        if not orders.order(self.practice, self.number).state.open:
            return
        for item in ITEMS:
            self.lived.given_up[item] += -(-self.lived.left(item) // PER_PACK) * PER_PACK
        ordering.cancel(self.practice, self.number, reason="enough", by=BY)

    def check(self) -> None:
        """The store and the pencil agree."""
        with self.practice.reading() as desk:
            picture = forecasting.picture(desk)
            coming = Counter[str]()
            for one in picture.coming:
                assert one.qty > 0
                coming[picture.items[one.item_id].code] += one.qty // 5000
        stock = Counter[str]()
        for line in stock_views.lots(self.practice).lines:
            stock[line.item_code] += line.sealed_units
        assert stock == +self.lived.stock
        if self.number:
            order = orders.order(self.practice, self.number)
            open_now = {item: self.lived.left(item) for item in ITEMS} if order.state.open else {}
            assert coming == +Counter(open_now)
            assert (order.state is OrderState.PART) == (
                any(self.lived.came.values()) and any(self.lived.left(item) for item in ITEMS)
            )


@pytest.fixture(scope="module")
def start(sqlite_template: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A practice before any order, as a file to copy."""
    path = Path(shutil.copy(sqlite_template, tmp_path_factory.mktemp("orders") / "start.db"))
    fill(f"sqlite:///{path}", build)
    return path


@settings(max_examples=8, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(steps=st.lists(STEP, min_size=3, max_size=9))
def test_nothing_is_received_twice_and_nothing_is_lost(
    start: Path, tmp_path: Path, steps: list[tuple[object, ...]]
) -> None:
    """On SQLite alone; `tests/service/test_ordering.py` asks the same verbs of both stores."""
    path = tmp_path / "orders.db"
    for old in tmp_path.glob("orders.db*"):
        old.unlink()
    shutil.copy(start, path)
    with closing(open_store(str(path))) as store:
        history = History(Practice(store, new_clock(TODAY)))
        for step in [("send", 2, 1), *steps]:
            history.live(step)
            history.check()
        assert verify(history.practice).clean
