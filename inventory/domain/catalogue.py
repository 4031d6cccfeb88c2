"""What a catalogue entry must be, before anything is kept.

The store's own rules would refuse a wrong entry too, but in its own words and one at a time. Here every fault is found
at once and said per field, in the words of the trade, so that a form can mark its fields and an imported file its
columns. Everything is pure: drafts in, faults out.
"""

from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from datetime import date
from functools import partial
from typing import Any, TypeVar

from inventory.domain.vocabulary import (
    Arch,
    BaseUnit,
    Criticality,
    ItemKind,
    SettingSpeed,
    Viscosity,
    WayOfUse,
)
from inventory.domain.words import clean, clean_code
from inventory.errors import BadInput

Value = TypeVar("Value")

ONE = 1_000_000  # shares are kept in parts per million
MOST_QTY = 10_000_000  # base units of one sealed unit: 100 L or 100 kg
MOST_UNITS = 1_000_000
MOST_CENTS = 10**11
MOST_DAYS = 36_500
MATERIALS = (ItemKind.IMPRESSION, ItemKind.BITE)
BARCODE_SCHEMES = ("gtin", "hibc", "own")


@dataclass(frozen=True, slots=True)
class Fault:
    """What is wrong with one field of a draft."""

    field: str
    message: str

    def __str__(self) -> str:
        return f"{self.field}: {self.message}"


def refuse(faults: Iterable[Fault], todo: str = "Correct it and try again.") -> None:
    """Raise all faults together.

    Raises:
        BadInput: there is at least one; its message names each field.
    """
    found = tuple(faults)
    if found:
        raise BadInput("\n".join(str(fault) for fault in found), todo)


@dataclass(frozen=True, slots=True)
class TrayLine:
    """A line of stock trays with its run of sizes by arch, smallest first; an arch without sizes isn't made."""

    name: str
    upper: tuple[str, ...]
    lower: tuple[str, ...]


def cleaned_line(line: TrayLine) -> TrayLine:
    """The line with its texts made fit to be kept.

    Raises:
        BadInput: no name, no size at all, or a size twice in one arch.
    """
    kept = TrayLine(
        clean(line.name, "tray line", 40),
        tuple(clean(size, "tray size", 12) for size in line.upper),
        tuple(clean(size, "tray size", 12) for size in line.lower),
    )
    if not kept.upper and not kept.lower:
        raise BadInput(f"tray line {kept.name}: it has no sizes.", "Name its sizes in order, e.g. S M L XL.")
    for sizes in (kept.upper, kept.lower):
        if len(set(sizes)) < len(sizes):
            raise BadInput(f"tray line {kept.name}: a size is named twice.", "Name each size once, in order.")
    return kept


def shares(sizes: int, known: Sequence[int]) -> tuple[int, ...]:
    """Expected share of each size of a run, in parts per million, summing to one million.

    Args:
        sizes: how many sizes the run has.
        known: shares of a run of which something is known; used where the length is the same.

    Returns:
        The known shares, or equal ones where nothing is known of a run of this length.
    """
    if sizes == len(known) and sum(known) == ONE:
        return tuple(known)
    whole, rest = divmod(ONE, sizes)
    return tuple(whole + (1 if place < rest else 0) for place in range(sizes))


@dataclass(frozen=True, slots=True, kw_only=True)
class ItemDraft:
    """An item as it shall stand in the catalogue. Quantities in base units of the item (``base``), texts as typed.

    ``steps`` are the codes of the visit steps that take an accessory or a tip by themselves (``bag``, ``wash`` for an
    intra-oral tip); materials and trays are found by what they are, mixing tips by the materials they fit.
    """

    code: str
    name: str
    kind: ItemKind
    way_of_use: WayOfUse
    base: BaseUnit = BaseUnit.PIECE
    unit_qty: int = 1
    unit_name: str = "piece"
    viscosity: Viscosity | None = None
    setting_speed: SettingSpeed | None = None
    family: str = ""
    tray_line: str = ""
    arch: Arch | None = None
    tray_size: str = ""
    reusable: bool = False
    opened_days: int | None = None
    opened_days_source: str = ""
    min_load_qty: int | None = None
    may_split_load: bool = False
    tip_volume_qty: int | None = None
    bleed_qty: int | None = None
    density_mg_per_ml: int | None = None
    tare_mg: int | None = None
    has_lots: bool = True
    criticality: Criticality = Criticality.ESSENTIAL
    service_ppm: int | None = None
    min_units: int | None = None
    max_units: int | None = None
    pour_within_hours: int | None = None
    contact_minutes: int | None = None
    count_every_weeks: int | None = None
    active: bool = True
    steps: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class SupplierDraft:
    """A supplier and its terms; money in cents, ``order_weekdays`` as ISO numbers (empty: any day)."""

    name: str
    lead_days: int
    order_weekdays: tuple[int, ...] = ()
    minimum_cents: int = 0
    fee_cents: int = 0
    free_from_cents: int | None = None
    takes_short_dated: bool = False
    active: bool = True


