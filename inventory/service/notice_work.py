"""What a recall notice asks of the practice: its lots with what stands where, its cases, its proofs, what is left.

All of it is read anew from the ledger: what was set aside, found missing, returned or destroyed is told by documents
that point at the notice, and whom a lot was used for by the bookings. Only what a person said about a case is stored.
A notice's lots are those on hold for it; one that was released as not concerned stays in the list and asks nothing.
"""

from collections import defaultdict
from collections.abc import Collection, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime

from inventory.domain.notices import Match, ScopeLine, named
from inventory.domain.quantity import show, show_units
from inventory.domain.recall_work import Outstanding
from inventory.domain.vocabulary import (
    BaseUnit,
    ContactStatus,
    DocumentKind,
    NoticeClass,
    PlaceRole,
    UseByReading,
)
from inventory.errors import NotFound
from inventory.service import recalling
from inventory.service.practice import Desk, Practice
from inventory.service.tracing import CaseUse, case_uses
from inventory.store.queries import history, planning
from inventory.store.queries import notices as query
from inventory.store.queries.notices import Contact, Dealt, Membership
from inventory.store.queries.stock import Stand, stands
from inventory.store.tables import Item, Lot, Notice, NoticeScope


@dataclass(frozen=True, slots=True)
class NoticeHead:
    """A notice without its work; ``notice_class`` as the authority gives it."""

    notice_id: int
    reference: str
    on: date
    notice_class: NoticeClass
    text: str
    answer_by: date | None
    answered_on: date | None
    answer_proof: str | None
    closed: bool


@dataclass(frozen=True, slots=True)
class NamedLine:
    """One line of what a notice names, in words; ``caution``: what a person has to look at, empty where nothing."""

    line_id: int
    words: str
    caution: str
    withdrawn_on: date | None


@dataclass(frozen=True, slots=True)
class Heap:
    """What stands of a lot in one holding, in base units; ``words`` says it as people do."""

    holding_id: int
    place: str
    role: PlaceRole
    opened_on: date | None
    on_hand: int
    words: str

    @property
    def aside(self) -> bool:
        return self.role is PlaceRole.SET_ASIDE


@dataclass(frozen=True, slots=True)
class PlaceCount:
    """What became of a lot at one place since it was put on hold, in base units.

    ``was = there + set_aside + missing + returned + destroyed``; ``set_aside`` is what was carried from there to where
    stock is set aside (negative at that place: it came); ``missing`` is negative where more was found than booked.
    """

    place: str
    role: PlaceRole
    was: int
    there: int
    set_aside: int
    missing: int
    returned: int
    destroyed: int


@dataclass(frozen=True, slots=True)
class LotWork:
    """A lot of a notice; quantities in base units.

    Attributes:
        match: how certainly the notice's lines name it by now; NO: it was put on hold by hand.
        released: why it was released as not concerned; None while it is on hold.
    """

    lot_id: int
    number: str
    number_is_ours: bool
    item_code: str
    item_name: str
    base: BaseUnit
    unit_qty: int
    unit_name: str
    use_by: date | None
    use_by_read: UseByReading
    match: Match
    released: str | None
    heaps: tuple[Heap, ...]
    places: tuple[PlaceCount, ...]

    @property
    def on_hand(self) -> int:
        return sum(heap.on_hand for heap in self.heaps)

    @property
    def name(self) -> str:
        return f"lot {self.number} of {self.item_name}"


@dataclass(frozen=True, slots=True)
class CaseWork:
    """A case that used a lot of the notice, and how far its patient was told.

    ``lot_confirmed``: every use was read or scanned; else at least one lot is assumed and has to be checked.
    """

    case_ref: str
    uses: tuple[CaseUse, ...]
    lot_confirmed: bool
    status: ContactStatus
    note: str
    told_at: datetime | None
    told_by: str | None


@dataclass(frozen=True, slots=True)
class Proof:
    """A document under the notice that returned or destroyed something, or counted it missing."""

    document_id: int
    kind: DocumentKind
    on: date
    by: str
    words: str
    reason: str
    proof: str


