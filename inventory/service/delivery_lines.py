"""The lines of a delivery, read beside the catalogue: which lots, how many sound units, which further articles.

A person counts packs or loose units, reads lot numbers and dates where there are any, and sees what is damaged. From
that and from what each pack holds follow the lines to be posted; whatever can't be is collected, line by line.
"""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, replace
from datetime import date, time
from functools import partial

from inventory.domain.catalogue import MOST_CENTS, MOST_UNITS, Fault, caught, refuse
from inventory.domain.vocabulary import PlaceRole
from inventory.domain.words import STANDING, clean
from inventory.errors import BadInput
from inventory.service.lots import NONE_STATED, NOT_READ, LotWords, UseBy, check_dates
from inventory.service.practice import Desk
from inventory.store.queries import catalogue, people
from inventory.store.queries.catalogue import SupplyRow
from inventory.store.tables import Item, Place, Supplier


@dataclass(frozen=True, slots=True, kw_only=True)
class PackArticle:
    """The lot of a further article of the packs; where it isn't said it is a house lot, or the item's standing lot."""

    item: str
    lot: str = ""
    use_by: UseBy | None = None
    made_on: date | None = None
    damaged_units: int = 0


@dataclass(frozen=True, slots=True, kw_only=True)
class Arrival:
    """One line of a delivery: so many packs, or so many units, of one lot of an item.

    Attributes:
        item: the item's code.
        packs: whole packs that came, broken ones included; their further articles come with them.
        units: loose units that came instead; one of both is given.
        pack_of: units in the pack, where the supplier sells several; names the price for loose units too.
        lot: the number on the label; empty for a house number, or for an item without lots.
        use_by: None: not read yet (an item without lots: none stated).
        made_on: where the label says so.
        place: empty: the delivery's.
        damaged_units: how many of the units came damaged; they are noted and not received.
        pack_cents: another price than the catalogue's.
        contents: the lots of further articles in the packs.
        instead_of: the code of the ordered item that this came in place of.
    """

    item: str
    packs: int = 0
    units: int = 0
    pack_of: int | None = None
    lot: str = ""
    use_by: UseBy | None = None
    made_on: date | None = None
    place: str = ""
    damaged_units: int = 0
    pack_cents: int | None = None
    contents: tuple[PackArticle, ...] = ()
    instead_of: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Delivery:
    """A delivery as it is entered; ``received_on`` None is today, ``place`` empty the first store room.

    ``at`` is the time of that day, where it matters: the shelf was counted on it.

    ``order`` is the number of the order it came for, empty where there was none.
    """

    supplier: str
    lines: tuple[Arrival, ...]
    received_on: date | None = None
    slip_no: str = ""
    place: str = ""
    order: str = ""
    at: time | None = None


@dataclass(frozen=True, slots=True)
class SlipLine:
    """One line worked out: the item, sound and damaged units, and what is known of the lot.

    ``arrival`` is the line as it was entered, None for a further article of its packs. ``order_line_id`` is the line of
    an order it came for, and ``settles`` how many of that line's units it brings.
    """

    item: Item
    units: int
    damaged: int
    number: str
    use_by: UseBy
    made_on: date | None
    place_id: int
    units_per_pack: int
    pack_cents: int | None
    arrival: Arrival | None = None
    order_line_id: int | None = None
    settles: int = 0

    @property
    def ours(self) -> bool:
        return self.number in ("", STANDING)

    def words(self, house_number: str) -> LotWords:
        number = self.number or house_number
        return LotWords(self.item.id or 0, number, self.use_by, self.item.unit_qty, self.ours, self.made_on)


def read_lines(desk: Desk, supplier: Supplier, received_on: date, delivery: Delivery) -> tuple[SlipLine, ...]:
    """All lines of a delivery, with the further articles of their packs.

    Raises:
        BadInput: every fault, with its line and field.
    """
    return tuple(_Reader(desk, supplier, received_on, delivery).lines())