@dataclass(frozen=True, slots=True)
class PackPart:
    """A further article in a pack: the item's code and how many units of it."""

    item: str
    units: int


@dataclass(frozen=True, slots=True, kw_only=True)
class SupplyDraft:
    """An item as one supplier sells it, at a price from a day on (None: today).

    ``breaks`` are lower pack prices as (from so many packs, cents a pack).
    """

    item: str
    supplier: str
    catalogue_no: str
    units_per_pack: int
    pack_cents: int
    valid_from: date | None = None
    preferred: bool = True
    contents: tuple[PackPart, ...] = ()
    breaks: tuple[tuple[int, int], ...] = ()


@dataclass(frozen=True, slots=True)
class Wanted:
    """What a need asks for, as far as it decides which items serve it."""

    step: str
    kind: ItemKind
    viscosity: Viscosity | None
    setting_speed: SettingSpeed | None


def serves(item: ItemDraft, wanted: Wanted) -> bool:
    """Whether an item is an article for a need.

    A need without a setting speed takes any. An impression material's viscosity must be the one asked for; a need
    without one asks for a powder. Accessories and tips serve the steps they name; trays are found by line and size.
    """
    if item.kind is not wanted.kind or item.kind is ItemKind.TRAY:
        return False
    if item.kind in MATERIALS:
        if item.kind is ItemKind.IMPRESSION and item.viscosity != wanted.viscosity:
            return False
        return wanted.setting_speed is None or item.setting_speed is wanted.setting_speed
    return wanted.step in item.steps


def check_item(draft: ItemDraft) -> tuple[ItemDraft, tuple[Fault, ...]]:
    """The draft with its texts made fit to be kept, and everything that is wrong with it.

    Where there are faults the draft must not be kept.
    """
    kept, faults = _clean_item(draft)
    faults += [Fault(field, message) for field, wrong, message in _item_rules(draft) if wrong]
    faults += _ranges(draft)
    return kept, tuple(faults)


def _clean_item(draft: ItemDraft) -> tuple[ItemDraft, list[Fault]]:
    faults: list[Fault] = []
    texts: dict[str, Any] = {}
    for field, most, needed in (
        ("name", 120, True),
        ("unit_name", 24, True),
        ("family", 40, False),
        ("tray_line", 40, False),
        ("tray_size", 12, False),
        ("opened_days_source", 80, False),
    ):
        texts[field] = caught(faults, field, partial(clean, getattr(draft, field), field, most, needed=needed), "")
    texts["code"] = caught(faults, "code", partial(clean_code, draft.code, "code"), "")
    return replace(draft, **texts), faults


def caught(faults: list[Fault], field: str, read: Callable[[], Value], instead: Value) -> Value:
    """What ``read`` returns; where it refuses, its words become a fault of the field and ``instead`` stands in."""
    try:
        return read()
    except BadInput as error:
        faults.append(Fault(field, str(error).removeprefix(f"{field}: ")))
        return instead


