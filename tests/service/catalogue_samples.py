"""A small invented practice and some items of it, for tests about the catalogue and what is received."""

from dataclasses import replace
from datetime import UTC, date, datetime

from inventory.domain.catalogue import ItemDraft, SupplierDraft, SupplyDraft
from inventory.domain.vocabulary import Arch, BaseUnit, ItemKind, Role, Viscosity, WayOfUse
from inventory.service import catalogue, setting_up
from inventory.service.clock import Clock
from inventory.service.practice import Practice
from inventory.service.setting_up import PersonDraft, SetUp
from inventory.store.engine import Store

TODAY = date(2027, 3, 10)
NOW = datetime(2027, 3, 10, 9, tzinfo=UTC)
BY = "AB"

LIGHT = ItemDraft(
    code="LIGHT-A", name="Light body A, fast", kind=ItemKind.IMPRESSION, base=BaseUnit.CML, unit_qty=5000,
    unit_name="cartridge", way_of_use=WayOfUse.VISIT, viscosity=Viscosity.LIGHT, family="addition silicone",
)  # fmt: skip
HEAVY = replace(LIGHT, code="HEAVY-A", name="Heavy body A", viscosity=Viscosity.HEAVY)
MEDIUM = replace(LIGHT, code="MEDIUM-A", name="Medium body A", viscosity=Viscosity.MEDIUM)
POWDER = ItemDraft(
    code="POWDER", name="Powder for preliminary impressions", kind=ItemKind.IMPRESSION, base=BaseUnit.CG,
    unit_qty=50_000, unit_name="bag", way_of_use=WayOfUse.VISIT,
)  # fmt: skip
TIP = ItemDraft(
    code="TIP-1", name="Mixing tip, 1:1", kind=ItemKind.TIP, way_of_use=WayOfUse.STEP, tip_volume_qty=75, has_lots=False
)
BAG = ItemDraft(
    code="BAG", name="Bag", kind=ItemKind.ACCESSORY, way_of_use=WayOfUse.STEP, steps=("bag",), has_lots=False
)
TRAY = ItemDraft(
    code="T1-UM", name="Tray, Line 1, upper M", kind=ItemKind.TRAY, way_of_use=WayOfUse.VISIT,
    tray_line="Line 1", arch=Arch.MAXILLARY, tray_size="M",
)  # fmt: skip
SUPPLIER = SupplierDraft(name="Supplier North", lead_days=3)


def new_clock(on: date) -> Clock:
    """A clock that stands at nine in the morning UTC."""
    return Clock(lambda: datetime(on.year, on.month, on.day, 9, tzinfo=UTC))


def new_practice(store: Store, on: date = TODAY) -> Practice:
    """A practice that is set up, on a day, at nine in the morning UTC."""
    practice = Practice(store, new_clock(on))
    setting_up.set_up(practice, SetUp(people=(PersonDraft(BY, Role.MANAGER), PersonDraft("CD"))), by=BY)
    return practice


def stocked_practice(store: Store, on: date = TODAY) -> Practice:
    """The same with items, a supplier, and a box of two cartridges with six tips."""
    practice = new_practice(store, on)
    for draft in (LIGHT, HEAVY, POWDER, TIP, BAG, TRAY):
        catalogue.add_item(practice, draft, by=BY)
    catalogue.add_supplier(practice, SUPPLIER, by=BY)
    return practice


def box(item: str, **changes: object) -> SupplyDraft:
    """A box of two of an item."""
    values = {"supplier": SUPPLIER.name, "catalogue_no": f"N-{item}", "units_per_pack": 2, "pack_cents": 3000}
    return SupplyDraft(item=item, **{**values, **changes})  # type: ignore[arg-type]
