"""What a round of counting is about: its scope, and the shelves in it with what was read of each so far.

A shelf is a holding: the sealed stack of a lot at a place, or one opened unit. What was found where the book had
nothing has no holding yet. It may get one while the round goes on, because somebody books what was not booked yet: a
delivery makes the stack, a visit opens the cartridge. Then what was found and what was booked are one shelf, not two.
"""

from collections.abc import Collection, Iterable, Mapping
from dataclasses import dataclass, replace
from datetime import date, datetime
from typing import Any

from inventory.domain.counting import ShelfFacts
from inventory.domain.vocabulary import CountMethod, ItemKind
from inventory.errors import BadInput, NotFound
from inventory.service.practice import Desk
from inventory.store.queries import counting as query
from inventory.store.queries import people, planning, stock
from inventory.store.queries.stock import Stand
from inventory.store.tables import CountLine, CountRound, Item, Lot, Place

FOUND = "f"  # how the key of what was found begins


@dataclass(frozen=True, slots=True)
class Scope:
    """What is counted: at these places (none named: everywhere), of these groups (none named: everything)."""

    places: tuple[str, ...] = ()
    kinds: tuple[ItemKind, ...] = ()
    families: tuple[str, ...] = ()
    items: tuple[str, ...] = ()

    @property
    def whole(self) -> bool:
        return not (self.places or self.kinds or self.families or self.items)


@dataclass(frozen=True, slots=True)
class Shelf:
    """One shelf of a round.

    Attributes:
        key: the stock's number, or, of what was found, "f" and the number of its first reading.
        stand: as the book has it; None where it has nothing.
        head: the newest reading, which may be one that withdrew another; None where it was not read.
        facts: what a reading has to know.
    """

    key: str
    stand: Stand | None
    head: CountLine | None
    lot: Lot
    item: Item
    place: Place
    opened_on: date | None
    facts: ShelfFacts

    @property
    def reading(self) -> CountLine | None:
        """The reading that counts."""
        return self.head if self.head is not None and self.head.method is not CountMethod.WITHDRAWN else None

    @property
    def holding_id(self) -> int | None:
        return self.stand.holding_id if self.stand else None


@dataclass(frozen=True, slots=True)
class _Chain:
    """A reading with what it replaced: the first and when it was taken, and the newest."""

    first_id: int
    first_at: datetime
    head: CountLine


class Reach:
    """A scope looked at: which places and items it takes in; ``like``: one that was looked at just now, if any."""

    def __init__(self, desk: Desk, stored: Mapping[str, Any], like: "Reach | None" = None) -> None:
        self.stored = stored
        self.every_place: Mapping[int | None, Place] = (
            like.every_place if like else {place.id: place for place in people.places(desk.session)}
        )
        self.every_item: Mapping[int, Item] = like.every_item if like else planning.items(desk.session)
        self.places: frozenset[int] = frozenset(
            stored.get("places") or (number for number in self.every_place if number)
        )
        self.items = frozenset(number for number, item in self.every_item.items() if self._takes(item))

    def _takes(self, item: Item) -> bool:
        kinds, families, items = (self.stored.get(group, ()) for group in ("kinds", "families", "items"))
        return not (kinds or families or items) or item.kind in kinds or item.family in families or item.id in items

    def takes(self, item_id: int, place_id: int) -> bool:
        """Whether what stands of an item at a place is counted."""
        return item_id in self.items and place_id in self.places

    def meets(self, other: "Reach") -> bool:
        """Whether a shelf could be in both."""
        return bool(self.places & other.places) and bool(self.items & other.items)

    @property
    def scope(self) -> Scope:
        """As it was asked for, by names."""
        stored = self.stored
        return Scope(
            tuple(self.every_place[number].name for number in stored.get("places", ())),
            tuple(ItemKind(kind) for kind in stored.get("kinds", ())),
            tuple(stored.get("families", ())),
            tuple(self.every_item[number].code for number in stored.get("items", ())),
        )


def stored_scope(desk: Desk, scope: Scope) -> dict[str, list[Any]]:
    """A scope as the store keeps it.

    Raises:
        NotFound: no such place or item.
        BadInput: no item has such a family.
    """
    items = planning.items(desk.session)
    by_code = {item.code: number for number, item in items.items()}
    families = {item.family.casefold(): item.family for item in items.values() if item.family}
    for code in scope.items:
        if code.strip().upper() not in by_code:
            raise NotFound(f"There is no item {code!r}.", "Look it up in the list of items.")
    for family in scope.families:
        if family.strip().casefold() not in families:
            known = ", ".join(sorted(families.values())) or "none yet"
            raise BadInput(f"family: no item is of {family!r}.", f"Known are: {known}.")
    return {
        "places": [desk.place(name).id for name in dict.fromkeys(scope.places)],
        "kinds": [kind.value for kind in dict.fromkeys(scope.kinds)],
        "families": [families[family.strip().casefold()] for family in dict.fromkeys(scope.families)],
        "items": [by_code[code.strip().upper()] for code in dict.fromkeys(scope.items)],
    }


