"""Which lots serve what a visit needs.

A visit asks for loads: the tray load of the upper arch, its wash, a tip, a tray. The shelf offers stacks: opened
cartridges with something left in them, and sealed ones of several lots, at the chair and in the store room. Two rules
of the trade decide who serves whom, and they pull against each other:

* *Earliest expiry first* (WHO good distribution practices, Annex 5: stock with the earliest expiry date is used before
  an identical item with a later one): at the visit's place opened units still in life, then the earliest effective
  use-by, then the earliest receipt, undated stock last; then the store room in the same order.
* *One load comes from one cartridge*: two cartridges for one load mean a second mixing tip, a second purge and a seam
  of half-set material. So the first unit in issue order **that can finish the load** is taken, and a smaller rest stays
  for a smaller step, unless the practice allows the material to be split or no cartridge is large enough.

A load of material is served whole or not at all, for half a load makes no impression; pieces are served as far as they
go. Stock on hold, recalled or past its effective use-by is never proposed. Substitutes come in only where the preferred
article can't serve, wherever it stands.
"""

from collections.abc import Hashable, Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from datetime import date, timedelta
from typing import Generic, TypeVar

from inventory.domain.use_by import effective_use_by, in_date
from inventory.domain.vocabulary import LateReason

K = TypeVar("K", bound=Hashable)


@dataclass(frozen=True, slots=True)
class Stack:
    """One holding on offer: the sealed stack of a lot at a place, or one opened unit.

    Attributes:
        qty: what is there, in base units.
        unit_qty: content of one sealed unit, in base units (1 for pieces).
        first_received_on: first receipt of the lot.
        use_by: the lot's last day of use, None where none is stated or read.
        opened_on: day the unit was opened, None for a sealed stack.
        opened_days: days an opened unit stays usable, None where nothing is stated.
        at_place: stands at the visit's place; False for the store room.
        blocked: on hold or recalled.
        place: the chair where it stands, for visits at several places; None for the store room, offered to all.
        arrives: the day it is expected, for stock on order; None for what is there.
        back_after: days after which a piece is there again once it was used: a reusable tray; None for single use.
    """

    holding_id: int
    lot_id: int
    item_id: int
    qty: int
    unit_qty: int
    first_received_on: date
    use_by: date | None = None
    opened_on: date | None = None
    opened_days: int | None = None
    at_place: bool = True
    blocked: LateReason | None = None
    place: int | None = None
    arrives: date | None = None
    back_after: int | None = None

    @property
    def last_day(self) -> date | None:
        """Effective use-by: the earlier of the lot's date and the end of the opened life."""
        return effective_use_by(self.use_by, self.opened_on, self.opened_days)

    def late_reason(self, today: date) -> LateReason | None:
        """Why this stack may not be used today; None where it may."""
        return self.blocked or (None if in_date(self.last_day, today) else LateReason.EXPIRED)

    def usable(self, today: date) -> bool:
        """Whether anything is there that may be used today."""
        here = self.arrives is None or self.arrives <= today
        return self.qty > 0 and here and self.late_reason(today) is None


@dataclass(frozen=True, slots=True)
class Load(Generic[K]):
    """One line of the visit's form.

    Attributes:
        key: names the line, e.g. (need, arch, attempt).
        articles: item ids in order of preference: the practice's article, then its substitutes; may be empty.
        qty: base units needed, one tip volume and one purge included.
        extra_per_split: tip volume and purge that each further cartridge of the same load costs.
        may_split: the load may be put together from several cartridges.
        pieces: trays, tips and the like: nothing is opened, each piece stands for itself.
        on: the day of use where it isn't today; stock must be in date on that day.
        place: where it is used, for visits at several places that share one store room.
    """

    key: K
    articles: tuple[int, ...]
    qty: int
    extra_per_split: int = 0
    may_split: bool = False
    pieces: bool = False
    on: date | None = None
    place: int | None = None


@dataclass(frozen=True, slots=True)
class Pick(Generic[K]):
    """What one load takes from one cartridge, or from one stack of pieces.

    Attributes:
        fresh: number (1, 2 ...) of the sealed unit opened for this allocation, the same for every pick from that
            unit; None for what stood open before and for pieces.
        opens: this pick is the first from its fresh unit: one sealed unit of the stack is opened for it.
        substitute: another article than the practice's first choice.
    """

    key: K
    stack: Stack
    qty: int
    fresh: int | None = None
    opens: bool = False
    substitute: bool = False

    @property
    def holding_id(self) -> int:
        return self.stack.holding_id

    @property
    def lot_id(self) -> int:
        return self.stack.lot_id

    @property
    def item_id(self) -> int:
        return self.stack.item_id


@dataclass(frozen=True, slots=True)
class Shortfall(Generic[K]):
    """What no usable stock serves: base units of the preferred article (None: no article on the practice's list)."""

    key: K
    item_id: int | None
    qty: int


