"""What a visit is expected to use, lot by lot: the lay-out list before it, the prefilled form after it, readiness.

All three ask the same functions: the steps' estimates say how much, the practice's articles say of what, the issue
rule says which lot. Before a visit lots are proposed in issue order; after it the form starts from what stands opened
at that place, each lot assumed until somebody reads or scans it.
"""

from collections.abc import Collection, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date, timedelta

from inventory.domain import allocation, estimates
from inventory.domain.allocation import Allocation, Stack
from inventory.domain.estimates import ExpectedLine, LineKey, StepNeed
from inventory.domain.quantity import show
from inventory.domain.vocabulary import Arch, BaseUnit, ItemKind, LateReason, PlaceRole, UseByReading, VisitState
from inventory.errors import NotFound
from inventory.service import forecasting, visits
from inventory.service.forecasting import Picture
from inventory.service.practice import Desk, Practice
from inventory.service.visits import VisitCard
from inventory.store.queries import people
from inventory.store.queries import visits as query
from inventory.store.queries.stock import Stand
from inventory.store.queries.visits import NeedRow, VisitRow
from inventory.store.tables import Item, Place

Served = Allocation[LineKey]


@dataclass(frozen=True, slots=True)
class FormLine:
    """One line of a form or lay-out list: what one step takes from one lot; quantities in ``base`` units.

    Attributes:
        key: names the line within the form.
        need_id, step, step_name, arch, attempt: what it is for.
        kind: of the item (material, tray, tip ...).
        item_id, item, item_code: the article; None where no size or article is known yet.
        base, unit_qty, unit_name: how it is counted.
        qty: what is expected from this lot, tip volume and purge included.
        purge_qty: the part of ``qty`` that stays in the tip or is purged.
        holding_id: where it comes from; None where nothing usable is there.
        fresh: a sealed unit is opened for it; the same number names the same unit.
        opens: this line is the one that opens it.
        lot_number, use_by, use_by_read, last_day, place: of that lot.
        substitute: another article than the practice's first choice.
        missing: what can't be served, in base units.
        comes: when that arrives, in words; empty where none is on order.
    """

    key: str
    need_id: int
    step: str
    step_name: str
    arch: Arch | None
    attempt: int
    kind: ItemKind
    item_id: int | None
    item: str
    item_code: str
    base: BaseUnit
    unit_qty: int
    unit_name: str
    qty: int
    purge_qty: int = 0
    holding_id: int | None = None
    fresh: int | None = None
    opens: bool = False
    lot_number: str = ""
    use_by: date | None = None
    use_by_read: UseByReading = UseByReading.NOT_READ
    last_day: date | None = None
    place: str = ""
    substitute: bool = False
    missing: int = 0
    comes: str = ""


@dataclass(frozen=True, slots=True)
class Form:
    """A visit with what it is expected to use; ``lacks`` says what is missing, ``mind`` what else there is to know."""

    visit: VisitCard
    place: str
    today: date
    lines: tuple[FormLine, ...]
    lacks: tuple[str, ...]
    mind: tuple[str, ...]

    @property
    def warnings(self) -> tuple[str, ...]:
        return (*self.lacks, *self.mind)

    @property
    def complete(self) -> bool:
        return not any(line.missing for line in self.lines)


@dataclass(frozen=True, slots=True)
class LotChoice:
    """A lot that a line could come from, best first; ``late`` says why it should not."""

    holding_id: int
    item_id: int
    item: str
    lot_number: str
    use_by: date | None
    use_by_read: UseByReading
    last_day: date | None
    place: str
    opened_on: date | None
    on_hand: int
    unit_qty: int
    base: BaseUnit
    late: LateReason | None
    goes_first: bool


def form(
    practice: Practice, visit_id: int, *, place: str | None = None, retakes: Collection[tuple[str, Arch | None]] = ()
) -> Form:
    """The prefilled form of a visit.

    Args:
        practice: the practice at work.
        visit_id: which visit.
        place: where it takes place, if not as planned.
        retakes: steps (code and arch) that were taken again; each adds an attempt.

    Raises:
        NotFound: no such visit or place.
    """
    with practice.reading() as desk:
        row = query.visit(desk.session, visit_id)
        if row is None:
            raise NotFound(f"There is no visit {visit_id}.", "Look it up in the list of visits.")
        picture = forecasting.picture(desk)
        where = _place(desk, place or row.place_name)
        lines = expected(picture, row)
        for step, arch in retakes:
            lines = estimates.retake(lines, step, arch)
        served = estimates.serve_visits([(desk.today, lines)], _stacks(picture, where.id))[0]
        return _form(picture, visits.card(desk, row.id), where.name, lines, served)


