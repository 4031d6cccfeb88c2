"""Several practices looked at together: stock, what will expire, orders, and lots that another practice would use up.

Each practice has a store of its own, and this only reads them, one after the other; nothing is written anywhere. Which
articles are the same is known by a code that means them anywhere (article number, HIBC), else by the practices' own
code, and only where a unit holds the same. A transfer is proposed where carrying whole sealed units of a lot over is
expected to save money; each practice then posts its half by hand (`group_posting`).
"""

from collections import defaultdict
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import date, timedelta

from inventory.domain.courses import outlook
from inventory.domain.position import Position
from inventory.domain.shelf import Fate
from inventory.domain.transfers import PATHS, Shelved, best_transfer, less, part_of
from inventory.domain.vocabulary import BaseUnit, DocumentKind, OrderState
from inventory.errors import BadInput
from inventory.service import forecasting
from inventory.service.practice import Practice
from inventory.store.queries import group as query
from inventory.store.queries import planning, purchases
from inventory.store.queries.group import HalfLine
from inventory.store.queries.stock import Stand

LEAST_CENTS = 500  # a transfer that saves less is not worth anybody's way; own judgement, to be changed by whoever asks
DAYS = 2  # on its way; own judgement
MOST_PROPOSED = 50
Key = tuple[int, int]
"""An item of a practice: the practice's place in the list, and the item's number there."""


@dataclass(frozen=True, slots=True)
class AtPractice:
    """What one practice has of an article: usable and on order, in base units; its own code."""

    practice: str
    item: str
    usable: int
    arriving: int


@dataclass(frozen=True, slots=True)
class GroupItem:
    """An article over all practices; ``lost_cents`` is what is expected to expire of it anywhere."""

    name: str
    base: BaseUnit
    unit_qty: int
    unit_name: str
    at: tuple[AtPractice, ...]
    lost_cents: int

    @property
    def usable(self) -> int:
        return sum(one.usable for one in self.at)


@dataclass(frozen=True, slots=True)
class Expiring:
    """A lot of which something is expected to expire where it is; amounts in base units."""

    practice: str
    item: str
    name: str
    base: BaseUnit
    holding_id: int
    lot: str
    place: str
    last_day: date
    qty: int
    lost: int
    lost_cents: int


@dataclass(frozen=True, slots=True)
class GroupOrder:
    """An order that is not closed: of which practice, from whom, when it is expected."""

    practice: str
    number: str
    supplier: str
    state: OrderState
    expected_on: date | None


@dataclass(frozen=True, slots=True)
class Proposal:
    """So many sealed units of a lot to be carried from one practice to another, and what that gains, in cents.

    Attributes:
        reference: under which both would post their halves.
        holding_id: the stock number at the sender.
        item, taken_as: the article's code at the sender, and at the receiver.
    """

    reference: str
    sender: str
    receiver: str
    item: str
    taken_as: str
    name: str
    unit_name: str
    holding_id: int
    lot: str
    use_by: date
    units: int
    saved_cents: int
    added_cents: int

    @property
    def gain_cents(self) -> int:
        return self.saved_cents - self.added_cents


@dataclass(frozen=True, slots=True)
class OpenHalf:
    """A half of a transfer whose other half no practice of the group has posted."""

    reference: str
    practice: str
    sent: bool
    on: date
    words: str
    items: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Group:
    """Everything over all practices, most money first."""

    practices: tuple[str, ...]
    items: tuple[GroupItem, ...]
    expiring: tuple[Expiring, ...]
    orders: tuple[GroupOrder, ...]
    transfers: tuple[Proposal, ...]
    open_halves: tuple[OpenHalf, ...]

    @property
    def gain_cents(self) -> int:
        """What all proposed transfers are expected to gain together."""
        return sum(one.gain_cents for one in self.transfers)


@dataclass
class _Member:
    """A practice as it was read."""

    name: str
    today: date
    positions: dict[int, Position]
    unit_names: Mapping[int, str]
    stands: Mapping[str, Stand]
    codes: Mapping[int, frozenset[tuple[str, str]]]
    orders: tuple[GroupOrder, ...]
    halves: tuple[HalfLine, ...]

    def codes_of(self, item_id: int) -> list[tuple[object, ...]]:
        """What means an item anywhere, with the content of its unit."""
        return [(*code, *self._unit(item_id)) for code in sorted(self.codes.get(item_id, ()))]

    def names_of(self, item_id: int) -> list[tuple[object, ...]]:
        """What the practice itself calls it, with the content of its unit."""
        return [(self.positions[item_id].code, *self._unit(item_id))]

    def _unit(self, item_id: int) -> tuple[BaseUnit, int]:
        return self.positions[item_id].base, self.positions[item_id].unit_qty

    def shelved(self, item_id: int) -> Shelved:
        position = self.positions[item_id]
        return Shelved(position.parcels, position.demand, self.today, position.opened_life)


