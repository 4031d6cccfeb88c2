"""Files of what stands on the shelves when the book begins, and of booked visits.

Opening stock is stock found: it is posted as a count, so it is never mistaken for a delivery. A lot that was ever in
the book at a place is not opened there a second time; it is counted instead.
"""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import date
from itertools import islice
from typing import Any

from inventory.domain.catalogue import MOST_UNITS
from inventory.domain.ledger import Draft, Entry, Opened, Posting, request_hash
from inventory.domain.quantity import parse_amount
from inventory.domain.use_by import in_date
from inventory.domain.vocabulary import Arch, BaseUnit, DocumentKind, MovementKind, VisitState
from inventory.domain.words import STANDING, clean
from inventory.service.import_catalogue import Intake
from inventory.service.import_rows import Row
from inventory.service.lots import (
    MAKING_LOTS,
    NONE_STATED,
    NOT_READ,
    LotWords,
    check_dates,
    known_lot,
    parse_use_by,
    save_lots,
)
from inventory.service.practice import Desk
from inventory.service.visits import checked_case_ref
from inventory.store.ledger import post
from inventory.store.queries import catalogue, people, receiving, visits
from inventory.store.queries.visits import VisitRow
from inventory.store.tables import CaseKind, Item, Place, Visit

AT_ONCE = 500  # movements of one document
REASON = "opening stock"


@dataclass(frozen=True, slots=True)
class _Found:
    """What one row says stands on a shelf: sealed units, or one opened unit with what is left of it."""

    item: Item
    words: LotWords
    place_id: int
    units: int
    opened_on: date | None
    left_qty: int