@dataclass(frozen=True, slots=True)
class Allocation(Generic[K]):
    """Picks in the order of the loads, and what is missing."""

    picks: tuple[Pick[K], ...]
    shortfalls: tuple[Shortfall[K], ...]

    @property
    def complete(self) -> bool:
        return not self.shortfalls

    def of(self, key: K) -> tuple[Pick[K], ...]:
        """The picks of one line of the form, first cartridge first."""
        return tuple(pick for pick in self.picks if pick.key == key)


IssueKey = tuple[bool, bool, date, date, int]


def issue_key(stack: Stack) -> IssueKey:
    """Sort key of the issue order: place, opened, effective use-by (undated last), first receipt."""
    return (
        not stack.at_place,
        stack.opened_on is None,
        stack.last_day or date.max,
        stack.first_received_on,
        stack.holding_id,
    )


def end_key(stack: Stack) -> IssueKey:
    """Sort key for looking ahead: the earliest effective use-by first, wherever it stands, opened or not."""
    last_day = stack.last_day or date.max
    return (False, False, last_day, stack.opened_on or stack.arrives or stack.first_received_on, stack.holding_id)


def earlier_than(stack: Stack, stacks: Iterable[Stack], today: date, qty: int = 1) -> tuple[Stack, ...]:
    """Usable stacks of the same item that should have gone first, in issue order.

    For the warning when a person picks another lot than the one proposed.

    Args:
        stack: the one picked.
        stacks: everything on offer, the picked one included or not.
        today: decides what is in date.
        qty: what is taken, in base units: a rest that can't finish it did not have to go first.
    """
    first = (
        other
        for other in stacks
        if other.item_id == stack.item_id
        and other.usable(today)
        and issue_key(other) < issue_key(stack)
        and (other.qty if other.opened_on else max(other.qty, other.unit_qty)) >= qty
    )
    return tuple(sorted(first, key=issue_key))


def stranded(stacks: Iterable[Stack], smallest_load: int) -> tuple[Stack, ...]:
    """Opened remainders too small for any step: to be written off by an explicit movement, not silently.

    Args:
        stacks: holdings of one item.
        smallest_load: the smallest load any step asks of it, tip volume and purge included.
    """
    return tuple(stack for stack in stacks if stack.opened_on is not None and 0 < stack.qty < smallest_load)


def allocate(loads: Iterable[Load[K]], stacks: Iterable[Stack], today: date, *, ahead: bool = False) -> Allocation[K]:
    """Propose which lots serve the loads, one load after the other.

    A unit opened for one load serves later loads of the same call as an opened one at the visit's place.

    Looking ahead over many visits, two things differ. A load that can't be served keeps its claim on what there is of
    it, for it comes first and what it lacks will be brought: so more stock can never take from a later load what it was
    promised. And lots go by their last day alone, wherever they stand.

    Args:
        loads: the visit's needs in the order of its steps.
        stacks: what is on offer at the visit's place and in the store room; unusable stock is left out here.
        today: decides what is in date, and dates the units that are opened, for loads without a day of their own.
        ahead: look ahead, see above.

    Returns:
        Picks and shortfalls. Per load of material either the picks add up to its quantity (plus ``extra_per_split``
        for each cartridge after the first) or its whole quantity is missing; per load of pieces both add up to it.
    """
    shelf = _Shelf(stacks, today, ahead=ahead)
    picks: list[Pick[K]] = []
    shortfalls: list[Shortfall[K]] = []
    for load in loads:
        served = shelf.serve_pieces(load) if load.pieces else shelf.serve_material(load)
        picks.extend(served)
        missing = load.qty - sum(pick.qty for pick in served)
        if missing > 0:
            if ahead and not load.pieces:
                shelf.keep_for(load)
            shortfalls.append(Shortfall(load.key, load.articles[0] if load.articles else None, missing))
    return Allocation(tuple(picks), tuple(shortfalls))


@dataclass(slots=True)
class _Source:
    """A stack while loads take from it; ``now`` is how it stands at this moment, ``stack`` how it was offered."""

    stack: Stack
    now: Stack
    fresh: int | None = None

    @property
    def one_unit(self) -> int:
        """What a single cartridge of this source can give."""
        if self.now.opened_on is not None:
            return self.now.qty
        return self.now.unit_qty if self.now.qty >= self.now.unit_qty else 0


