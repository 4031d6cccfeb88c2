"""The lines of a delivery while it is entered: what a line says, the dialog for one, and what the form offers."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Any

from inventory.domain.use_by import in_date
from inventory.domain.vocabulary import OrderState
from inventory.errors import BadInput, PracticeError
from inventory.service import catalogue, labels, orders, setting_up
from inventory.service.catalogue import ItemLine, SupplyCard
from inventory.service.labels import Scanned
from inventory.service.lots import UseBy, parse_use_by
from inventory.service.orders import Order
from inventory.service.practice import Practice
from inventory.service.receiving import Arrival
from tui import text as shown
from tui import workers
from tui.dialogs.ask import AskDialog
from tui.widgets.choice_field import ChoiceField
from tui.widgets.fields import Field, money_field, number_field, text_field
from tui.widgets.safe_input import SafeInput
from tui.workplace import Workplace

USE_BY_HINT = "2028-05-31, 2028-05, none, ?"


@dataclass(frozen=True)
class Offer:
    """What can be chosen while a delivery is entered."""

    suppliers: tuple[str, ...]
    items: tuple[ItemLine, ...]
    places: tuple[str, ...]
    supplies: tuple[SupplyCard, ...]
    orders: tuple[Order, ...] = ()

    def orders_of(self, supplier: str) -> list[tuple[str, str]]:
        """Orders of a supplier of which something is to come: number, and number with what."""
        return [(one.number, _to_come(one)) for one in self.orders if one.supplier == supplier]

    def waiting(self, order: str) -> list[tuple[str, str]]:
        """Items of an order that are still to come: code and name."""
        return [(line.code, line.name) for one in self.orders if one.number == order for line in one.waiting]

    def item(self, code: str) -> ItemLine:
        return next(item for item in self.items if item.code == code)

    def packs(self, supplier: str, code: str) -> tuple[int, ...]:
        """The pack sizes in which a supplier sells an item."""
        sold = {one.units_per_pack for one in self.supplies if one.item == code and one.supplier == supplier}
        return tuple(sorted(sold))

    def usual_supplier(self, code: str) -> str | None:
        """Who is asked first for an item."""
        sold = sorted((one for one in self.supplies if one.item == code), key=lambda one: not one.preferred)
        return next((one.supplier for one in sold if one.supplier in self.suppliers), None)


def offer(practice: Practice) -> Offer:
    """Read what can be chosen; runs in a thread."""
    state = setting_up.practice_state(practice)
    return Offer(
        tuple(card.draft.name for card in catalogue.suppliers(practice) if card.draft.active),
        catalogue.items(practice),
        tuple(place.name for place in state.places if place.active),
        catalogue.supplies(practice),
        orders.orders(practice, states=(OrderState.SENT, OrderState.PART), limit=None),
    )


def _to_come(order: Order) -> str:
    return f"{order.number}: {', '.join(f'{line.open_units} x {line.name}' for line in order.waiting)}"


def use_by_field(work: Workplace, *, text: str = "", needed: bool = False) -> Field[UseBy]:
    """The field for a use-by date as a label gives it; the note says what was understood."""
    today = work.today

    def tell(read: UseBy) -> str:
        said = shown.use_by(read.day, read.reading, work.formats)
        if read.day is None:
            return said
        return f"{said}, {shown.away(read.day, today)}{'' if in_date(read.day, today) else ': past'}"

    return Field(
        "Use by",
        lambda typed: parse_use_by(typed, today, work.order),
        text=text,
        tell=tell,
        needed=needed,
        hint=USE_BY_HINT,
        id="use-by",
    )


class LineDialog(AskDialog[Arrival]):
    """One line of a delivery: packs or loose units of one lot of an item.

    Where it came for an order, another price and the item it came in place of can be said too.
    """

    def __init__(self, offered: Offer, supplier: str, work: Workplace, line: Arrival, order: str = "") -> None:
        self._offered, self._supplier, self._line, self._work = offered, supplier, line, work
        names = [(item.code, f"{item.name} · {item.code}") for item in offered.items]
        self._item: ChoiceField[str] = ChoiceField(
            "Item", names, chosen=line.item or None, hint="type part of its name", id="item"
        )
        self._packs = number_field(
            "Packs", text=str(line.packs or ""), least=1, needed=False, hint="whole packs, or", id="packs"
        )
        self._units = number_field(
            "Loose units", text=str(line.units or ""), least=1, needed=False, hint="single units", id="units"
        )
        self._lot = text_field("Lot", text=line.lot, needed=False, hint="as on the label", id="lot")
        self._use_by = use_by_field(work, text=typed_use_by(line.use_by))
        self._damaged = number_field(
            "Damaged units", text=str(line.damaged_units or ""), needed=False, hint="not taken in", id="damaged"
        )
        place = next((name for name in offered.places if name == line.place), None)
        self._place: ChoiceField[str] = ChoiceField(
            "Place", [(name, name) for name in offered.places], chosen=place, needed=False,
            hint="as the whole delivery", id="place",
        )  # fmt: skip
        self._price = money_field(
            "Pack price",
            cents=line.pack_cents,
            formats=work.formats,
            needed=False,
            hint="empty: as ordered",
            id="price",
        )
        self._instead: ChoiceField[str] = ChoiceField(
            "In place of", offered.waiting(order), chosen=line.instead_of or None, needed=False,
            hint="another item of the order", id="instead",
        )  # fmt: skip
        fields: Sequence[Field[Any]] = (
            self._item, self._packs, self._units, self._lot, self._use_by, self._damaged, self._place,
            *((self._price, self._instead) if order else ()),
        )  # fmt: skip
        super().__init__("Line of the delivery", fields, self._arrival)
        self._item.add_class("-wide")

    def on_safe_input_scanned_into(self, event: SafeInput.ScannedInto) -> None:
        """A label scanned while the line is typed fills in what it says."""
        event.stop()
        practice, text = self._work.practice, event.label
        workers.run(self, lambda: labels.find(practice, text), self._fill, name="scan", failed=self._not_read)

    def _fill(self, scanned: Scanned) -> None:
        try:
            (line,), _, _ = labels.count_in((), scanned, self._packs_of(scanned))
        except BadInput as wrong:
            self._not_read(wrong)
            return
        self._item.choose(line.item)
        self._lot.fill(line.lot)
        self._use_by.fill(typed_use_by(line.use_by))
        if not self._packs.text and not self._units.text:
            (self._packs if line.packs else self._units).fill(str(line.packs or line.units))

    def _packs_of(self, scanned: Scanned) -> tuple[int, ...]:
        return self._offered.packs(self._supplier, scanned.item.code) if scanned.item else ()

    def _not_read(self, error: PracticeError) -> bool:
        self.notify(shown.clean(str(error)), title="Label not used", severity="warning", markup=False)
        return True

    def _arrival(self) -> Arrival:
        packs, units = self._packs.value or 0, self._units.value or 0
        if bool(packs) == bool(units):
            raise BadInput("Type either packs or loose units.", "The other one stays empty.")
        code = self._item.value or ""
        kept = self._line.contents if self._line.item == code else ()
        sizes = self._offered.packs(self._supplier, code)
        return replace(
            Arrival(item=code),
            packs=packs,
            units=units,
            pack_of=self._line.pack_of if self._line.item == code and self._line.pack_of in sizes else None,
            lot=self._lot.text,
            use_by=self._use_by.value,
            damaged_units=self._damaged.value or 0,
            place=self._place.value or "",
            contents=kept if packs else (),
            pack_cents=self._price.value,
            instead_of=self._instead.value or "",
        )


def typed_use_by(read: UseBy | None) -> str:
    """A use-by date as it could have been typed."""
    if read is None:
        return ""
    if read.day is None:
        return {"none_stated": "none", "not_read": "?"}[read.reading.value]
    return f"{read.day:%Y-%m}" if read.reading.value == "month" else read.day.isoformat()


def came(line: Arrival, offered: Offer, supplier: str) -> str:
    """How much came, in words: ``2 packs of 2``, ``3 units``."""
    if not line.packs:
        return shown.count(line.units, "unit")
    sizes = (line.pack_of,) if line.pack_of else offered.packs(supplier, line.item)
    return f"{shown.count(line.packs, 'pack')}{f' of {sizes[0]}' if len(sizes) == 1 else ''}"