class OpeningStockIntake(Intake):
    def __init__(self, desk: Desk, person_id: int, *, update: bool) -> None:
        super().__init__(desk, person_id, update=update)
        self._items = {row.code: row for row in catalogue.items(desk.session)}
        self._places = active_places(desk)
        self._lots: receiving.LotsByKey = {}
        self._stacks: set[tuple[int, int, bool]] = set()
        self._found: list[_Found] = []
        self._file = ""

    def prepare(self, rows: tuple[Row, ...]) -> None:
        receiving.one_at_a_time(self.desk.session, MAKING_LOTS)
        self._file = request_hash("file", {"rows": [row.raw for row in rows]})[:6]
        keys = set()
        for row in rows:
            if item := self._items.get(row.text("item").upper()):
                keys.add((item.id or 0, row.quietly("lot", _lot_number) or self._house_number(row, item)))
        self._lots = receiving.lots_named(self.desk.session, keys)
        lot_ids = [lot.lot_id for lots in self._lots.values() for lot in lots]
        self._stacks = receiving.holdings_of(self.desk.session, lot_ids)

    def _house_number(self, row: Row, item: Item) -> str:
        use_by = row.text("use_by").casefold()
        if not item.has_lots and use_by in ("", "none"):
            return STANDING
        return f"S-{self._file}-{row.number}"  # the same file read again names the same lots, and is noticed

    def read(self, row: Row) -> None:
        item = self._items.get(row.text("item").upper())
        if item is None or not item.active:
            row.fault("item", f"there is no item {row.text('item')!r}; import the items first")
        place = self._places.get(row.text("place").casefold())
        if place is None:
            row.fault("place", f"there is no place {row.text('place')!r}; known are {names(self._places)}")
        opened_on = row.day("opened_on")
        units = row.whole("units") or 0
        if item is None or place is None:
            return
        words = self._words(row, item)
        left = self._left(row, item, words.unit_qty)
        self._check_amounts(row, units, left)
        if opened_on is not None and opened_on > self.desk.today:
            row.fault("opened_on", f"{opened_on} is still to come")
        self._refuse_in_book(row, words, place, opened=opened_on is not None)
        if not row.faults:
            self._found.append(_Found(item, words, place.id or 0, units, opened_on, left))
            if not in_date(words.use_by.day, self.desk.today):
                self.warnings.append(f"row {row.number}: the use-by date {words.use_by.day} has passed.")

    def _words(self, row: Row, item: Item) -> LotWords:
        number = row.parsed("lot", _lot_number, "")
        none = NOT_READ if item.has_lots or number else NONE_STATED
        use_by = row.parsed("use_by", lambda text: parse_use_by(text, row.today, row.order, "use_by"), none)
        made_on, received_on = row.day("made_on"), row.day("received_on") or self.desk.today
        if received_on > self.desk.today:
            row.fault("received_on", f"{received_on} is still to come")
        if fault := check_dates(use_by, made_on, received_on):
            row.fault("use_by", fault)
        words = LotWords(
            item.id or 0,
            number or self._house_number(row, item),
            use_by,
            item.unit_qty,
            not number,
            made_on,
            received_on,
        )
        lot = known_lot(self._lots.get(words.key, ()), words)
        return words if lot is None else LotWords(*words.key, use_by, lot.unit_qty, not number, made_on, received_on)

    def _left(self, row: Row, item: Item, unit_qty: int) -> int:
        """What is left of an opened unit; an opened piece is one piece."""
        if not row.text("opened_on"):
            if row.text("left"):
                row.fault("opened_on", "give the day the unit was opened")
            return 0
        if item.base is BaseUnit.PIECE and not row.text("left"):
            return 1
        left = row.parsed("left", lambda text: parse_amount(text[:40], item.base, unit_qty), 0)
        if not 0 < left <= unit_qty:
            row.fault("left", "it must be more than nothing and no more than a whole unit")
        return left

    def _check_amounts(self, row: Row, units: int, left: int) -> None:
        if units > MOST_UNITS:
            row.fault("units", f"{units} units can't be")
        if units and row.text("opened_on"):
            row.fault("units", "sealed and opened units go in rows of their own")
        elif not units and not left:
            row.fault("units", "it says neither sealed units nor an opened one")

    def _refuse_in_book(self, row: Row, words: LotWords, place: Place, *, opened: bool) -> None:
        if not opened:
            self.once(row, "lot", (words.key, words.use_by.day, place.id))
        lot = known_lot(self._lots.get(words.key, ()), words)
        if lot is not None and (lot.lot_id, place.id or 0, opened) in self._stacks:
            row.fault("lot", f"lot {words.number} is in the book at {place.name} already; count it there instead")

    def save(self) -> None:
        self.added = len(self._found)
        if not self._found:
            return
        lots = save_lots(self.desk, self.person_id, [found.words for found in self._found], self.desk.today)
        self.warnings += dict.fromkeys(f"lot {lot.number}: {said}." for lot in lots for said in lot.recall)
        sealed = [
            (lot.lot_id, one.place_id) for one, lot in zip(self._found, lots, strict=True) if one.opened_on is None
        ]
        stacks = receiving.stacks(self.desk.session, sealed)
        entries = []
        for number, (found, lot) in enumerate(zip(self._found, lots, strict=True)):
            if found.opened_on is None:
                target: int | Opened = stacks[lot.lot_id, found.place_id]
            else:
                target = Opened(lot.lot_id, found.place_id, found.opened_on, number)
            qty = found.left_qty or found.units * lot.unit_qty
            entries.append(Entry(target, MovementKind.COUNT, qty, lot_confirmed=True))
        self._post(entries)

    def _post(self, entries: Iterable[Entry]) -> None:
        content = request_hash(REASON, {"found": self._found, "at": self.desk.now})
        left, number = iter(entries), 0
        while some := tuple(islice(left, AT_ONCE)):
            number += 1
            draft = Draft(DocumentKind.COUNT, some, reason=REASON)
            key = f"{content[:48]}-{number}"
            post(
                self.desk.session,
                Posting(key, content, self.person_id, self.desk.now, self.desk.now, self.desk.today, (draft,)),
            )


@dataclass(frozen=True, slots=True)
class _Booked:
    """A visit as its row says, and the planned visit that it changes."""

    values: Mapping[str, Any]
    known: VisitRow | None


def _lot_number(text: str) -> str:
    return clean(text, "lot", 60)