def look(
    practices: Sequence[tuple[str, Practice]],
    *,
    least_cents: int = LEAST_CENTS,
    days: int = DAYS,
    seed: int = 0,
    paths: int = PATHS,
) -> Group:
    """Look at several practices together.

    Args:
        practices: each with what to call it where its settings give it no code.
        least_cents: a transfer is proposed from this gain on.
        days: how long it is on its way.
        seed: of the drawn courses of use; the same seed gives the same answer.
        paths: number of courses.

    Raises:
        BadInput: none is named.
    """
    if not practices:
        raise BadInput("No practice is named.", "Give the addresses of their stores.")
    members = [_read(name, practice) for name, practice in practices]
    _tell_apart(members)
    same = _same_articles(members)
    fates = {key: _fates(members[key[0]].shelved(key[1]), seed, paths) for keys in same for key in keys}
    items = sorted((_item(members, keys, fates) for keys in same), key=lambda one: (-one.lost_cents, one.name))
    expiring = [line for key, found in fates.items() for line in _expiring(members[key[0]], key[1], found)]
    search = _Search(members, days=days, least_cents=least_cents, seed=seed, paths=paths)
    return Group(
        tuple(member.name for member in members),
        tuple(items),
        tuple(sorted(expiring, key=lambda one: (-one.lost_cents, one.last_day, one.holding_id))),
        tuple(order for member in members for order in member.orders),
        tuple(_numbered(members, [found for keys in same for found in search.of(keys)])),
        tuple(_open_halves(members)),
    )


def _read(name: str, practice: Practice) -> _Member:
    with practice.reading() as desk:
        picture = forecasting.picture(desk)
        bought = planning.preferred_supplies(desk.session, desk.today)
        called = desk.settings["practice_code"] or name
        waiting = (
            GroupOrder(called, row.number, row.supplier, row.state, row.expected_on)
            for row in purchases.orders(desk.session, states=purchases.OPEN)
        )
        return _Member(
            called, desk.today, forecasting.positions(desk, picture, bought),
            {number: item.unit_name for number, item in picture.items.items()},
            {str(stand.holding_id): stand for stand in picture.stands}, query.codes(desk.session),
            tuple(waiting), tuple(query.halves(desk.session)),
        )  # fmt: skip


def _tell_apart(members: Sequence[_Member]) -> None:
    """Refuse two of the same name: nobody could say which is meant.

    Raises:
        BadInput: there are such.
    """
    names = [member.name for member in members]
    if twice := {name for name in names if names.count(name) > 1}:
        raise BadInput(
            f"Two practices are called {', '.join(sorted(twice))}.",
            "Give each a code of its own: settings set practice_code NAME.",
        )


def _same_articles(members: Sequence[_Member]) -> list[list[Key]]:
    """Items that are the same article, at most one of each practice; what a code says goes before what we call it."""
    known: dict[tuple[object, ...], list[Key]] = {}
    found: list[list[Key]] = []
    for place, member in enumerate(members):
        waiting = sorted(member.positions, key=lambda item_id: member.positions[item_id].code)
        for names_of in (member.codes_of, member.names_of, None):
            for item_id in [*waiting]:
                names = names_of(item_id) if names_of else []
                keys = next((known[one] for one in names if one in known and place not in dict(known[one])), None)
                if keys is None and names_of is not None:
                    continue
                if keys is None:
                    found.append(keys := [])
                keys.append((place, item_id))
                waiting.remove(item_id)
                for one in (*member.codes_of(item_id), *member.names_of(item_id)):
                    known.setdefault(one, keys)
    return found


def _fates(shelf: Shelved, seed: int, paths: int) -> tuple[Fate, ...]:
    """What becomes of each parcel of a shelf; nothing where none has a date."""
    import numpy as np  # noqa: PLC0415 - heavy, and only needed here

    if not any(parcel.qty and parcel.use_by for parcel in shelf.parcels):
        return ()
    generator = np.random.default_rng(seed)
    return outlook(shelf.parcels, shelf.demand, shelf.today, shelf.life, generator=generator, paths=paths).fates


def _item(members: Sequence[_Member], keys: Sequence[Key], fates: Mapping[Key, tuple[Fate, ...]]) -> GroupItem:
    first = members[keys[0][0]].positions[keys[0][1]]
    return GroupItem(
        first.name, first.base, first.unit_qty, members[keys[0][0]].unit_names[keys[0][1]],
        tuple(_at(members[place], item_id) for place, item_id in keys),
        sum(fate.lost_cents for key in keys for fate in fates[key]),
    )  # fmt: skip


def _at(member: _Member, item_id: int) -> AtPractice:
    position = member.positions[item_id]
    good = [one for one in position.parcels if not one.held and (one.use_by is None or one.use_by >= member.today)]
    usable = sum(one.qty for one in good if one.arrives is None)
    return AtPractice(member.name, position.code, usable, sum(one.qty for one in good if one.arrives is not None))


