"""A book with something in every table, for tests of what becomes of all of it: guards, copies, exports."""

from sqlalchemy import text

from inventory.domain.vocabulary import Arch, CountMethod, EstimateSource, ItemKind, TrialOutcome, Viscosity
from inventory.service import holding, moving
from inventory.store.engine import Store
from inventory.store.tables import (
    Barcode,
    CountLine,
    CountRound,
    Delivery,
    DeliveryLine,
    Estimate,
    ItemFits,
    Need,
    NeedItem,
    Notice,
    NoticeCase,
    NoticeScope,
    PackContent,
    PriceBreak,
    Purchase,
    PurchaseLine,
    Setting,
    Shipment,
    SizePrior,
    Step,
    StockRule,
    Supplier,
    Supply,
    TraySize,
    TrayTrial,
    VisitUse,
)
from tests.shelves import TODAY, Shelves

AWKWARD = ("=1+1", "'quoted'", "'", '"', "a,b;c", "line\none", "-5", "@x", " = 2", "ü 名前", "[b]", "")
"""Texts that files and spreadsheets easily spoil."""


def full_book(store: Store) -> None:
    """Write at least one row into every table."""
    shelves = Shelves(store)
    lot = shelves.lot(2)
    visit = shelves.visit()
    holding.hold(shelves.practice, lot_id=lot, reason="sets slowly", by="AB")
    slip = shelves.slip(confirmed=True, reason="test")
    moving.open_unit(shelves.practice, shelves.sealed(lot), slip)
    with shelves.practice.writing() as desk:
        item = desk.session.execute(text("SELECT min(id) FROM item")).scalar_one()
        kind = desk.session.execute(text("SELECT min(id) FROM case_kind")).scalar_one()
        supplier = desk.add(Supplier(name="S", lead_days=1))
        supply = {"item_id": item, "supplier_id": supplier, "catalogue_no": "1", "units_per_pack": 2, "pack_cents": 1}
        supply_id = desk.add(Supply(valid_from=TODAY, **supply))
        purchase = desk.add(Purchase(number="O-1", supplier_id=supplier, written_on=TODAY, person_id=shelves.person_id))
        desk.add(PurchaseLine(purchase_id=purchase, supply_id=supply_id, packs=1, units_per_pack=2, pack_cents=1))
        delivery = desk.add(Delivery(supplier_id=supplier, received_on=TODAY))
        desk.add(DeliveryLine(delivery_id=delivery, lot_id=lot, units=1, units_per_pack=1, document_id=1))
        step = desk.add(Step(case_kind_id=kind, code="wash", name="Wash", position=1))
        need = desk.add(Need(step_id=step, kind=ItemKind.IMPRESSION))
        desk.add(Estimate(need_id=need, source=EstimateSource.DEFAULT, mean_qty=1, sd_qty=1, as_of=desk.now))
        notice = desk.add(Notice(reference="FSN 1", notice_on=TODAY))
        desk.add(NoticeScope(notice_id=notice, item_id=item))
        desk.session.add(NoticeCase(notice_id=notice, case_ref="C-1", at=desk.now, person_id=shelves.person_id))
        counting = desk.add(CountRound(started_at=desk.now, person_id=shelves.person_id))
        desk.add(
            CountLine(
                count_round_id=counting, lot_id=lot, place_id=shelves.places["Chair 1"], method=CountMethod.UNITS,
                reading=1, reading_unit_qty=1, counted_qty=1, counted_at=desk.now, person_id=shelves.person_id,
            )
        )  # fmt: skip
        desk.add(Shipment(visit_id=visit, contents=["impression", None, 1, 0.5, {"a": "=1"}]))
        desk.add(VisitUse(visit_id=visit, item_id=item, expected_qty=1, actual_qty=1))
        desk.add(TrayTrial(visit_id=visit, arch=Arch.MAXILLARY, item_id=item, outcome=TrialOutcome.FITTED))
        desk.session.add_all((
            Barcode(scheme="own", code="=1", item_id=item, units=1), ItemFits(fitting_id=item, material_id=item),
            NeedItem(need_id=need, item_id=item, rank=0), PackContent(supply_id=supply_id, item_id=item, units=1),
            PriceBreak(supply_id=supply_id, from_packs=2, pack_cents=1), Setting(key="_secret", value=None),
            TraySize(line="A", arch=Arch.MAXILLARY, label="M", position=1),
            SizePrior(line="A", arch=Arch.MANDIBULAR, tray_size="M", weight_ppm=1_000_000),
            StockRule(item_id=item, place_id=shelves.places["Chair 1"], top_up_to_units=1),
        ))  # fmt: skip
        desk.add(Need(step_id=step, kind=ItemKind.BITE, viscosity=Viscosity.PUTTY))
    for number, words in enumerate(AWKWARD):
        moving.correct_count(
            shelves.practice, shelves.sealed(lot), 5_000 * (number % 3 + 1), shelves.slip(reason="r", proof="p")
        )
        shelves.visit(f"C-{number}", note=words)
        with shelves.practice.writing() as desk:
            desk.log_change(shelves.person_id, "lot", lot, {"note": (words, None), "text": (None, words)}, words)
