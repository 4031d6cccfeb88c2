"""A little practice for tests of forms and commands: set up, with a catalogue and a few lots, all through services.

One operatory, one store room, one tray line. Amounts are round so that a test can be reckoned in the head:
cartridges of 50 mL, a tip keeps 0.75 mL, each new tip costs a purge of 0.40 mL.
"""

from dataclasses import dataclass, field
from datetime import UTC, date, datetime, time, timedelta
from itertools import count
from typing import Any

from sqlalchemy import select
from sqlmodel import col

from inventory.domain.catalogue import ItemDraft
from inventory.domain.ledger import Draft, Entry, Posting, Sealed
from inventory.domain.vocabulary import (
    Arch,
    BaseUnit,
    DocumentKind,
    ItemKind,
    MovementKind,
    Role,
    UseByReading,
    Viscosity,
    WayOfUse,
)
from inventory.service import moving, setting_up, visits
from inventory.service.catalogue_book import Book, checked
from inventory.service.clock import Clock
from inventory.service.moving import Slip
from inventory.service.practice import Desk, Practice
from inventory.service.visits import VisitPlan
from inventory.store.engine import Store
from inventory.store.ledger import post
from inventory.store.tables import Holding, Item, Lot, Place

TODAY = date(2026, 3, 2)
IN_DATE = TODAY + timedelta(days=400)
STORE, CHAIR = "store room", "operatory 1"


def material(code: str, viscosity: Viscosity | None, *, family: str = "addition silicone", **known: Any) -> ItemDraft:
    facts = {
        "kind": ItemKind.IMPRESSION, "way_of_use": WayOfUse.VISIT, "base": BaseUnit.CML, "unit_qty": 5000,
        "unit_name": "cartridge", "bleed_qty": 40, **known,
    }  # fmt: skip
    return ItemDraft(code=code, name=code.capitalize(), viscosity=viscosity, family=family, **facts)


def tray(arch: Arch, size: str, **known: Any) -> ItemDraft:
    word = "upper" if arch is Arch.MAXILLARY else "lower"
    return ItemDraft(
        code=f"TRAY-{word}-{size}".upper(), name=f"Tray {word} {size}", kind=ItemKind.TRAY,
        way_of_use=WayOfUse.VISIT, unit_name="tray", tray_line="Line 1", arch=arch, tray_size=size, **known,
    )  # fmt: skip


ITEMS = (
    material("HEAVY", Viscosity.HEAVY),
    material("LIGHT", Viscosity.LIGHT),
    material("LIGHT-2", Viscosity.LIGHT, family="polyether"),
    material("BITE", None, kind=ItemKind.BITE),
    material("POWDER", None, family="alginate", base=BaseUnit.CG, unit_qty=50_000, unit_name="bag", bleed_qty=None),
    *(tray(arch, size) for arch in Arch for size in ("S", "M", "L")),
    tray(Arch.MAXILLARY, "XL", reusable=True),
    ItemDraft(code="TIP", name="Mixing tip", kind=ItemKind.TIP, way_of_use=WayOfUse.STEP, unit_name="tip",
              tip_volume_qty=75, has_lots=False),
    ItemDraft(code="ADHESIVE", name="Tray adhesive", kind=ItemKind.ACCESSORY, way_of_use=WayOfUse.COUNT,
              base=BaseUnit.CML, unit_qty=1000, unit_name="bottle", family="addition silicone"),
)  # fmt: skip