def lay_out(practice: Practice, on: date | None = None) -> tuple[Form, ...]:
    """What to lay out for a day (default: tomorrow), lot by lot.

    Its visits share the stock in their order, wherever they take place; those still to come before that day take theirs
    first.
    """
    with practice.reading() as desk:
        day = on or desk.today + timedelta(days=1)
        since = min(day, desk.today)
        rows = query.visits(desk.session, since=since, until=day, state=VisitState.PLANNED)
        picture = forecasting.picture(desk)
        named = {row.place_name: _place(desk, row.place_name) for row in rows}
        places = [named[row.place_name] for row in rows]
        wanted = [(row.on, expected(picture, row)) for row in rows]
        stacks = [_stack_at_its_place(stand) for stand in picture.stands if stand.place_role.usable]
        served = estimates.serve_visits(wanted, stacks, places=[place.id for place in places])
        return tuple(
            _form(picture, visits.card(desk, row.id), place.name, lines, allocated)
            for row, place, (_, lines), allocated in zip(rows, places, wanted, served, strict=True)
            if row.on == day
        )


def choices(practice: Practice, place: str, item_ids: Collection[int]) -> tuple[LotChoice, ...]:
    """Every lot of some articles in usable places, in issue order, those that should not be used last."""
    with practice.reading() as desk:
        picture = forecasting.picture(desk)
        where = _place(desk, place)
        stands = {s.holding_id: s for s in picture.stands if s.item_id in item_ids and s.place_role.usable}
        stacks = [_stack(stand, where.id) for stand in stands.values()]
        usable = sorted((s for s in stacks if s.usable(desk.today)), key=allocation.issue_key)
        late = sorted((s for s in stacks if not s.usable(desk.today)), key=allocation.issue_key)
        first = usable[0].holding_id if usable else None
        return tuple(
            _choice(picture.items[stack.item_id], stands[stack.holding_id], stack, desk.today, first)
            for stack in (*usable, *late)
        )


def smallest_draws(picture: Picture) -> dict[int, int]:
    """By item: the least that any step draws from it, or the item's own smallest load; in base units."""
    needs = [need for kind in picture.needs for need in step_needs(picture, picture.needs[kind])]
    least = dict(estimates.smallest_loads(needs))
    for number, item in picture.items.items():
        if item.min_load_qty is not None:
            least[number] = item.min_load_qty
    return least


def expected(picture: Picture, row: VisitRow) -> tuple[ExpectedLine, ...]:
    """What a visit is expected to use, line by line."""
    needs = step_needs(picture, picture.needs.get(row.case_kind_id, ()))
    trays = {arch: _trays(picture, arch, size) for arch in row.arches if (size := row.size(arch))}
    return estimates.expected_use(needs, row.arches, trays, with_optional=True)


def step_needs(picture: Picture, needs: Sequence[NeedRow]) -> tuple[StepNeed, ...]:
    """A case kind's needs with the practice's articles and tips; optional ones count once they have an article."""
    return tuple(_step_need(picture, need, needs) for need in needs if need.articles or not need.optional)


def _trays(picture: Picture, arch: Arch, size: str) -> tuple[int, ...]:
    """Tray articles of a size for an arch, whatever the line."""
    return tuple(
        number
        for number, item in picture.items.items()
        if item.kind is ItemKind.TRAY and item.arch is arch and item.tray_size == size
    )


def _articles(picture: Picture, need: NeedRow) -> tuple[int, ...]:
    """The practice's articles for a need; for a tray all sizes of its line and arch."""
    if need.kind is not ItemKind.TRAY:
        return tuple(number for number in need.articles if number in picture.items)
    return tuple(
        number
        for number, item in picture.items.items()
        if item.kind is ItemKind.TRAY and item.arch is need.arch and item.tray_line == need.tray_line
    )