def facts_of(item: Item, lot: Lot, opened_on: date | None) -> ShelfFacts:
    """What a reading has to know of a shelf of this lot."""
    return ShelfFacts(
        item.base, lot.unit_qty, item.unit_name, opened_on is not None, item.tare_mg, item.density_mg_per_ml
    )


def shelves_of(desk: Desk, row: CountRound) -> tuple[Shelf, ...]:
    """Every shelf of a round in the order in which it is walked: what the book has there, and what was read or found.

    By place, item, lot; in each lot the sealed stack, then the opened units, the oldest first.
    """
    chains = _chains(query.readings(desk.session, [row.id or 0]))
    by_holding = {chain.head.holding_id: chain for chain in chains if chain.head.holding_id is not None}
    stands = {stand.holding_id: stand for stand in _there(desk, row)}
    read = set(by_holding) - set(stands)
    stands |= stock.stands_of(desk.session, read) if read else {}
    found = [chain for chain in chains if chain.head.holding_id is None]
    standing = [chain for chain in found if chain.head.method is not CountMethod.WITHDRAWN]
    matched = _matched(desk, standing, {key: stand for key, stand in stands.items() if key not in by_holding})
    taken = {stand.holding_id for stand in matched.values()}
    rows: list[tuple[str, Stand | None, CountLine | None, int, int, date | None]] = [
        (str(number), stand, _head(by_holding.get(number)), stand.lot_id, stand.place_id, stand.opened_on)
        for number, stand in stands.items()
        if number not in taken and (stand.on_hand or by_holding[number].head.method is not CountMethod.WITHDRAWN)
    ]
    for chain in standing:
        line = chain.head
        rows.append(
            (f"{FOUND}{chain.first_id}", matched.get(chain.first_id), line, line.lot_id, line.place_id, line.opened_on)
        )
    return _in_order(desk, rows)


def _there(desk: Desk, row: CountRound) -> list[Stand]:
    reach = Reach(desk, row.scope)
    item_ids = reach.items
    return [stand for stand in stock.stands(desk.session, item_ids) if reach.takes(stand.item_id, stand.place_id)]


def _head(chain: _Chain | None) -> CountLine | None:
    return chain.head if chain else None


def _chains(lines: Iterable[CountLine]) -> tuple[_Chain, ...]:
    """Readings with those that replaced them, in the order of their first."""
    chains: dict[int, _Chain] = {}
    first_of: dict[int, int] = {}
    for line in lines:
        number = line.id or 0
        first = first_of.get(line.replaces_id or 0, number)
        first_of[number] = first
        chains[first] = replace(chains[first], head=line) if first in chains else _Chain(first, line.counted_at, line)
    return tuple(chains.values())


def _matched(desk: Desk, found: Collection[_Chain], unread: Mapping[int, Stand]) -> dict[int, Stand]:
    """Of what was found, by its first reading: the shelf that came onto the book for it since."""
    if not found:
        return {}
    stacks = query.sealed_stacks(desk.session, {chain.head.lot_id for chain in found})
    matched = stock.stands_of(desk.session, list(stacks.values()))
    result: dict[int, Stand] = {}
    for chain in found:
        number = stacks.get((chain.head.lot_id, chain.head.place_id))
        if chain.head.opened_on is None and number is not None:
            result[chain.first_id] = matched[number]
    opened = [stand for stand in unread.values() if stand.opened_on is not None]
    came = query.first_booked(desk.session, [stand.holding_id for stand in opened])
    for chain in found:
        if chain.head.opened_on is not None:
            used = {stand.holding_id for stand in result.values()}
            same = [
                stand
                for stand in opened
                if stand.holding_id not in used and _same(chain, stand, came[stand.holding_id])
            ]
            if same:
                result[chain.first_id] = min(same, key=lambda stand: stand.opened_on != chain.head.opened_on)
    return result


def _same(chain: _Chain, stand: Stand, came: datetime) -> bool:
    """Whether an opened unit that was found is the one that came onto the book after it was first read."""
    return (stand.lot_id, stand.place_id) == (chain.head.lot_id, chain.head.place_id) and came > chain.first_at


def _in_order(
    desk: Desk, rows: list[tuple[str, Stand | None, CountLine | None, int, int, date | None]]
) -> tuple[Shelf, ...]:
    lots = query.lots(desk.session, {lot for _, _, _, lot, _, _ in rows})
    items = planning.items(desk.session, {lot.item_id for lot in lots.values()})
    places = {place.id: place for place in people.places(desk.session)}
    shelves = [
        Shelf(
            key, stand, head, lots[lot_id], items[lots[lot_id].item_id], places[place_id], opened_on,
            facts_of(items[lots[lot_id].item_id], lots[lot_id], opened_on),
        )
        for key, stand, head, lot_id, place_id, opened_on in rows
    ]  # fmt: skip
    return tuple(sorted(shelves, key=_walk))


def _walk(shelf: Shelf) -> tuple[object, ...]:
    return (
        shelf.place.walk_order, shelf.place.name, shelf.item.name, shelf.item.id or 0, shelf.lot.use_by or date.max,
        shelf.lot.number, shelf.lot.id or 0, shelf.opened_on or date.min, shelf.holding_id or 2**62, shelf.key,
    )  # fmt: skip