class _Reader:
    """Reads the lines of a delivery beside the catalogue; collects every fault."""

    def __init__(self, desk: Desk, supplier: Supplier, received_on: date, delivery: Delivery) -> None:
        self._supplier, self._on, self._delivery = supplier, received_on, delivery
        self._items = {row.code: row for row in catalogue.items(desk.session)}
        self._by_id = {row.id or 0: row for row in self._items.values()}
        self._places = {place.name.casefold(): place for place in people.places(desk.session) if place.active}
        self._supplies = [
            row
            for row in catalogue.supplies(desk.session, [row.id or 0 for row in self._named_items()])
            if row.supplier_id == supplier.id
        ]
        self._faults: list[Fault] = []

    def _named_items(self) -> Iterable[Item]:
        codes = {line.item.strip().upper() for line in self._delivery.lines}
        return (self._items[code] for code in codes if code in self._items)

    def lines(self) -> list[SlipLine]:
        """All lines with the further articles of their packs.

        Raises:
            BadInput: every fault, with its line and field.
        """
        if not self._delivery.lines:
            raise BadInput("Nothing was delivered.", "Add a line.")
        found = [made for number, line in enumerate(self._delivery.lines, 1) for made in self._read(number, line)]
        refuse(self._faults)
        return found

    def _read(self, number: int, line: Arrival) -> Iterator[SlipLine]:
        where = f"line {number}"
        item = self._items.get(line.item.strip().upper())
        if item is None or not item.active:
            known = "there is no item" if item is None else "it was taken out of the catalogue:"
            self._fault(where, "item", f"{known} {line.item!r}")
            return
        supply = self._supply(where, line, item)
        place_id = self._place(where, line.place or self._delivery.place)
        came = line.units or line.packs * (supply.units_per_pack if supply else line.pack_of or 0)
        lot = PackArticle(
            item=item.code, lot=line.lot, use_by=line.use_by, made_on=line.made_on, damaged_units=line.damaged_units
        )
        per_pack = supply.units_per_pack if supply else 1
        main = self._line(where, item, came, lot, place_id=place_id, units_per_pack=per_pack)
        yield replace(main, pack_cents=self._price(where, line, supply), arrival=line)
        yield from self._contents(where, line, supply if line.packs else None, place_id)

    def _supply(self, where: str, line: Arrival, item: Item) -> SupplyRow | None:
        """The pack that is meant: its price of the day, or the first one known where all prices are later."""
        if (line.packs > 0) == (line.units > 0) or min(line.packs, line.units) < 0:
            self._fault(where, "quantity", "give either packs or loose units, above 0")
            return None
        sold = [row for row in self._supplies if row.item_id == item.id and line.pack_of in (None, row.units_per_pack)]
        sizes = sorted({row.units_per_pack for row in sold})
        if len(sizes) == 1:
            by_day = sorted(sold, key=lambda row: row.valid_from)
            in_force = [row for row in by_day if row.valid_from <= self._on]
            return in_force[-1] if in_force else by_day[0]
        if line.packs and sizes:
            self._fault(where, "pack", f"sold in packs of {', '.join(map(str, sizes))}: say which")
        elif line.packs or line.pack_of is not None:
            self._fault(where, "pack", f"{self._supplier.name} sells no such pack of {item.code}; give loose units")
        return None

    def _price(self, where: str, line: Arrival, supply: SupplyRow | None) -> int | None:
        """The price of a pack on the slip, else the catalogue's for so many packs."""
        if line.pack_cents is None:
            lower = [cents for start, cents in supply.breaks if start <= line.packs] if supply else []
            return lower[-1] if lower else supply.pack_cents if supply else None
        if not 0 <= line.pack_cents <= MOST_CENTS:
            self._fault(where, "price", f"{line.pack_cents} cents can't be a price")
        return line.pack_cents

    def _contents(self, where: str, line: Arrival, supply: SupplyRow | None, place_id: int) -> Iterator[SlipLine]:
        said = {article.item.strip().upper(): article for article in line.contents}
        for item_id, units in supply.contents if supply else ():
            item = self._by_id[item_id]
            lot = said.pop(item.code, PackArticle(item=item.code))
            came = line.packs * units
            yield self._line(f"{where}, {item.code}", item, came, lot, place_id=place_id, units_per_pack=units)
        for code in said:
            self._fault(where, "contents", f"{code} is not in these packs")

    def _line(
        self, where: str, item: Item, came: int, lot: PackArticle, *, place_id: int, units_per_pack: int
    ) -> SlipLine:
        number = self._number(where, lot)
        if came > MOST_UNITS or not 0 <= lot.damaged_units <= came:
            self._fault(where, "quantity", f"{came} units with {lot.damaged_units} damaged can't be")
        bare = not number and lot.use_by in (None, NONE_STATED)
        if not item.has_lots and bare:
            number = STANDING
        use_by = lot.use_by or (NOT_READ if item.has_lots or not bare else NONE_STATED)
        if fault := check_dates(use_by, lot.made_on, self._on):
            self._fault(where, "use-by", fault)
        return SlipLine(
            item,
            came - lot.damaged_units,
            lot.damaged_units,
            number,
            use_by,
            lot.made_on,
            place_id,
            units_per_pack,
            None,
        )

    def _number(self, where: str, lot: PackArticle) -> str:
        faults: list[Fault] = []
        number = caught(faults, "lot", partial(clean, lot.lot, "lot", 60, needed=False), "")
        self._faults += [Fault(f"{where}, lot", fault.message) for fault in faults]
        return number

    def _place(self, where: str, name: str) -> int:
        place: Place | None
        if name.strip():
            place = self._places.get(name.strip().casefold())
        else:
            place = next((one for one in self._places.values() if one.role is PlaceRole.STORE), None)
        if place is None:
            known = ", ".join(one.name for one in self._places.values())
            self._fault(where, "place", f"there is no place {name!r}; known are: {known or 'none yet'}")
            return 0
        return place.id or 0

    def _fault(self, where: str, field: str, message: str) -> None:
        self._faults.append(Fault(f"{where}, {field}", message))