def _item_rules(item: ItemDraft) -> Iterator[tuple[str, bool, str]]:
    """The rules of the trade and of the store as (field, whether broken, what is wrong)."""
    material = item.kind in MATERIALS
    piece = item.base is BaseUnit.PIECE
    elastomer = item.kind is ItemKind.IMPRESSION and item.base is BaseUnit.CML
    tray_words = (item.tray_line, item.arch, item.tray_size)
    yield "base", item.kind is ItemKind.BITE and item.base is not BaseUnit.CML, "bite material is kept in mL"
    yield "base", item.kind is ItemKind.IMPRESSION and piece, "impression material is kept in mL, a powder in g"
    yield "base", item.kind in (ItemKind.TRAY, ItemKind.TIP) and not piece, f"a {item.kind} is counted in pieces"
    yield "unit_qty", piece and item.unit_qty != 1, "what is counted in pieces holds 1 a unit"
    yield "viscosity", elastomer and item.viscosity is None, "type 0 to 3 is missing; it stands on the label"
    yield (
        "viscosity",
        item.viscosity is not None and not (material and item.base is BaseUnit.CML),
        "only elastomers have one",
    )
    yield "setting_speed", item.setting_speed is not None and not material, "only materials set"
    yield (
        "family",
        bool(item.family) and item.kind in (ItemKind.TRAY, ItemKind.TIP),
        "only materials and adhesives have one",
    )
    if item.kind is ItemKind.TRAY:
        yield "tray_line", not all(tray_words), "a tray needs its line, arch and size"
    else:
        yield "tray_line", any(tray_words), "only a tray has a line, arch and size"
    yield (
        "reusable",
        item.reusable and item.kind not in (ItemKind.TRAY, ItemKind.ACCESSORY),
        "only trays and accessories are reprocessed",
    )
    yield from _use_rules(item)


def _use_rules(item: ItemDraft) -> Iterator[tuple[str, bool, str]]:
    by_itself = item.kind in (ItemKind.TIP, ItemKind.ACCESSORY)
    on_the_form = (*MATERIALS, ItemKind.TRAY)
    yield (
        "way_of_use",
        item.kind in on_the_form and item.way_of_use is WayOfUse.STEP,
        "materials and trays are used by visit, or by count only",
    )
    yield "way_of_use", item.kind is ItemKind.TIP and item.way_of_use is WayOfUse.VISIT, "a tip goes with its step"
    yield "steps", bool(item.steps) and not by_itself, "only accessories and tips name steps"
    yield "steps", bool(item.steps) and item.way_of_use is WayOfUse.COUNT, "what is used by count only names none"
    yield (
        "steps",
        not item.steps and item.kind is ItemKind.ACCESSORY and item.way_of_use is WayOfUse.STEP,
        "name the steps that take one",
    )
    yield (
        "opened_days_source",
        (item.opened_days is None) != (not item.opened_days_source.strip()),
        "days opened and where they are stated go together",
    )
    yield "opened_days", item.opened_days is not None and item.kind in (ItemKind.TRAY, ItemKind.TIP), "it is not opened"
    yield "tip_volume_qty", item.tip_volume_qty is not None and item.kind is not ItemKind.TIP, "only tips keep material"
    yield (
        "bleed_qty",
        item.bleed_qty is not None and item.kind not in MATERIALS,
        "only materials are purged",
    )
    yield "min_units", (item.min_units is None) != (item.max_units is None), "give both minimum and maximum, or neither"
    yield (
        "max_units",
        item.min_units is not None and item.max_units is not None and item.max_units < item.min_units,
        "the maximum is below the minimum",
    )
    yield (
        "pour_within_hours",
        item.pour_within_hours is not None and item.kind is not ItemKind.IMPRESSION,
        "only impressions are poured",
    )
    yield (
        "contact_minutes",
        item.contact_minutes is not None and item.kind is not ItemKind.ACCESSORY,
        "only a disinfectant has a contact time",
    )


def _ranges(item: ItemDraft) -> list[Fault]:
    """Figures outside what can be kept or can be meant."""
    limits = (
        ("unit_qty", 1, MOST_QTY),
        ("opened_days", 0, MOST_DAYS),
        ("min_load_qty", 0, MOST_QTY),
        ("tip_volume_qty", 0, MOST_QTY),
        ("bleed_qty", 0, MOST_QTY),
        ("density_mg_per_ml", 100, 20_000),
        ("tare_mg", 0, 100_000_000),
        ("service_ppm", 1, ONE - 1),
        ("min_units", 0, MOST_UNITS),
        ("max_units", 0, MOST_UNITS),
        ("pour_within_hours", 1, 24 * 365),
        ("contact_minutes", 1, 24 * 60),
        ("count_every_weeks", 1, 520),
    )
    return [fault for field, least, most in limits if (fault := in_range(item, field, least, most))]