def _expiring(member: _Member, item_id: int, fates: Iterable[Fate]) -> Iterator[Expiring]:
    position = member.positions[item_id]
    for fate in fates:
        stand = member.stands.get(fate.key)
        if fate.lost and stand is not None and stand.last_day is not None:
            yield Expiring(
                member.name, position.code, position.name, position.base, stand.holding_id, stand.lot_number,
                stand.place_name, stand.last_day, fate.qty, fate.lost, fate.lost_cents,
            )  # fmt: skip


@dataclass
class _Search:
    """Looks for transfers: the one that gains most, then the next on the shelves as they would be then."""

    members: Sequence[_Member]
    days: int
    least_cents: int
    seed: int
    paths: int
    shelves: dict[Key, Shelved] = field(default_factory=dict)

    def of(self, keys: Sequence[Key]) -> Iterator[Proposal]:
        """The transfers of one article."""
        if len(keys) < 2:
            return
        self.shelves = {(place, item_id): self.members[place].shelved(item_id) for place, item_id in keys}
        while (best := max(self._found(keys), key=lambda one: one[0].gain_cents, default=None)) is not None:
            yield best[0]
            self._carry(*best)

    def _found(self, keys: Sequence[Key]) -> Iterator[tuple[Proposal, Key, Key]]:
        for sender in keys:
            for parcel, stand in self._offered(sender):
                for receiver in keys:
                    if receiver != sender and (proposal := self._proposal(sender, receiver, parcel, stand)) is not None:
                        yield proposal, sender, receiver

    def _offered(self, key: Key) -> Iterator[tuple[str, Stand]]:
        """Sealed stacks that are dated, cost something, and are not used up for certain where they are."""
        member, shelf = self.members[key[0]], self.shelves[key]
        lost = {fate.key for fate in _fates(shelf, self.seed, self.paths) if fate.lost_cents}
        for parcel in shelf.parcels:
            stand = member.stands.get(parcel.key)
            if parcel.key in lost and stand is not None and stand.opened_on is None and stand.use_by is not None:
                yield parcel.key, stand

    def _proposal(self, sender: Key, receiver: Key, parcel: str, stand: Stand) -> Proposal | None:
        unit_qty = self.members[sender[0]].positions[sender[1]].unit_qty
        found = best_transfer(
            self.shelves[sender], self.shelves[receiver], parcel, unit_qty, days=self.days, seed=self.seed,
            paths=self.paths,
        )  # fmt: skip
        if found is None or found.gain_cents < self.least_cents or stand.use_by is None:
            return None
        giver, taker = self.members[sender[0]], self.members[receiver[0]]
        given, got = giver.positions[sender[1]], taker.positions[receiver[1]]
        return Proposal(
            "", giver.name, taker.name, given.code, got.code, given.name, giver.unit_names[sender[1]],
            stand.holding_id, stand.lot_number, stand.use_by, found.units, found.saved_cents, found.added_cents,
        )  # fmt: skip

    def _carry(self, proposal: Proposal, sender: Key, receiver: Key) -> None:
        """Look at the shelves from now on as they would be after the transfer."""
        giver, taker = self.shelves[sender], self.shelves[receiver]
        key = str(proposal.holding_id)
        parcel = next(one for one in giver.parcels if one.key == key)
        qty = proposal.units * self.members[sender[0]].positions[sender[1]].unit_qty
        arrives = taker.today + timedelta(days=self.days)
        carried = replace(part_of(parcel, qty), key=f"{sender[0]}: {key}", arrives=arrives)
        self.shelves[sender] = replace(giver, parcels=less(giver.parcels, key, qty))
        self.shelves[receiver] = replace(taker, parcels=(*taker.parcels, carried))


def _numbered(members: Sequence[_Member], proposals: Sequence[Proposal]) -> Iterator[Proposal]:
    """Proposals, most gain first, each with a reference that no practice has used."""
    used = {half.reference for member in members for half in member.halves}
    today = max(member.today for member in members)
    number = 0
    for proposal in sorted(proposals, key=lambda one: -one.gain_cents)[:MOST_PROPOSED]:
        number += 1
        while (reference := f"G-{today:%Y%m%d}-{number}") in used:
            number += 1
        yield replace(proposal, reference=reference)


def _open_halves(members: Sequence[_Member]) -> Iterator[OpenHalf]:
    """References that were sent under and not taken, or the other way round."""
    lines: dict[tuple[str, str, DocumentKind], list[HalfLine]] = defaultdict(list)
    for member in members:
        for half in member.halves:
            lines[half.reference, member.name, half.kind].append(half)
    kinds: dict[str, set[DocumentKind]] = defaultdict(set)
    for reference, _, kind in lines:
        kinds[reference].add(kind)
    for (reference, name, kind), halves in sorted(lines.items()):
        if len(kinds[reference]) == 1:
            items = tuple(f"{half.item}, lot {half.lot}" for half in halves)
            yield OpenHalf(reference, name, kind is DocumentKind.RETURN, halves[0].on, halves[0].words, items)