@dataclass(frozen=True, slots=True)
class Worklist:
    """Everything about a notice: assumed cases come first; ``without_case`` are uses that no visit names."""

    head: NoticeHead
    lines: tuple[NamedLine, ...]
    lots: tuple[LotWork, ...]
    cases: tuple[CaseWork, ...]
    without_case: tuple[CaseUse, ...]
    proofs: tuple[Proof, ...]
    outstanding: Outstanding

    @property
    def concerned(self) -> tuple[LotWork, ...]:
        """The lots that are on hold for it."""
        return tuple(lot for lot in self.lots if lot.released is None)

    @property
    def left(self) -> tuple[str, ...]:
        """What is left to do before it can be closed, in words."""
        return self.outstanding.left

    @property
    def cautions(self) -> tuple[str, ...]:
        """What a person has to look at: lines that can't be matched for certain, lots only perhaps named."""
        lines = [f"{line.words}: {line.caution}." for line in self.lines if line.caution and not line.withdrawn_on]
        perhaps = [lot for lot in self.concerned if lot.match is Match.PERHAPS]
        lots = [f"{lot.name} is only perhaps named: compare the package with the notice." for lot in perhaps]
        return (*lines, *lots)


@dataclass(frozen=True, slots=True)
class NoticeCard:
    """A notice in a list, with what is outstanding."""

    head: NoticeHead
    lots: int
    cases: int
    outstanding: Outstanding


def notices(practice: Practice, *, open_only: bool = False) -> tuple[NoticeCard, ...]:
    """Notices, open ones first, newest first."""
    with practice.reading() as desk:
        return cards(desk, query.notices(desk.session, open_only=open_only))


def worklist(practice: Practice, reference: str) -> Worklist:
    """Everything about one notice.

    Raises:
        NotFound: no notice has this reference.
    """
    with practice.reading() as desk:
        return of(desk, found(desk, reference))


def with_work(desk: Desk) -> tuple[NoticeCard, ...]:
    """Open notices, and closed ones of which stock is in the house again."""
    return cards(desk, query.with_work(desk.session))


def found(desk: Desk, reference: str, *, lock: bool = False) -> Notice:
    """The notice of a reference.

    Raises:
        NotFound: there is none.
    """
    row = query.by_reference(desk.session, reference.strip(), lock=lock)
    if row is None:
        known = ", ".join(one.reference for one in query.notices(desk.session)[:5])
        raise NotFound(f"There is no recall notice {reference.strip()!r}.", f"Known are: {known or 'none yet'}.")
    return row


def cards(desk: Desk, rows: Sequence[Notice]) -> tuple[NoticeCard, ...]:
    """Notices with what is outstanding, in so many statements however many there are."""
    if not rows:
        return ()
    ids = [row.id or 0 for row in rows]
    held: dict[int, set[int]] = defaultdict(set)
    for one in query.memberships(desk.session, notice_ids=ids):
        if one.released_at is None:
            held[one.notice_id].add(one.lot_id)
    every = {lot_id for lots in held.values() for lot_id in lots}
    there = _heaps(desk, every)
    lots = query.lots(desk.session, every)
    names = {number: f"lot {lot.number} of {item.name}" for number, (lot, item) in lots.items()}
    uses = _uses(desk, every)
    contacts = query.contacts(desk.session, ids)
    found = []
    for row in rows:
        number = row.id or 0
        cases = _cases([use for use in uses if use.lot_id in held[number]], contacts.get(number, {}))
        heaps = [(names[lot_id], heap) for lot_id in sorted(held[number]) for heap in there.get(lot_id, ())]
        found.append(NoticeCard(head(desk, row), len(held[number]), len(cases), _outstanding(row, heaps, cases)))
    return tuple(found)


def of(desk: Desk, row: Notice) -> Worklist:
    """Everything about a notice, within a unit of work."""
    number = row.id or 0
    members = _members(query.memberships(desk.session, notice_ids=[number]))
    scope = query.scope(desk.session, [number])
    lines = recalling.resolved(desk, scope)
    standing = [lines[one.id or 0] for one in scope if one.withdrawn_at is None]
    facts = query.facts(desk.session, members)
    there = _heaps(desk, members)
    dealt = _dealt(desk, members)
    lots = tuple(
        _lot(*one, members[lot_id], there.get(lot_id, ()), dealt[lot_id], match=named(standing, facts[lot_id]))
        for lot_id, one in query.lots(desk.session, members).items()
    )
    concerned = {lot.lot_id for lot in lots if lot.released is None}
    uses = _uses(desk, concerned)
    cases = _cases(uses, query.contacts(desk.session, [number]).get(number, {}))
    heaps = [(lot.name, heap) for lot in lots if lot.released is None for heap in lot.heaps]
    return Worklist(
        head(desk, row),
        tuple(_line(desk, one, lines[one.id or 0]) for one in scope),
        tuple(sorted(lots, key=lambda lot: (lot.released is not None, -lot.match, lot.item_name, lot.number))),
        cases,
        tuple(use for use in uses if use.case_ref is None),
        tuple(_proofs(lots, dealt)),
        _outstanding(row, heaps, cases),
    )