def in_range(draft: object, field: str, least: int, most: int) -> Fault | None:
    """A fault where a draft's whole number is there and outside its range."""
    value = getattr(draft, field)
    if value is None or least <= value <= most:
        return None
    return Fault(field, f"{value} is not from {least} to {most}")


def check_supplier(draft: SupplierDraft) -> tuple[SupplierDraft, tuple[Fault, ...]]:
    """The draft with its name made fit to be kept, and everything that is wrong with it."""
    faults: list[Fault] = []
    name = caught(faults, "name", partial(clean, draft.name, "name", 80), "")
    for field, most in (("lead_days", 366), ("minimum_cents", MOST_CENTS), ("fee_cents", MOST_CENTS),
                        ("free_from_cents", MOST_CENTS)):  # fmt: skip
        if fault := in_range(draft, field, 0, most):
            faults.append(fault)
    if any(day not in range(1, 8) for day in draft.order_weekdays):
        faults.append(Fault("order_weekdays", "days of the week are 1 (Monday) to 7 (Sunday)"))
    return replace(draft, name=name, order_weekdays=tuple(sorted(set(draft.order_weekdays)))), tuple(faults)


def check_supply(draft: SupplyDraft) -> tuple[SupplyDraft, tuple[Fault, ...]]:
    """The draft with its texts made fit to be kept, and everything that is wrong with it."""
    faults: list[Fault] = []
    item = caught(faults, "item", partial(clean_code, draft.item, "item"), "")
    number = caught(faults, "catalogue_no", partial(clean, draft.catalogue_no, "catalogue_no", 60), "")
    contents = tuple(
        PackPart(caught(faults, "contents", partial(clean_code, part.item, "contents"), ""), part.units)
        for part in draft.contents
    )
    codes = [part.item for part in contents]
    rules = (
        ("contents", item in codes, "the pack's own item is not a further article of it"),
        ("contents", len(set(codes)) < len(codes), "an article is named twice"),
        ("contents", any(not 1 <= part.units <= MOST_UNITS for part in contents), "units must be 1 or more"),
        ("breaks", any(start < 2 or not 0 <= cents <= MOST_CENTS for start, cents in draft.breaks),
         "a lower price starts at 2 packs or more"),
        ("breaks", len({start for start, _ in draft.breaks}) < len(draft.breaks), "two prices from the same number"),
    )  # fmt: skip
    faults += [Fault(field, message) for field, wrong, message in rules if wrong]
    for field, least, most in (("units_per_pack", 1, MOST_UNITS), ("pack_cents", 0, MOST_CENTS)):
        if fault := in_range(draft, field, least, most):
            faults.append(fault)
    kept = replace(draft, item=item, catalogue_no=number, supplier=draft.supplier.strip(), contents=contents)
    return kept, tuple(faults)


def gtin14(digits: str) -> str:
    """A GTIN-8, -12, -13 or -14 padded to 14 digits, so that all compare equal.

    The last digit is checked with weights 3 and 1 from the right (GS1 General Specifications 7.9).

    Raises:
        BadInput: another length, other signs, or a wrong check digit.
    """
    if not (digits.isascii() and digits.isdigit() and len(digits) in (8, 12, 13, 14)):
        raise BadInput(f"code: {digits!r} is not a GTIN.", "A GTIN has 8, 12, 13 or 14 digits.")
    if check_digit(digits[:-1]) != digits[-1]:
        raise BadInput(f"code: the last digit of {digits} does not fit the others.", "Scan or type it again.")
    return digits.zfill(14)


def check_digit(body: str) -> str:
    """Check digit of a GTIN's other digits: weights 3, 1, 3 ... from the right, up to the next ten."""
    total = sum(int(digit) * (3 if place % 2 == 0 else 1) for place, digit in enumerate(reversed(body)))
    return str(-total % 10)
