"""What stands where: every place with its stock, the level of its own that an operatory has, and topping it up to that.

Topping up is one document that carries whole units from the store room, earliest expiry first. Doing it twice carries
nothing twice: the same request gives its first result again, and another one finds the level reached.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date

from inventory.domain import top_up as rules
from inventory.domain.ledger import Draft, Entry, Posting, Sealed, request_hash
from inventory.domain.quantity import show
from inventory.domain.top_up import Stack, TopUp
from inventory.domain.vocabulary import BaseUnit, DocumentKind, MovementKind, PlaceRole
from inventory.domain.words import clean
from inventory.errors import BadInput, NotAllowed, NotFound
from inventory.service import stock_views
from inventory.service.moving import Slip
from inventory.service.practice import Desk, Practice
from inventory.service.stock_views import LotLine
from inventory.store.ledger import already_posted, lock_lots, post
from inventory.store.queries import catalogue, history, people, stock
from inventory.store.queries import places as query
from inventory.store.queries.stock import Stand
from inventory.store.tables import Item, Place

MOST_UNITS = 10_000
VERB = "top up"
REASON = "topped up to its own level"


@dataclass(frozen=True, slots=True)
class PlaceLine:
    """One place and what stands there, in walk order.

    Attributes:
        items, lots: how many different ones stand there.
        blocked: lots of them on hold, recalled or past their date.
        levels: items for which the place has a level of its own; ``below``: those of which less is there.
        value_cents: of everything there that has a known price.
    """

    place_id: int
    name: str
    role: PlaceRole
    active: bool
    items: int
    lots: int
    blocked: int
    levels: int
    below: int
    value_cents: int


@dataclass(frozen=True, slots=True)
class Carried:
    """Units of one lot that are carried; ``amount`` in words."""

    holding_id: int
    lot_number: str
    from_place: str
    use_by: date | None
    units: int
    amount: str


@dataclass(frozen=True, slots=True)
class LevelLine:
    """One item with a level: in sealed units, what is there, what is carried, what the store room lacks."""

    item_id: int
    code: str
    name: str
    unit_name: str
    level: int
    there: int
    carried: tuple[Carried, ...]
    lacks: int


@dataclass(frozen=True, slots=True)
class PlaceStock:
    """All that stands at one place, in issue order within each item, and the levels of its own."""

    today: date
    name: str
    role: PlaceRole
    lines: tuple[LotLine, ...]
    levels: tuple[LevelLine, ...]


@dataclass(frozen=True, slots=True)
class ToppedUp:
    """What topping up carries or carried. ``document_id`` is None where nothing was posted."""

    place: str
    levels: tuple[LevelLine, ...]
    document_id: int | None = None
    again: bool = False

    @property
    def picks(self) -> tuple[tuple[LevelLine, Carried], ...]:
        """The pick list: what to take, line by line."""
        return tuple((line, one) for line in self.levels for one in line.carried)

    @property
    def lacking(self) -> tuple[LevelLine, ...]:
        """Items that stay below their level."""
        return tuple(line for line in self.levels if line.lacks)


def places(practice: Practice) -> tuple[PlaceLine, ...]:
    """Every place, in walk order; those not in use any more last."""
    seen = stock_views.lots(practice).lines
    with practice.reading() as desk:
        stands = stock.stands(desk.session)
        found = []
        for place in sorted(people.places(desk.session), key=lambda place: not place.active):
            there = [line for line in seen if line.place_id == place.id]
            below = [line for line in _planned(desk, place, stands) if line.level > line.there]
            found.append(
                PlaceLine(
                    place_id=place.id or 0, name=place.name, role=place.role, active=place.active,
                    items=len({line.item_id for line in there}), lots=len({line.lot_id for line in there}),
                    blocked=len({line.lot_id for line in there if not line.state.usable}),
                    levels=len(query.levels(desk.session, place.id or 0)), below=len(below),
                    value_cents=sum(line.value_cents or 0 for line in there),
                )
            )  # fmt: skip
        return tuple(found)


def place(practice: Practice, name: str) -> PlaceStock:
    """What stands at one place.

    Raises:
        NotFound: there is no such place.
    """
    lines = stock_views.lots(practice, place=name).lines
    with practice.reading() as desk:
        row = desk.place(name)
        levels = tuple(_level_lines(desk, _planned(desk, row, stock.stands(desk.session)), row))
        return PlaceStock(desk.today, row.name, row.role, lines, levels)


def set_level(practice: Practice, place: str, item: str, units: int, *, by: str, reason: str = "") -> LevelLine:
    """Say to how many sealed units of an item a place is topped up; 0: it has no level of its own any more.

    Raises:
        NotFound: no such place or item.
        NotAllowed: the place is no operatory.
        BadInput: no sensible number.
    """
    if not 0 <= units <= MOST_UNITS:
        raise BadInput(f"units: {units} can't be.", f"Type 0 to {MOST_UNITS}.")
    with practice.writing() as desk:
        person_id, row = desk.person(by), _chair(desk, place)
        found = catalogue.item_by_code(desk.session, item.strip().upper())
        if found is None:
            raise NotFound(f"There is no item {item!r}.", "Look it up in the list of items.")
        before = query.set_level(desk.session, found.id or 0, row.id or 0, units)
        changes = {f"level at {row.name}"[:40]: (before or None, units or None)}
        desk.log_change(person_id, "item", found.id, changes, clean(reason, "reason", 500, needed=False))
        planned = [one for one in _planned(desk, row, stock.stands(desk.session)) if one.item_id == found.id]
        lines = list(_level_lines(desk, planned, row))
        return lines[0] if lines else LevelLine(found.id or 0, found.code, found.name, found.unit_name, 0, 0, (), 0)


def plan(practice: Practice, place: str) -> ToppedUp:
    """What topping up would carry now, and what lacks; nothing is posted.

    Raises:
        NotFound: there is no such place.
        NotAllowed: it is no operatory, or has no level of its own.
    """
    with practice.reading() as desk:
        row = _chair(desk, place)
        found = _planned(desk, row, stock.stands(desk.session))
        _check_levels(row, found)
        return ToppedUp(row.name, tuple(_level_lines(desk, found, row)))


def top_up(practice: Practice, place: str, slip: Slip) -> ToppedUp:
    """Carry what a place lacks from the store room, all in one document.

    Raises:
        BadInput: another day than today, unknown initials.
        NotFound: there is no such place.
        NotAllowed: it is no operatory, or has no level of its own.
    """
    if not slip.request_key.strip() or len(slip.request_key) > 64:
        raise BadInput("request key: 1 to 64 characters.", "Start the form again.")
    hashed = request_hash(VERB, {"place": place.strip().casefold(), "by": slip.by, "reason": slip.reason})
    with practice.writing() as desk:
        if slip.on is not None and slip.on != desk.today:
            raise BadInput(f"date: {slip.on} is not today.", "Move what was carried on another day, lot by lot.")
        row = _chair(desk, place)
        person_id = desk.person(slip.by)
        if (before := already_posted(desk.session, slip.request_key, hashed)) is not None:
            (document_id,) = before.documents.values()
            return _again(desk, row, document_id)
        found, picked = _locked(desk, row)
        _check_levels(row, found)
        levels = tuple(_level_lines(desk, found, row))
        if not picked:
            return ToppedUp(row.name, levels)
        draft = Draft(DocumentKind.TRANSFER, picked, reason=clean(slip.reason, "reason", 500, needed=False) or REASON)
        posting = Posting(slip.request_key, hashed, person_id, desk.now, desk.now, desk.today, (draft,))
        return ToppedUp(row.name, levels, post(desk.session, posting).documents[0])


def _again(desk: Desk, row: Place, document_id: int) -> ToppedUp:
    """The first result of a request that comes again: what it carried, as the document has it."""
    lines = history.lines(desk.session, [document_id])[document_id]
    levels: dict[int, LevelLine] = {}
    for line in lines:
        if line.qty < 0:
            use_by = stock.stands_of(desk.session, [line.holding_id])[line.holding_id].use_by
            one = Carried(
                line.holding_id, line.lot_number, line.place, use_by, -line.qty // line.unit_qty,
                show(-line.qty, line.base),
            )  # fmt: skip
            known = levels.get(line.item_id)
            carried = (*known.carried, one) if known else (one,)
            levels[line.item_id] = LevelLine(line.item_id, line.item_code, line.item_name, "", 0, 0, carried, 0)
    return ToppedUp(row.name, tuple(levels.values()), document_id, again=True)


def _locked(desk: Desk, row: Place) -> tuple[tuple[TopUp, ...], tuple[Entry, ...]]:
    """What is carried, decided again once the lots are locked: a colleague may have taken some meanwhile."""
    first = _planned(desk, row, stock.stands(desk.session))
    stands = stock.stands_of(desk.session, [pick.holding_id for one in first for pick in one.picks])
    lock_lots(desk.session, sorted({stand.lot_id for stand in stands.values()}))
    desk.session.expire_all()
    found = _planned(desk, row, stock.stands(desk.session))
    now = {stand.holding_id: stand for stand in stock.stands(desk.session)}
    entries: list[Entry] = []
    for one in found:
        for pick in one.picks:
            stand = now[pick.holding_id]
            qty = pick.units * stand.unit_qty
            entries.append(Entry(stand.holding_id, MovementKind.TRANSFER, -qty))
            entries.append(Entry(Sealed(stand.lot_id, row.id or 0), MovementKind.TRANSFER, qty))
    return found, tuple(entries)


def _chair(desk: Desk, name: str) -> Place:
    row = desk.place(name)
    if row.role is not PlaceRole.CHAIR or not row.active:
        raise NotAllowed(f"place: {row.name} is no operatory in use.", "Only an operatory is topped up: choose one.")
    return row


def _check_levels(row: Place, found: Sequence[TopUp]) -> None:
    if not found:
        raise NotAllowed(f"{row.name} has no levels of its own.", "Set a level for an item there first.")


def _planned(desk: Desk, row: Place, stands: Iterable[Stand]) -> tuple[TopUp, ...]:
    levels = {item_id: units for item_id, (*_, units) in query.levels(desk.session, row.id or 0).items()}
    if not levels:
        return ()
    order = {place.id: place.walk_order for place in people.places(desk.session)}
    stacks = [(stand, _stack(stand, order.get(stand.place_id, 0))) for stand in stands if stand.opened_on is None]
    there = [stack for stand, stack in stacks if stand.place_id == row.id]
    store = [stack for stand, stack in stacks if stand.place_role is PlaceRole.STORE]
    return rules.top_up(levels, there, store, desk.today)


def _stack(stand: Stand, walk_order: int) -> Stack:
    return Stack(
        stand.holding_id, stand.item_id, stand.on_hand // stand.unit_qty, stand.last_day,
        stand.blocked is not None, stand.first_received_on, walk_order,
    )  # fmt: skip


def _level_lines(desk: Desk, found: Sequence[TopUp], row: Place) -> Iterable[LevelLine]:
    known = query.levels(desk.session, row.id or 0)
    stands = stock.stands_of(desk.session, [pick.holding_id for one in found for pick in one.picks])
    for one in found:
        code, name, unit, _ = known[one.item_id]
        base = desk.session.get_one(Item, one.item_id).base
        carried = tuple(_carried(stands[pick.holding_id], pick.units, unit, base) for pick in one.picks)
        yield LevelLine(one.item_id, code, name, unit, one.level, one.there, carried, one.lacks)


def _carried(stand: Stand, units: int, unit: str, base: BaseUnit) -> Carried:
    amount = show(units, base) if base is BaseUnit.PIECE else f"{units} {unit}{'s' if units != 1 else ''}"
    return Carried(stand.holding_id, stand.lot_number, stand.place_name, stand.use_by, units, amount)