def _step_need(picture: Picture, need: NeedRow, all_needs: Sequence[NeedRow]) -> StepNeed:
    articles = _articles(picture, need)
    first = picture.items[articles[0]] if articles else None
    return StepNeed(
        need_id=need.need_id,
        step=need.step,
        arch=need.arch,
        material=estimates.Material(need.kind, need.viscosity, need.setting_speed),
        base=first.base if first else BaseUnit.PIECE,
        articles=articles,
        mean_qty=need.mean_qty,
        sd_qty=need.sd_qty,
        retake_ppm=need.retake_ppm,
        tip=_tip(picture, first, need, all_needs) if first else None,
        may_split=first.may_split_load if first else False,
        optional=need.optional,
    )


def _tip(picture: Picture, item: Item, need: NeedRow, all_needs: Sequence[NeedRow]) -> estimates.Tip | None:
    """The mixing tip of a material; an intra-oral tip that the step names itself keeps its volume too."""
    tips = picture.tips.get(item.id or 0, ())
    if not tips:
        return None
    further = [
        picture.items[other.articles[0]].tip_volume_qty or 0
        for other in all_needs
        if other.kind is ItemKind.TIP and (other.step, other.arch) == (need.step, need.arch)
        if other.articles and other.articles[0] in picture.items
    ]
    return estimates.Tip(tips, (picture.items[tips[0]].tip_volume_qty or 0) + sum(further), item.bleed_qty or 0)


def _place(desk: Desk, name: str | None) -> Place:
    """The visit's place; the first operatory where none is planned."""
    if name:
        return desk.place(name)
    first = desk.place_of_role(PlaceRole.CHAIR)
    return next(place for place in people.places(desk.session) if place.id == first)


def _stacks(picture: Picture, place_id: int | None) -> list[Stack]:
    """What may serve at a place: what stands there and in the store room."""
    return [
        _stack(stand, place_id)
        for stand in picture.stands
        if stand.place_role.usable and (stand.place_id == place_id or _stored(stand))
    ]


def _stored(stand: Stand) -> bool:
    return stand.place_role is PlaceRole.STORE


def _stack(stand: Stand, place_id: int | None) -> Stack:
    return Stack(
        holding_id=stand.holding_id, lot_id=stand.lot_id, item_id=stand.item_id, qty=stand.on_hand,
        unit_qty=stand.unit_qty, first_received_on=stand.first_received_on, use_by=stand.use_by,
        opened_on=stand.opened_on, opened_days=stand.opened_days,
        at_place=not _stored(stand) if place_id is None else stand.place_id == place_id, blocked=stand.blocked,
    )  # fmt: skip


def _stack_at_its_place(stand: Stand) -> Stack:
    """A holding on offer to visits at several places: a chair's to those at that chair, the store room's to all."""
    return replace(_stack(stand, None), place=None if _stored(stand) else stand.place_id)


def stack_of(stand: Stand) -> Stack:
    """A holding on offer wherever it stands; a chair's before the store room's."""
    return _stack(stand, None)


def _choice(item: Item, stand: Stand, stack: Stack, today: date, first: int | None) -> LotChoice:
    return LotChoice(
        holding_id=stand.holding_id, item_id=stand.item_id, item=item.name, lot_number=stand.lot_number,
        use_by=stand.use_by, use_by_read=stand.use_by_read, last_day=stand.last_day, place=stand.place_name,
        opened_on=stand.opened_on, on_hand=stand.on_hand, unit_qty=stand.unit_qty, base=item.base,
        late=stack.late_reason(today), goes_first=stand.holding_id == first,
    )  # fmt: skip


@dataclass(frozen=True, slots=True)
class _Shelf:
    """What stands where and who was served from it, for a visit on a day."""

    picture: Picture
    on: date
    served: Served
    stands: Mapping[int, Stand]


def _form(picture: Picture, card: VisitCard, place: str, lines: Sequence[ExpectedLine], served: Served) -> Form:
    rows = {need.need_id: need for group in picture.needs.values() for need in group}
    shelf = _Shelf(picture, card.on, served, {stand.holding_id: stand for stand in picture.stands})
    out: list[FormLine] = []
    for line in lines:
        row = rows[line.need.need_id]
        out += _lines(shelf, row, line, line.key)
        if line.tips:
            out += _lines(shelf, row, line, replace(line.key, tip=True))
    return Form(card, place, picture.today, tuple(out), tuple(_lacks(out)), tuple(_mind(picture, out)))