class VisitsIntake(Intake):
    def __init__(self, desk: Desk, person_id: int, *, update: bool) -> None:
        super().__init__(desk, person_id, update=update)
        self._kinds = {kind.code.casefold(): kind for kind in visits.case_kinds(desk.session) if kind.active}
        self._places = active_places(desk)
        self._lines: dict[int, str] = {}
        for slot in catalogue.needs(desk.session):
            if slot.tray_line and (kind := self._kinds.get(slot.case_kind.casefold())):
                self._lines[kind.id or 0] = slot.tray_line
        self._runs = {line.name: line for line in catalogue.tray_lines(desk.session)}
        self._of_case: dict[str, list[VisitRow]] = {}
        for one in visits.visits(desk.session, newest_first=True):
            self._of_case.setdefault(one.case_ref, []).append(one)
        self._booked: list[_Booked] = []

    def read(self, row: Row) -> None:
        case_ref = row.parsed("case_ref", checked_case_ref, "")
        on = row.day("on")
        kind = self._kinds.get(row.text("case_kind").casefold())
        if kind is None:
            row.fault(
                "case_kind", f"there is no case kind {row.text('case_kind')!r}; known are {', '.join(self._kinds)}"
            )
        upper, lower = row.choice(
            "arches", {"both": (True, True), "upper": (True, False), "lower": (False, True)}, (True, True)
        )
        place = self._places.get(row.text("place").casefold())
        if place is None and row.text("place"):
            row.fault("place", f"there is no place {row.text('place')!r}; known are {names(self._places)}")
        note = row.parsed("note", lambda text: clean(text, "note", 500), "")
        if kind is None or on is None:
            return
        self.once(row, "case_ref", (case_ref, on, kind.id))
        known = self._known(row, case_ref, on, kind)
        values = {
            "case_ref": case_ref, "on": on, "case_kind_id": kind.id, "upper": upper, "lower": lower,
            "upper_size": self._size(row, kind, Arch.MAXILLARY, case_ref) if upper else None,
            "lower_size": self._size(row, kind, Arch.MANDIBULAR, case_ref) if lower else None,
            "place_id": place.id if place else None, "note": note,
        }  # fmt: skip
        if not row.faults:
            self._booked.append(_Booked(values, known))

    def _known(self, row: Row, case_ref: str, on: date, kind: CaseKind) -> VisitRow | None:
        for one in self._of_case.get(case_ref, ()):
            if (one.on, one.case_kind_id) == (on, kind.id) and one.state is not VisitState.CANCELLED:
                self.refuse_known(row, "case_ref", f"the visit of {case_ref} on {on}", known=True)
                if one.state is not VisitState.PLANNED:
                    row.fault("case_ref", f"the visit of {case_ref} on {on} was booked out already")
                return one
        return None

    def _size(self, row: Row, kind: CaseKind, arch: Arch, case_ref: str) -> str | None:
        """The size as the practice writes it; where none is given the one of the case's last visit with such trays."""
        column = "upper_size" if arch is Arch.MAXILLARY else "lower_size"
        line = self._lines.get(kind.id or 0)
        if not row.text(column):
            return next((size for size in self._earlier_sizes(case_ref, line, arch) if size), None) if line else None
        run = self._runs.get(line or "")
        sizes = () if run is None else run.upper if arch is Arch.MAXILLARY else run.lower
        size = next((one for one in sizes if one.casefold() == row.text(column).casefold()), None)
        if size is None:
            known = f"known are {', '.join(sizes)}" if sizes else "this kind of visit uses no stock tray"
            row.fault(column, f"there is no size {row.text(column)!r}; {known}")
        return size

    def _earlier_sizes(self, case_ref: str, line: str | None, arch: Arch) -> Iterable[str | None]:
        for one in self._of_case.get(case_ref, ()):
            if one.state is not VisitState.CANCELLED and self._lines.get(one.case_kind_id) == line:
                yield one.size(arch)

    def save(self) -> None:
        new = [Visit(**booked.values) for booked in self._booked if booked.known is None]
        self.desk.session.add_all(new)
        self.desk.session.flush()
        for visit in new:
            self.desk.log_change(self.person_id, "visit", visit.id, {"state": (None, "planned")}, "import")
        for booked in self._booked:
            if booked.known is not None:
                self._change(booked.known.id, booked.values)
        self.added, self.updated = len(new), len(self._booked) - len(new)

    def _change(self, visit_id: int, values: Mapping[str, Any]) -> None:
        visit = self.desk.session.get_one(Visit, visit_id, with_for_update=True)
        changes = {name: (getattr(visit, name), value) for name, value in values.items()}
        if all(old == new for old, new in changes.values()):
            return
        for name, value in values.items():
            setattr(visit, name, value)
        visit.version += 1
        self.desk.log_change(self.person_id, "visit", visit_id, changes, "import")


def active_places(desk: Desk) -> dict[str, Place]:
    """Places in use by their names in small letters."""
    return {place.name.casefold(): place for place in people.places(desk.session) if place.active}


def names(places: Mapping[str, Place]) -> str:
    return ", ".join(place.name for place in places.values()) or "none yet"