def head(desk: Desk, row: Notice) -> NoticeHead:
    """A notice without its work."""
    answered = row.answered_at.astimezone(desk.zone).date() if row.answered_at else None
    return NoticeHead(
        row.id or 0, row.reference, row.notice_on, row.notice_class, row.text, row.answer_by, answered,
        row.answer_proof, row.state == "closed",
    )  # fmt: skip


def _members(memberships: Iterable[Membership]) -> dict[int, Membership]:
    """The lots of a notice, each with its hold that stands, else with the last one."""
    found: dict[int, Membership] = {}
    for one in memberships:
        if one.lot_id not in found or found[one.lot_id].released_at is not None:
            found[one.lot_id] = one
    return found


def _heaps(desk: Desk, lot_ids: Collection[int]) -> dict[int, tuple[Heap, ...]]:
    heaps: dict[int, list[Heap]] = defaultdict(list)
    there = [stand for some in query.batches(lot_ids) for stand in stands(desk.session, lot_ids=some)]
    items = planning.items(desk.session, {stand.item_id for stand in there}) if there else {}
    for stand in there:
        heaps[stand.lot_id].append(
            Heap(
                stand.holding_id, stand.place_name, stand.place_role, stand.opened_on, stand.on_hand,
                _amount(stand, items[stand.item_id]),
            )
        )  # fmt: skip
    return {lot_id: tuple(found) for lot_id, found in heaps.items()}