def _lines(shelf: _Shelf, row: NeedRow, line: ExpectedLine, key: LineKey) -> Iterator[FormLine]:
    """A form line for each lot that serves one expected line, and one for what can't be served."""
    extra = 0 if key.tip else line.tip_qty + line.purge_qty
    for part, pick in enumerate(shelf.served.of(key), start=1):
        stand = shelf.stands[pick.holding_id]
        yield replace(
            _blank(shelf.picture, row, line, pick.item_id, key),
            key=_name(key, part),
            qty=pick.qty,
            purge_qty=min(extra, pick.qty),
            holding_id=pick.holding_id,
            fresh=pick.fresh,
            opens=pick.opens,
            lot_number=stand.lot_number,
            use_by=stand.use_by,
            use_by_read=stand.use_by_read,
            last_day=stand.last_day,
            place=stand.place_name,
            substitute=pick.substitute,
        )
    for short in shelf.served.shortfalls:
        if short.key == key:
            blank = _blank(shelf.picture, row, line, short.item_id, key)
            yield replace(
                blank, key=_name(key, 0), qty=short.qty, purge_qty=min(extra, short.qty), missing=short.qty,
                comes=_comes(shelf.picture, short.item_id, shelf.on),
            )  # fmt: skip


def _name(key: LineKey, part: int) -> str:
    return f"{key.need_id}/{key.attempt}/{'tip' if key.tip else 'main'}/{part}"


def _blank(picture: Picture, row: NeedRow, line: ExpectedLine, item_id: int | None, key: LineKey) -> FormLine:
    """A line with everything but the lot."""
    item = picture.items.get(item_id) if item_id is not None else None
    kind = ItemKind.TIP if key.tip else row.kind
    return FormLine(
        key="", need_id=row.need_id, step=row.step, step_name=row.step_name, arch=row.arch, attempt=key.attempt,
        kind=kind, item_id=item_id, item=item.name if item else _wanted(row, kind), item_code=item.code if item else "",
        base=item.base if item else line.need.base, unit_qty=item.unit_qty if item else 1,
        unit_name=item.unit_name if item else "", qty=0,
    )  # fmt: skip


def _wanted(row: NeedRow, kind: ItemKind) -> str:
    """What a step asks for, where no article is known yet."""
    if kind is ItemKind.TRAY:
        return f"{row.arch} tray, size not known"
    viscosity = f", {row.viscosity.name.lower()}" if row.viscosity is not None else ""
    return f"{kind.value}{viscosity}: no article chosen"


def _lacks(lines: Iterable[FormLine]) -> Iterator[str]:
    for line in lines:
        if line.missing:
            comes = f"; {line.comes}" if line.comes else ""
            yield f"{line.step_name}{_of(line.arch)}: {line.item}, {show(line.missing, line.base)} missing{comes}."


def _mind(picture: Picture, lines: Iterable[FormLine]) -> Iterator[str]:
    lines = tuple(lines)
    families = {
        family: item.name
        for line in lines
        if line.item_id is not None and (item := picture.items[line.item_id]).kind is ItemKind.IMPRESSION
        if (family := item.family)
    }
    if len(families) > 1:
        named = ", ".join(f"{name} ({family})" for family, name in families.items())
        yield f"Materials of different families in one case: {named}."
    for line in lines:
        if line.substitute:
            yield f"{line.step_name}: {line.item} stands in for the practice's first choice."


def _of(arch: Arch | None) -> str:
    return f" ({arch.value})" if arch else ""


def _comes(picture: Picture, item_id: int | None, on: date) -> str:
    """When what is missing arrives: before the visit, or only after it; nothing where none is on order."""
    coming = min((one for one in picture.coming if one.item_id == item_id), key=lambda one: one.arrives, default=None)
    if coming is None:
        return ""
    when = "arrives only on" if coming.arrives > on else "due"
    return f"on order, {when} {coming.arrives.isoformat()} (order {coming.order})"