@dataclass
class LittlePractice:
    """The practice, with a few verbs that tests need often."""

    store: Store
    today: date = TODAY
    keys: Any = field(default_factory=count)

    def __post_init__(self) -> None:
        self.practice = Practice(self.store, Clock(lambda: datetime.combine(self.today, time(9), tzinfo=UTC)))
        if not setting_up.is_set_up(self.practice):
            self._set_up()

    def _set_up(self) -> None:
        people = (setting_up.PersonDraft("AB", Role.ASSISTANT), setting_up.PersonDraft("MN", Role.MANAGER))
        setting_up.set_up(self.practice, setting_up.SetUp(people=people), by="MN")
        with self.practice.writing() as desk:
            book = Book(desk, desk.person("MN"))
            book.save_items([(checked(book.check_item(item)), None) for item in ITEMS])
            book.save_fits({"TIP": ["HEAVY", "LIGHT", "LIGHT-2", "BITE"]})

    @classmethod
    def again(cls, store: Store) -> "LittlePractice":
        """The same practice in a copy of its store; its forms get keys of their own."""
        return cls(store, keys=count(1_000))

    def key(self) -> str:
        return f"form-{next(self.keys)}"

    def slip(self, **said: Any) -> Slip:
        return Slip(**{"request_key": self.key(), "by": "AB", **said})

    def stock(self, code: str, number: str, units: int, place: str = STORE, use_by: date | None = IN_DATE) -> int:
        """Receive sealed units of a lot; returns the number of the holding."""
        with self.practice.writing() as desk:
            return self._stock(desk, code, number, units, place=place, use_by=use_by)

    def _stock(
        self, desk: Desk, code: str, number: str, units: int, *, place: str = STORE, use_by: date | None = IN_DATE
    ) -> int:
        session = desk.session
        item = session.execute(select(Item).where(col(Item.code) == code)).scalar_one()
        known = session.execute(select(Lot).where(col(Lot.item_id) == item.id, col(Lot.number) == number))
        lot = known.scalar_one_or_none() or Lot(
            item_id=item.id or 0, number=number, use_by=use_by, unit_qty=item.unit_qty,
            use_by_read=UseByReading.DAY if use_by else UseByReading.NONE_STATED,
            first_received_on=self.today - timedelta(days=30),
        )  # fmt: skip
        lot_id, where = lot.id or desk.add(lot), desk.place(place)
        entry = Entry(Sealed(lot_id, where.id or 0), MovementKind.RECEIPT, units * item.unit_qty)
        receipt = (Draft(DocumentKind.RECEIPT, (entry,)),)
        post(session, Posting(self.key(), "same", desk.person("AB"), desk.now, desk.now, desk.today, receipt))
        return self._holding(session, lot_id, where)

    def opened(self, code: str, number: str, left: int, place: str = CHAIR, **known: Any) -> int:
        """One opened unit at a place with so much left in it; returns the number of the holding."""
        sealed = self.stock(code, number, 1, place, **known)
        opened = moving.open_unit(self.practice, sealed, self.slip(reason="as a test asks", confirmed=True)).opened_id
        assert opened is not None
        moving.correct_count(self.practice, opened, left, self.slip(reason="as a test asks"))
        return opened

    def full_shelves(self) -> None:
        """Everything that any kind of visit needs, plenty of it, in the store room."""
        with self.practice.writing() as desk:
            for code in ("HEAVY", "LIGHT", "BITE"):
                self._stock(desk, code, f"{code}-1", 6)
            self._stock(desk, "POWDER", "POWDER-1", 4)
            self._stock(desk, "TIP", "TIP-1", 100, use_by=None)
            for item in ITEMS:
                if item.kind is ItemKind.TRAY:
                    self._stock(desk, item.code, f"{item.code}-1", 5, use_by=None)

    def visit(self, case_ref: str = "C-1", kind: str = "final_stock_tray", **known: Any) -> int:
        """Plan a visit for today, both arches of size M unless told otherwise."""
        facts = {"upper_size": "M", "lower_size": "M", "place": CHAIR, **known}
        if kind not in ("final_stock_tray", "preliminary"):
            facts |= {"upper_size": None, "lower_size": None}
        plan = VisitPlan(case_ref, facts.pop("on", self.today), kind, **facts)
        return visits.plan(self.practice, plan, by="AB", confirmed=True).visit_id

    def on_hand(self, holding_id: int) -> int:
        with self.practice.reading() as desk:
            return desk.session.get_one(Holding, holding_id).on_hand

    def _holding(self, session: Any, lot_id: int, place: Place) -> int:
        query = select(col(Holding.id)).where(
            col(Holding.lot_id) == lot_id, col(Holding.place_id) == place.id, col(Holding.opened_on).is_(None)
        )
        return int(session.execute(query).scalar_one())
