"""A small invented practice with everything a final-impression visit needs, for tests of visits and of the week."""

from dataclasses import dataclass, replace
from datetime import date, timedelta
from itertools import count
from typing import Any

from inventory.domain.catalogue import ItemDraft
from inventory.domain.ledger import Draft, Entry, Posting, Sealed
from inventory.domain.vocabulary import (
    Arch,
    BaseUnit,
    DocumentKind,
    ItemKind,
    MovementKind,
    TrialOutcome,
    UseByReading,
    WayOfUse,
)
from inventory.service import booking, catalogue, laying_out, visits
from inventory.service.booking import BookOut, UsedLine, UsedTray
from inventory.service.laying_out import Form
from inventory.service.practice import Desk, Practice
from inventory.service.visits import VisitCard, VisitPlan
from inventory.store.engine import Store
from inventory.store.ledger import post
from inventory.store.queries import planning, stock
from inventory.store.tables import Item, Lot
from tests.service.catalogue_samples import BAG, BY, HEAVY, LIGHT, POWDER, TIP, TODAY, TRAY, new_practice

BITE = ItemDraft(
    code="BITE", name="Bite registration, fast", kind=ItemKind.BITE, base=BaseUnit.CML, unit_qty=5000,
    unit_name="cartridge", way_of_use=WayOfUse.VISIT, family="addition silicone",
)  # fmt: skip
LOWER_TRAY = replace(TRAY, code="T1-LM", name="Tray, Line 1, lower M", arch=Arch.MANDIBULAR)
UPPER_LARGE = replace(TRAY, code="T1-UL", name="Tray, Line 1, upper L", tray_size="L")
FAR = date(2028, 6, 30)
SINCE = timedelta(days=120)  # the lots are there so long: visits of that time can be booked out
MATERIALS = ("LIGHT-A", "HEAVY-A", "BITE")


@dataclass
class Clinic:
    """The practice, and lots of its items by number."""

    practice: Practice
    keys: Any

    @classmethod
    def open(cls, store: Store) -> "Clinic":
        practice = new_practice(store)
        materials = [replace(draft, bleed_qty=40) for draft in (LIGHT, HEAVY, BITE)]
        for draft in (*materials, POWDER, TIP, BAG, TRAY, LOWER_TRAY, UPPER_LARGE):
            catalogue.add_item(practice, draft, by=BY)
        catalogue.set_fits(practice, "TIP-1", MATERIALS, by=BY)
        return cls(practice, count())

    @classmethod
    def stocked(cls, store: Store) -> "Clinic":
        clinic = cls.open(store)
        for code in MATERIALS:
            clinic.lot(code, f"{code}-1", 4, use_by=FAR)
        clinic.lot("TIP-1", "tips", 50)
        clinic.lot("BAG", "bags", 50)
        for code in ("T1-UM", "T1-LM", "T1-UL"):
            clinic.lot(code, f"{code}-1", 5)
        return clinic

    def key(self) -> str:
        return f"form-{next(self.keys)}"

    def lot(
        self,
        code: str,
        number: str,
        units: int,
        *,
        place: str = "operatory 1",
        use_by: date | None = None,
        read: UseByReading | None = None,
    ) -> int:
        """Receive sealed units of a lot at a place; returns the lot."""
        reading = read or (UseByReading.DAY if use_by else UseByReading.NONE_STATED)
        with self.practice.writing() as desk:
            item = next(i for i in self.items(desk) if i.code == code)
            lot_id = desk.add(
                Lot(
                    item_id=item.id or 0, number=number, use_by=use_by, use_by_read=reading, unit_qty=item.unit_qty,
                    first_received_on=desk.today - SINCE,
                )
            )  # fmt: skip
            stack = Sealed(lot_id, desk.place(place).id or 0)
            entry = Entry(stack, MovementKind.RECEIPT, units * item.unit_qty)
            post(
                desk.session,
                Posting(
                    self.key(), "h", desk.person(BY), desk.now, desk.now, desk.today,
                    (Draft(DocumentKind.RECEIPT, (entry,)),),
                ),
            )  # fmt: skip
            return lot_id

    def items(self, desk: Desk) -> list[Item]:
        return list(planning.items(desk.session).values())

    def plan(self, case_ref: str = "C-1", on: date = TODAY, **known: Any) -> VisitCard:
        facts = {"case_kind": "final_stock_tray", "upper_size": "M", "lower_size": "M", **known}
        return visits.plan(self.practice, VisitPlan(case_ref, on, **facts), by=BY, confirmed=True)

    def book(self, visit: VisitCard, **changes: Any) -> booking.Booked:
        """Book a visit out as the form expects it."""
        form = laying_out.form(self.practice, visit.visit_id)
        return self.post(replace(as_expected(form), **changes))

    def post(self, request: BookOut, key: str = "", **said: Any) -> booking.Booked:
        return booking.book_out(self.practice, request, by=BY, request_key=key or self.key(), **said)

    def left(self, code: str, place: str | None = None) -> int:
        """What is left of an item, in base units."""
        with self.practice.reading() as desk:
            number = next(i.id for i in self.items(desk) if i.code == code)
            return sum(
                s.on_hand for s in stock.stands(desk.session, [number or 0]) if place is None or s.place_name == place
            )


def as_expected(form: Form) -> BookOut:
    """The form taken as it stands: every line used as expected, every tray fitted."""
    return BookOut(
        form.visit.visit_id,
        form.visit.version,
        form.place,
        lines=tuple(
            UsedLine(
                item_id=line.item_id or 0, qty=line.qty, purge_qty=line.purge_qty, holding_id=line.holding_id,
                fresh=line.fresh or 1, need_id=line.need_id, step=line.step, arch=line.arch, attempt=line.attempt,
                expected_qty=line.qty,
            )
            for line in form.lines
            if line.kind is not ItemKind.TRAY
        ),
        trays=tuple(
            UsedTray(line.arch or Arch.MAXILLARY, line.item_id or 0, TrialOutcome.FITTED, line.holding_id)
            for line in form.lines
            if line.kind is ItemKind.TRAY
        ),
    )  # fmt: skip