class _Shelf:
    """The stock on offer, shrinking as loads are served."""

    def __init__(self, stacks: Iterable[Stack], today: date, *, ahead: bool) -> None:
        self._today = today
        self._ahead = ahead
        self._fresh = 0
        self._sources: dict[int, list[_Source]] = {}
        for stack in stacks:
            self._sources.setdefault(stack.item_id, []).append(_Source(stack, stack))

    def serve_pieces(self, load: Load[K]) -> list[Pick[K]]:
        """Take pieces in issue order, the preferred article first, as far as they go."""
        picks: list[Pick[K]] = []
        missing = load.qty
        for item_id in load.articles:
            for source in self._in_order(item_id, load):
                taken = min(missing, source.now.qty)
                if taken > 0:
                    source.now = replace(source.now, qty=source.now.qty - taken)
                    missing -= taken
                    picks.append(_pick(load, source, taken))
                    self._lend(load, source, taken)
        return picks

    def keep_for(self, load: Load[K]) -> None:
        """Set aside what there is of a load's first article, though it can't finish it."""
        missing = load.qty
        for item_id in load.articles[:1]:
            for source in self._in_order(item_id, load):
                kept = min(missing, source.now.qty)
                source.now = replace(source.now, qty=source.now.qty - kept)
                missing -= kept

    def _lend(self, load: Load[K], source: _Source, taken: int) -> None:
        """A reusable piece is there again some days after its use."""
        if source.now.back_after is not None:
            back = (load.on or self._today) + timedelta(days=source.now.back_after)
            again = replace(source.now, qty=taken, arrives=back)
            self._sources[source.now.item_id].append(_Source(source.stack, again))

    def serve_material(self, load: Load[K]) -> list[Pick[K]]:
        """Take the load whole, from the first article that can serve it; nothing where none can."""
        for item_id in load.articles:
            plan = self._plan(load, self._in_order(item_id, load))
            if plan:
                return [self._take(load, source, qty) for source, qty in plan]
        return []

    def _in_order(self, item_id: int, load: Load[K]) -> list[_Source]:
        day = load.on or self._today
        usable = [source for source in self._sources.get(item_id, ()) if source.now.usable(day)]
        if self._ahead:
            return sorted(usable, key=lambda source: end_key(source.now))
        if load.place is None:
            return sorted(usable, key=lambda source: issue_key(source.now))
        offered = (source for source in usable if source.now.place in (None, load.place))
        return sorted(offered, key=lambda source: issue_key(_seen_from(source.now, load.place)))

    def _plan(self, load: Load[K], sources: Sequence[_Source]) -> list[tuple[_Source, int]]:
        """Cartridges that serve one load, with what each gives; empty where they can't."""
        if load.qty <= 0:
            return []
        too_large = all(source.now.unit_qty < load.qty for source in sources)
        splits = load.may_split or too_large
        if splits and not self._ahead:
            return _split(load, sources)
        whole = next(([(source, load.qty)] for source in sources if source.one_unit >= load.qty), [])
        return whole or (_split(load, sources) if splits else [])

    def _take(self, load: Load[K], source: _Source, qty: int) -> Pick[K]:
        opens = source.now.opened_on is None
        unit = self._open(source, load.on or self._today) if opens else source
        # what a visit has taken from stands at its place from then on
        unit.now = replace(unit.now, qty=unit.now.qty - qty, at_place=True, place=load.place)
        return _pick(load, unit, qty, opens=opens)

    def _open(self, sealed: _Source, day: date) -> _Source:
        """Turn one sealed unit into an opened one of the same lot."""
        self._fresh += 1
        opened = replace(sealed.now, qty=sealed.now.unit_qty, opened_on=day)
        sealed.now = replace(sealed.now, qty=sealed.now.qty - sealed.now.unit_qty)
        unit = _Source(sealed.stack, opened, self._fresh)
        self._sources[sealed.now.item_id].append(unit)
        return unit


def _seen_from(stack: Stack, place: int | None) -> Stack:
    return replace(stack, at_place=stack.place == place)


def _pick(load: Load[K], source: _Source, qty: int, *, opens: bool = False) -> Pick[K]:
    substitute = source.stack.item_id != load.articles[0]
    return Pick(load.key, source.stack, qty, fresh=source.fresh, opens=opens, substitute=substitute)


def _cartridges(sources: Iterable[_Source]) -> Iterator[tuple[_Source, int]]:
    """Each cartridge of the sources in turn, with what it can give."""
    for source in sources:
        units = 1 if source.now.opened_on is not None else source.now.qty // source.now.unit_qty
        for _ in range(units):
            yield source, source.one_unit


def _split(load: Load[K], sources: Iterable[_Source]) -> list[tuple[_Source, int]]:
    """Fill a load from several cartridges in issue order; each after the first costs one more tip and purge."""
    plan: list[tuple[_Source, int]] = []
    missing = load.qty
    for source, available in _cartridges(sources):
        if available < missing and available <= load.extra_per_split:  # it would only fill its own tip
            continue
        taken = min(missing, available)
        plan.append((source, taken))
        missing -= taken
        if missing == 0:
            return plan
        missing += load.extra_per_split
    return []
