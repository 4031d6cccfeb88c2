"""A little practice for tests of the ledger: one person, a few places, articles made as a test asks for them.

Stock comes by plain receipts through the ledger's own writer, so these tests need no catalogue and no delivery.
"""

from dataclasses import dataclass, field
from datetime import UTC, date, datetime, time
from itertools import count
from typing import Any

from sqlalchemy import select
from sqlmodel import col

from inventory.domain.ledger import Draft, Entry, Posting, Sealed
from inventory.domain.vocabulary import (
    BaseUnit,
    DocumentKind,
    ItemKind,
    MovementKind,
    PlaceRole,
    Role,
    Technique,
    UseByReading,
    VisitState,
    WayOfUse,
)
from inventory.service.clock import Clock
from inventory.service.moving import Slip
from inventory.service.practice import Practice
from inventory.store.engine import Store
from inventory.store.ledger import post
from inventory.store.tables import CaseKind, Holding, Item, Lot, Movement, Person, Place, Setting, Visit

TODAY = date(2026, 3, 2)
RECEIVED = date(2026, 1, 2)  # so that something can have happened to a lot before today
MORNING = datetime.combine(TODAY, time(9), tzinfo=UTC)
PLACES = {
    "Store room": PlaceRole.STORE,
    "Chair 1": PlaceRole.CHAIR,
    "Chair 2": PlaceRole.CHAIR,
    "Set aside": PlaceRole.SET_ASIDE,
    "Reprocessing": PlaceRole.REPROCESSING,
    "Laboratory": PlaceRole.LABORATORY,
}


@dataclass
class Hands:
    """Hands of a clock that a test turns."""

    now: datetime = MORNING

    def __call__(self) -> datetime:
        return self.now


@dataclass
class Shelves:
    """The little practice, with its articles and lots by number."""

    store: Store
    hands: Hands = field(default_factory=Hands)
    places: dict[str, int] = field(default_factory=dict)
    keys: Any = field(default_factory=count)

    def __post_init__(self) -> None:
        self.practice = Practice(self.store, Clock(self.hands))
        with self.practice.writing() as desk:
            self.person_id = desk.add(Person(initials="AB", role=Role.ASSISTANT))
            desk.session.add(Setting(key="time_zone", value="UTC"))
            for order, (name, role) in enumerate(PLACES.items()):
                self.places[name] = desk.add(Place(name=name, role=role, walk_order=order))

    def slip(self, **said: Any) -> Slip:
        return Slip(**{"request_key": self.key(), "by": "AB", **said})

    def key(self) -> str:
        return f"form-{next(self.keys)}"

    def item(self, **known: Any) -> int:
        """Make an article, a 50 mL cartridge unless told otherwise."""
        number = next(self.keys)
        facts = {
            "code": f"ITEM-{number}", "name": f"Article {number}", "kind": ItemKind.IMPRESSION, "base": BaseUnit.CML,
            "unit_qty": 5000, "unit_name": "cartridge", "way_of_use": WayOfUse.VISIT, **known,
        }  # fmt: skip
        with self.practice.writing() as desk:
            return desk.add(Item(**facts))

    def tray(self, **known: Any) -> int:
        facts = {
            "kind": ItemKind.TRAY, "base": BaseUnit.PIECE, "unit_qty": 1, "unit_name": "tray", "tray_line": "A",
            "arch": "maxillary", "tray_size": "M", **known,
        }  # fmt: skip
        return self.item(**facts)

    def lot(
        self, units: int = 0, place: str = "Store room", *, item: int | None = None, number: str = "", **known: Any
    ) -> int:
        """Make a lot and receive some units of it."""
        item_id = self.item() if item is None else item
        use_by = known.pop("use_by", None)
        read = known.pop("use_by_read", UseByReading.DAY if use_by else UseByReading.NONE_STATED)
        with self.practice.writing() as desk:
            unit_qty = desk.session.get_one(Item, item_id).unit_qty
            lot_id = desk.add(
                Lot(
                    item_id=item_id, number=number or f"L{next(self.keys)}", use_by=use_by, use_by_read=read,
                    unit_qty=unit_qty, first_received_on=known.pop("first_received_on", RECEIVED), **known,
                )
            )  # fmt: skip
        if units:
            self.receive(lot_id, units, place)
        return lot_id

    def receive(self, lot_id: int, units: int, place: str = "Store room") -> int:
        with self.practice.reading() as desk:
            unit_qty = desk.session.get_one(Lot, lot_id).unit_qty
        target = Sealed(lot_id, self.places[place])
        return self.post(Draft(DocumentKind.RECEIPT, (Entry(target, MovementKind.RECEIPT, units * unit_qty),)))

    def use(self, holding_id: int, qty: int, **said: Any) -> int:
        return self.post(Draft(DocumentKind.USE, (Entry(holding_id, MovementKind.USE, -qty),), **said))

    def post(self, *drafts: Draft, key: str = "", content: str = "", on: date | None = None) -> int:
        """Post drafts as one request and give the number of the first document."""
        with self.practice.writing() as desk:
            posted = post(
                desk.session,
                Posting(
                    request_key=key or self.key(), request_hash=content or "same", person_id=self.person_id,
                    recorded_at=desk.now, happened_at=desk.moment(on or desk.today), happened_on=on or desk.today,
                    documents=drafts,
                ),
            )  # fmt: skip
            return posted.documents[drafts[0].part]

    def visit(self, case_ref: str = "C-1", **known: Any) -> int:
        """Make a planned visit of the one case kind."""
        with self.practice.writing() as desk:
            kind = desk.session.execute(select(CaseKind).limit(1)).scalar_one_or_none()
            if kind is None:
                kind = CaseKind(code="final", name="Final", technique=Technique.STOCK_TRAY)
                desk.add(kind)
            facts = {"case_ref": case_ref, "on": TODAY, "case_kind_id": kind.id, "upper": True, "lower": True}
            return desk.add(Visit(**{**facts, **known}))

    def state(self, visit_id: int) -> VisitState:
        with self.practice.reading() as desk:
            return desk.session.get_one(Visit, visit_id).state

    def sealed(self, lot_id: int, place: str = "Store room") -> int:
        """Give the sealed stack of a lot at a place."""
        where = (col(Holding.lot_id) == lot_id, col(Holding.place_id) == self.places[place])
        with self.practice.reading() as desk:
            query = select(col(Holding.id)).where(*where, col(Holding.opened_on).is_(None))
            return int(desk.session.execute(query).scalar_one())

    def on_hand(self, holding_id: int) -> int:
        with self.practice.reading() as desk:
            return desk.session.get_one(Holding, holding_id).on_hand

    def stock(self, lot_id: int) -> dict[tuple[str, date | None], list[int]]:
        """Give what is left of a lot, by place and day of opening."""
        names = {number: name for name, number in self.places.items()}
        found: dict[tuple[str, date | None], list[int]] = {}
        with self.practice.reading() as desk:
            for row in desk.session.execute(select(Holding).where(col(Holding.lot_id) == lot_id)).scalars():
                if row.on_hand:
                    found.setdefault((names[row.place_id], row.opened_on), []).append(row.on_hand)
        return found

    def movements(self) -> int:
        with self.practice.reading() as desk:
            return len(desk.session.execute(select(col(Movement.id))).all())