def _amount(stand: Stand, item: Item) -> str:
    if item.base is BaseUnit.PIECE:
        return show(stand.on_hand, item.base)
    if stand.opened_on is not None:
        return f"opened {item.unit_name}, {show(stand.on_hand, item.base)}"
    units = show_units(stand.on_hand // stand.unit_qty, 0, stand.unit_qty, item.base)
    return f"{units} x {item.unit_name}"


def _dealt(desk: Desk, members: Mapping[int, Membership]) -> dict[int, list[Dealt]]:
    """What was done with each lot under any notice since it was put on hold for this one."""
    found: dict[int, list[Dealt]] = defaultdict(list)
    for some in query.batches(members):
        for one in query.dealt(desk.session, some):
            if one.recorded_at >= members[one.lot_id].at:
                found[one.lot_id].append(one)
    return found


def _lot(
    lot: Lot, item: Item, member: Membership, heaps: tuple[Heap, ...], dealt: Sequence[Dealt], *, match: Match
) -> LotWork:
    return LotWork(
        lot_id=lot.id or 0, number=lot.number, number_is_ours=lot.number_is_ours, item_code=item.code,
        item_name=item.name, base=item.base, unit_qty=lot.unit_qty, unit_name=item.unit_name, use_by=lot.use_by,
        use_by_read=lot.use_by_read, match=match,
        released=None if member.released_at is None else member.release_reason or "", heaps=heaps,
        places=tuple(_places(heaps, dealt)),
    )  # fmt: skip


_SUMS = {
    DocumentKind.TRANSFER: "set_aside",
    DocumentKind.COUNT: "missing",
    DocumentKind.RETURN: "returned",
    DocumentKind.DISCARD: "destroyed",
}


def _places(heaps: Sequence[Heap], dealt: Sequence[Dealt]) -> Iterator[PlaceCount]:
    """What became of a lot at each place where it stands or stood, set-aside places last."""
    roles = {heap.place: heap.role for heap in heaps} | {one.place: one.role for one in dealt}
    for place in sorted(roles, key=lambda name: (roles[name] is PlaceRole.SET_ASIDE, name)):
        there = sum(heap.on_hand for heap in heaps if heap.place == place)
        gone = dict.fromkeys(_SUMS.values(), 0)
        for one in dealt:
            if one.place == place and one.kind in _SUMS:
                gone[_SUMS[one.kind]] -= one.qty
        yield PlaceCount(place, roles[place], there + sum(gone.values()), there, **gone)


def _uses(desk: Desk, lot_ids: Collection[int]) -> tuple[CaseUse, ...]:
    uses = [
        use
        for some in query.batches(lot_ids)
        for use in history.uses(desk.session, history.uses_of_lots(some))
    ]  # fmt: skip
    holds = history.open_holds(desk.session, sorted({use.lot_id for use in uses})) if uses else []
    return case_uses(uses, holds)


def _cases(uses: Iterable[CaseUse], contacts: Mapping[str, Contact]) -> tuple[CaseWork, ...]:
    """Cases by reference, those with an assumed lot first, then the latest; one undone since is there if noted."""
    by_case: dict[str, list[CaseUse]] = defaultdict(list)
    for use in uses:
        if use.case_ref is not None:
            by_case[use.case_ref].append(use)
    for case_ref in contacts:
        by_case.setdefault(case_ref, [])
    found = [_case(case_ref, tuple(of_case), contacts.get(case_ref)) for case_ref, of_case in by_case.items()]
    return tuple(sorted(found, key=lambda one: (one.lot_confirmed, not one.uses, one.case_ref)))


def _case(case_ref: str, uses: tuple[CaseUse, ...], contact: Contact | None) -> CaseWork:
    confirmed = all(use.lot_confirmed for use in uses)
    if contact is None:
        return CaseWork(case_ref, uses, confirmed, ContactStatus.OPEN, "", None, None)
    return CaseWork(case_ref, uses, confirmed, contact.status, contact.note, contact.at, contact.by)


def _outstanding(row: Notice, heaps: Iterable[tuple[str, Heap]], cases: Iterable[CaseWork]) -> Outstanding:
    heaps = list(heaps)
    told = [(heap.aside, f"{lot}, {heap.words} at {heap.place}") for lot, heap in heaps]
    return Outstanding(
        to_find=tuple(words for aside, words in told if not aside),
        set_aside=tuple(words for aside, words in told if aside),
        cases=tuple(case.case_ref for case in cases if case.uses and case.status is ContactStatus.OPEN),
        answer_by=row.answer_by if row.answered_at is None else None,
    )


_DEED = {
    DocumentKind.RETURN: "returned",
    DocumentKind.DISCARD: "destroyed",
    DocumentKind.COUNT: "counted",
    DocumentKind.TRANSFER: "set aside",
}


def _proofs(lots: Sequence[LotWork], dealt: Mapping[int, Sequence[Dealt]]) -> Iterator[Proof]:
    """The documents under a notice in their order, each movement in words."""
    names = {lot.lot_id: lot for lot in lots}
    by_document: dict[int, list[Dealt]] = defaultdict(list)
    for of_lot in dealt.values():
        for one in of_lot:
            if one.kind is not DocumentKind.TRANSFER or one.qty < 0:
                by_document[one.document_id].append(one)
    for document_id, moved in sorted(by_document.items()):
        first = moved[0]
        words = "; ".join(_moved(one, names[one.lot_id]) for one in moved)
        yield Proof(
            document_id, first.kind, first.on, first.by, f"{_DEED.get(first.kind, first.kind)}: {words}",
            first.reason or "", first.proof or "",
        )  # fmt: skip


def _moved(one: Dealt, lot: LotWork) -> str:
    more = " more" if one.kind is DocumentKind.COUNT and one.qty > 0 else ""
    less = " less" if one.kind is DocumentKind.COUNT and one.qty < 0 else ""
    return f"{lot.name}, {show(abs(one.qty), lot.base)}{more}{less} at {one.place}"


def _line(desk: Desk, row: NoticeScope, line: ScopeLine) -> NamedLine:
    withdrawn = row.withdrawn_at.astimezone(desk.zone).date() if row.withdrawn_at else None
    return NamedLine(row.id or 0, _line_words(desk, row), _caution(desk, row, line), withdrawn)


def _line_words(desk: Desk, row: NoticeScope) -> str:
    item = desk.session.get_one(Item, row.item_id) if row.item_id is not None else None
    article = f"{item.code} {item.name}" if item else ""
    code = f"code {row.code}" if row.code else ""
    lots = f"lots {row.lot_from} to {row.lot_to}" if row.lot_to else f"lot {row.lot_from}" if row.lot_from else ""
    since = f"from {row.received_from}" if row.received_from else ""
    until = f"to {row.received_to}" if row.received_to else ""
    came = f"received {since} {until}".replace("  ", " ").strip() if since or until else ""
    return ", ".join(filter(None, (article, code, lots or "every lot", came)))


def _caution(desk: Desk, row: NoticeScope, line: ScopeLine) -> str:
    if line.items is None:
        return "it names no item; lots with a number of ours can't be compared with it"
    if not line.items:
        by_number = "; lots are held by their number alone" if row.lot_from else "; no lot is held for it"
        return f"the code is not in the catalogue{by_number}"
    if row.item_id is None and Match.SURE not in line.items.values():
        items = planning.items(desk.session, line.items)
        return f"the code perhaps means {', '.join(item.code for item in items.values())}; their lots are held"
    return ""
