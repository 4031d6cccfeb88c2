"""The catalogue: what the practice stocks, from whom, in which packs."""

from datetime import date

from sqlalchemy import CheckConstraint, UniqueConstraint
from sqlmodel import Field, SQLModel

from inventory.domain.vocabulary import (
    Arch,
    BaseUnit,
    Criticality,
    ItemKind,
    SettingSpeed,
    Viscosity,
    WayOfUse,
)
from inventory.store.columns import key, link, short_text, whole, words


class Supplier(SQLModel, table=True):
    __table_args__ = (
        CheckConstraint("lead_days >= 0", name="lead_days"),
        CheckConstraint("minimum_cents >= 0 AND fee_cents >= 0", name="terms"),
    )

    id: int | None = key()
    name: str = short_text(80, unique=True)
    lead_days: int
    order_weekdays: str = short_text(13, default="")  # ISO weekday numbers, e.g. "1,4"; empty: any day
    minimum_cents: int = whole(default=0)
    fee_cents: int = whole(default=0)
    free_from_cents: int | None = whole(nullable=True)
    takes_short_dated: bool = False
    active: bool = True


class TraySize(SQLModel, table=True):
    """The practice's own ordered run of sizes, by tray line and arch."""

    __tablename__ = "tray_size"

    line: str = Field(primary_key=True, max_length=40)
    arch: Arch = words(Arch, "arch", primary=True)
    label: str = Field(primary_key=True, max_length=12)
    position: int


class Item(SQLModel, table=True):
    """A thing the practice stocks: one article with its unit and its rules."""

    __table_args__ = (
        CheckConstraint("unit_qty > 0", name="unit_qty"),
        CheckConstraint("base <> 'piece' OR unit_qty = 1", name="piece_unit"),
        CheckConstraint("kind <> 'bite' OR base = 'cml'", name="bite"),
        CheckConstraint("kind <> 'impression' OR base IN ('cml', 'cg')", name="impression"),
        CheckConstraint("kind NOT IN ('tray', 'tip') OR base = 'piece'", name="counted"),
        CheckConstraint(
            "(kind = 'tray') = (tray_line IS NOT NULL AND arch IS NOT NULL AND tray_size IS NOT NULL)",
            name="tray",
        ),
        CheckConstraint("viscosity IS NULL OR (kind IN ('impression', 'bite') AND base = 'cml')", name="viscosity"),
        CheckConstraint("opened_days IS NULL OR opened_days >= 0", name="opened_days"),
        CheckConstraint("(opened_days IS NULL) = (opened_days_source IS NULL)", name="opened_days_source"),
        CheckConstraint(
            "COALESCE(min_load_qty, 0) >= 0 AND COALESCE(tip_volume_qty, 0) >= 0 AND COALESCE(bleed_qty, 0) >= 0",
            name="not_negative",
        ),
        CheckConstraint("service_ppm IS NULL OR (service_ppm > 0 AND service_ppm < 1000000)", name="service"),
        CheckConstraint(
            "(min_units IS NULL) = (max_units IS NULL) AND COALESCE(max_units >= min_units, TRUE)", name="rule"
        ),
    )

    id: int | None = key()
    code: str = short_text(40, unique=True)
    name: str = short_text(120)
    kind: ItemKind = words(ItemKind, "kind")
    base: BaseUnit = words(BaseUnit, "base")
    unit_qty: int = whole()  # content of one sealed unit in base units; 1 for pieces
    unit_name: str = short_text(24)
    way_of_use: WayOfUse = words(WayOfUse, "way_of_use")
    viscosity: Viscosity | None = words(Viscosity, "viscosity_type", nullable=True)
    setting_speed: SettingSpeed | None = words(SettingSpeed, "setting_speed", nullable=True)
    family: str | None = short_text(40, nullable=True)
    tray_line: str | None = short_text(40, nullable=True)
    arch: Arch | None = words(Arch, "arch", nullable=True)
    tray_size: str | None = short_text(12, nullable=True)
    reusable: bool = False
    opened_days: int | None = None  # None: not stated
    opened_days_source: str | None = short_text(80, nullable=True)  # the leaflet, or the practice's own rule
    min_load_qty: int | None = whole(nullable=True)
    may_split_load: bool = False
    tip_volume_qty: int | None = whole(nullable=True)  # of a tip: what stays in it, in cml
    bleed_qty: int | None = whole(nullable=True)  # of a material: purged at each new tip
    density_mg_per_ml: int | None = None
    tare_mg: int | None = None
    has_lots: bool = True
    criticality: Criticality = words(Criticality, "criticality", default=Criticality.ESSENTIAL)
    service_ppm: int | None = None
    min_units: int | None = None  # the practice's own rule: at or below min, order up to max
    max_units: int | None = None
    pour_within_hours: int | None = None
    contact_minutes: int | None = None  # of a disinfectant
    count_every_weeks: int | None = None  # the practice's own interval; None: by value and criticality
    active: bool = True


class ItemFits(SQLModel, table=True):
    """Which tip or adhesive goes with which material."""

    __tablename__ = "item_fits"

    fitting_id: int = link("item.id", primary=True, index=False)
    material_id: int = link("item.id", primary=True)


class Supply(SQLModel, table=True):
    """An item as one supplier sells it: catalogue number, units in a pack, price of a pack from a day on."""

    __table_args__ = (
        UniqueConstraint("item_id", "supplier_id", "units_per_pack", "valid_from"),
        CheckConstraint("units_per_pack > 0", name="units"),
        CheckConstraint("pack_cents >= 0", name="price"),
    )

    id: int | None = key()
    item_id: int = link("item.id", index=False)
    supplier_id: int = link("supplier.id")
    catalogue_no: str = short_text(60)
    units_per_pack: int
    pack_cents: int = whole()
    valid_from: date
    preferred: bool = True


class PackContent(SQLModel, table=True):
    """A further article in the same pack, e.g. the tips in a box of cartridges."""

    __tablename__ = "pack_content"
    __table_args__ = (CheckConstraint("units > 0", name="units"),)

    supply_id: int = link("supply.id", primary=True, index=False)
    item_id: int = link("item.id", primary=True)
    units: int


class PriceBreak(SQLModel, table=True):
    __tablename__ = "price_break"
    __table_args__ = (CheckConstraint("from_packs > 1 AND pack_cents >= 0", name="terms"),)

    supply_id: int = link("supply.id", primary=True, index=False)
    from_packs: int = Field(primary_key=True)
    pack_cents: int = whole()


class Barcode(SQLModel, table=True):
    """What a scanned code means: an item and how many units of it one such package holds."""

    __table_args__ = (
        UniqueConstraint("scheme", "code"),
        CheckConstraint("scheme IN ('gtin', 'hibc', 'own')", name="scheme"),
        CheckConstraint("units > 0", name="units"),
    )

    id: int | None = key()
    scheme: str = short_text(8)
    code: str = short_text(80)
    item_id: int = link("item.id")
    units: int


class StockRule(SQLModel, table=True):
    """A chair's own level, to which it is topped up from the store room."""

    __tablename__ = "stock_rule"
    __table_args__ = (CheckConstraint("top_up_to_units > 0", name="units"),)

    item_id: int = link("item.id", primary=True, index=False)
    place_id: int = link("place.id", primary=True)
    top_up_to_units: int
