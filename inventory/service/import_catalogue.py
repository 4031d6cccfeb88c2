"""Files of the catalogue and of the practice itself: each row read into a draft, checked as a form would check it.

An intake reads rows one by one, noting faults on them, and saves at the end what had none. It never writes before.
"""

import re
from collections.abc import Callable, Mapping
from dataclasses import replace
from typing import Any

from inventory.domain.catalogue import (
    Fault,
    ItemDraft,
    PackPart,
    SupplierDraft,
    SupplyDraft,
    TrayLine,
    cleaned_line,
)
from inventory.domain.quantity import PER_SIGN, parse_decimal
from inventory.domain.vocabulary import (
    Arch,
    BaseUnit,
    Criticality,
    ItemKind,
    PlaceRole,
    Role,
    SettingSpeed,
    Viscosity,
    WayOfUse,
)
from inventory.domain.words import clean, clean_code, clean_initials
from inventory.errors import BadInput
from inventory.service import setting_up
from inventory.service.catalogue_book import Book, as_draft
from inventory.service.import_rows import Row
from inventory.service.practice import Desk
from inventory.service.setting_up import PersonDraft, PlaceDraft
from inventory.store.queries import catalogue as queries
from inventory.store.queries import people
from inventory.store.tables import Item, Supplier

ARCHES: Mapping[str, Arch] = {
    "upper": Arch.MAXILLARY, "lower": Arch.MANDIBULAR, "maxillary": Arch.MAXILLARY, "mandibular": Arch.MANDIBULAR,
}  # fmt: skip
UNITS: Mapping[str, BaseUnit] = {
    "ml": BaseUnit.CML, "g": BaseUnit.CG, "piece": BaseUnit.PIECE, "pieces": BaseUnit.PIECE, "pcs": BaseUnit.PIECE,
}  # fmt: skip
VISCOSITIES: Mapping[str, Viscosity] = {
    **{str(int(one)): one for one in Viscosity},
    **{one.name.casefold(): one for one in Viscosity},
}
WEEKDAYS = ("mon", "tue", "wed", "thu", "fri", "sat", "sun")
MATERIAL_WAYS = {
    ItemKind.IMPRESSION: WayOfUse.VISIT, ItemKind.BITE: WayOfUse.VISIT, ItemKind.TRAY: WayOfUse.VISIT,
    ItemKind.TIP: WayOfUse.STEP,
}  # fmt: skip
UNIT_NAMES = {BaseUnit.CML: "cartridge", BaseUnit.CG: "bag", BaseUnit.PIECE: "piece"}
_PAIR = re.compile(r"([^:\s]+):([0-9.,]+)")


class Intake:
    """Reads rows of one kind of file and saves what is right; ``update`` lets a row change what is known already."""

    def __init__(self, desk: Desk, person_id: int, *, update: bool) -> None:
        self.desk, self.person_id, self.update = desk, person_id, update
        self.added = self.updated = 0
        self.warnings: list[str] = []
        self._seen: dict[object, int] = {}

    def prepare(self, rows: tuple[Row, ...]) -> None:
        """Look up at once what the rows will ask for."""

    def read(self, row: Row) -> None:
        """Read one row; what is wrong becomes its faults."""
        raise NotImplementedError

    def keep_together(self, rows: tuple[Row, ...]) -> None:
        """Where the right rows alone are taken in: fault those that make no sense without one that is wrong."""

    def save(self) -> None:
        """Write what was read without a fault."""
        raise NotImplementedError

    def once(self, row: Row, column: str, key: object) -> None:
        """A fault where an earlier row has the same key."""
        first = self._seen.setdefault(key, row.number)
        if first != row.number:
            row.fault(column, f"row {first} says this already")

    def refuse_known(self, row: Row, column: str, what: str, *, known: bool) -> None:
        """A fault where something is known already and the file may not change it."""
        if known and not self.update:
            row.fault(column, f"{what} is known already; import with update to change it")


def words_of(kind: type[Any]) -> dict[str, Any]:
    """The words of an enumeration as people write them."""
    return {str(member.value).replace("_", " "): member for member in kind}


def note(row: Row, faults: tuple[Fault, ...], columns: Mapping[str, str]) -> None:
    """Note a draft's faults under the columns that its fields come from."""
    for fault in faults:
        row.fault(columns.get(fault.field, fault.field), fault.message)


class PeopleIntake(Intake):
    def __init__(self, desk: Desk, person_id: int, *, update: bool) -> None:
        super().__init__(desk, person_id, update=update)
        self._known = {one.initials for one in queries.all_people(desk.session)}
        self._drafts: list[PersonDraft] = []

    def read(self, row: Row) -> None:
        initials = row.parsed("initials", clean_initials, "")
        role = row.choice("role", words_of(Role), Role.ASSISTANT)
        self.refuse_known(row, "initials", initials, known=initials in self._known)
        self.once(row, "initials", initials)
        if not row.faults:
            self._drafts.append(PersonDraft(initials, role))

    def save(self) -> None:
        setting_up.save_people(self.desk, self.person_id, self._drafts)
        self.updated = sum(draft.initials in self._known for draft in self._drafts)
        self.added = len(self._drafts) - self.updated


class PlacesIntake(Intake):
    def __init__(self, desk: Desk, person_id: int, *, update: bool) -> None:
        super().__init__(desk, person_id, update=update)
        self._known = {one.name.casefold(): one for one in people.places(desk.session)}
        self._drafts: list[PlaceDraft] = []

    def read(self, row: Row) -> None:
        name = row.parsed("name", lambda text: clean(text, "name", 60), "")
        role = row.choice("role", words_of(PlaceRole), PlaceRole.STORE)
        known = self._known.get(name.casefold())
        self.refuse_known(row, "name", name, known=known is not None)
        self.once(row, "name", name.casefold())
        if known is not None and known.role is not role and queries.stock_at(self.desk.session, known.id or 0):
            row.fault("role", f"stock still stands at {known.name}; move it elsewhere first")
        if not row.faults:
            self._drafts.append(PlaceDraft(name, role))

    def save(self) -> None:
        setting_up.save_places(self.desk, self.person_id, self._drafts)
        setting_up.keep_a_store_room(self.desk)
        self.updated = sum(draft.name.casefold() in self._known for draft in self._drafts)
        self.added = len(self._drafts) - self.updated


class TraySizesIntake(Intake):
    def __init__(self, desk: Desk, person_id: int, *, update: bool) -> None:
        super().__init__(desk, person_id, update=update)
        self._known = {
            (line.name, arch, size)
            for line in queries.tray_lines(desk.session)
            for arch, sizes in ((Arch.MAXILLARY, line.upper), (Arch.MANDIBULAR, line.lower))
            for size in sizes
        }
        self._runs: dict[str, dict[Arch, list[str]]] = {}

    def read(self, row: Row) -> None:
        line = row.parsed("line", lambda text: clean(text, "line", 40), "")
        size = row.parsed("size", lambda text: clean(text, "size", 12), "")
        arch = row.choice("arch", ARCHES, Arch.MAXILLARY)
        if not row.faults:
            self.once(row, "size", (line, arch, size))
            self.refuse_known(row, "size", f"{line} {row.text('arch')} {size}", known=(line, arch, size) in self._known)
        if not row.faults:
            self._runs.setdefault(line, {one: [] for one in Arch})[arch].append(size)
            self.added += (line, arch, size) not in self._known

    def save(self) -> None:
        for line, run in self._runs.items():
            kept = cleaned_line(TrayLine(line, tuple(run[Arch.MAXILLARY]), tuple(run[Arch.MANDIBULAR])))
            setting_up.save_tray_line(self.desk, kept)
            sizes = f"upper {' '.join(kept.upper)}; lower {' '.join(kept.lower)}"
            self.desk.log_change(self.person_id, "tray_line", line, {"sizes": (None, sizes)}, "import")


class BookIntake(Intake):
    """An intake that writes into the catalogue."""

    def __init__(self, desk: Desk, person_id: int, *, update: bool) -> None:
        super().__init__(desk, person_id, update=update)
        self.book = Book(desk, person_id, "import")


class SuppliersIntake(BookIntake):
    _COLUMNS: Mapping[str, str] = {"minimum_cents": "minimum", "fee_cents": "fee", "free_from_cents": "free_from"}

    def __init__(self, desk: Desk, person_id: int, *, update: bool) -> None:
        super().__init__(desk, person_id, update=update)
        self._drafts: list[tuple[SupplierDraft, Supplier | None]] = []

    def read(self, row: Row) -> None:
        known = self.book.suppliers.get(row.text("name").casefold())
        draft = SupplierDraft(
            name=row.text("name"),
            lead_days=row.whole("lead_days", 0) or 0,
            order_weekdays=row.parsed("order_weekdays", _weekdays, ()),
            minimum_cents=row.scaled("minimum", 100, 0) or 0,
            fee_cents=row.scaled("fee", 100, 0) or 0,
            free_from_cents=row.scaled("free_from", 100),
            takes_short_dated=row.yes("takes_short_dated"),
            active=row.yes("active", empty=True),
        )
        kept, faults = self.book.check_supplier(draft, known)
        note(row, faults, self._COLUMNS)
        self.refuse_known(row, "name", kept.name, known=known is not None)
        self.once(row, "name", kept.name.casefold())
        if not row.faults:
            self._drafts.append((kept, known))

    def save(self) -> None:
        self.book.save_suppliers(self._drafts)
        self.updated = sum(known is not None for _, known in self._drafts)
        self.added = len(self._drafts) - self.updated


class ItemsIntake(BookIntake):
    _FIELDS: Mapping[str, str] = {
        "base": "unit", "unit_qty": "content", "setting_speed": "set", "min_load_qty": "min_load",
        "tip_volume_qty": "tip_volume", "bleed_qty": "purge", "density_mg_per_ml": "density", "tare_mg": "tare",
        "service_ppm": "service", "min_units": "min", "max_units": "max",
    }  # fmt: skip

    def __init__(self, desk: Desk, person_id: int, *, update: bool) -> None:
        super().__init__(desk, person_id, update=update)
        self._drafts: list[tuple[ItemDraft, Item | None]] = []

    def read(self, row: Row) -> None:
        code = row.parsed("code", lambda text: clean_code(text, "code"), "")
        kind = row.choice("kind", words_of(ItemKind), None)
        known = self.book.items.get(code)
        self.refuse_known(row, "code", code, known=known is not None)
        self.once(row, "code", code)
        if kind is None:
            return
        kept, faults = self.book.check_item(self._draft(row, code, kind, known), known)
        note(row, faults, self._FIELDS)
        if kind is ItemKind.TRAY and kept.active:
            self.once(row, "tray_size", (kept.tray_line, kept.arch, kept.tray_size))
        if not row.faults:
            self._drafts.append((kept, known))

    def _draft(self, row: Row, code: str, kind: ItemKind, known: Item | None) -> ItemDraft:
        """The draft: for a known item its present fields where the file has no such column, else the defaults."""
        if known is None:
            default = BaseUnit.CML if kind in (ItemKind.IMPRESSION, ItemKind.BITE) else BaseUnit.PIECE
            start = ItemDraft(
                code=code, name=row.text("name"), kind=kind, way_of_use=MATERIAL_WAYS.get(kind, WayOfUse.COUNT),
                unit_name=UNIT_NAMES[row.choice("unit", UNITS, default)], base=default,
            )  # fmt: skip
        else:
            start = as_draft(known, self.book.slots.values())
        base = row.choice("unit", UNITS, start.base)
        if base is not BaseUnit.PIECE and not row.text("content") and (known is None or row.has("content")):
            row.fault("content", "how much one unit holds is missing")
        read = self._readers(row, start, base)
        present = {
            name: made() for name, made in read.items() if row.has(self._FIELDS.get(name, name)) or known is None
        }
        return replace(start, **{**present, "kind": kind, "base": base})

    def _readers(self, row: Row, start: ItemDraft, base: BaseUnit) -> dict[str, Callable[[], Any]]:
        per = PER_SIGN[base]
        default_unit = 1 if base is BaseUnit.PIECE else 0
        return {
            "name": lambda: row.text("name"),
            "unit_qty": lambda: row.scaled("content", per, default_unit),
            "unit_name": lambda: row.text("unit_name") or UNIT_NAMES[base],
            "way_of_use": lambda: row.choice("way_of_use", words_of(WayOfUse), start.way_of_use),
            "viscosity": lambda: row.choice("viscosity", VISCOSITIES, None),
            "setting_speed": lambda: row.choice("set", words_of(SettingSpeed), None),
            "family": lambda: row.text("family"),
            "tray_line": lambda: row.text("tray_line"),
            "arch": lambda: row.choice("arch", ARCHES, None),
            "tray_size": lambda: row.text("tray_size"),
            "reusable": lambda: row.yes("reusable"),
            "opened_days": lambda: row.whole("opened_days"),
            "opened_days_source": lambda: row.text("opened_days_source"),
            "min_load_qty": lambda: row.scaled("min_load", per),
            "may_split_load": lambda: row.yes("may_split_load"),
            "tip_volume_qty": lambda: row.scaled("tip_volume", PER_SIGN[BaseUnit.CML]),
            "bleed_qty": lambda: row.scaled("purge", per),
            "density_mg_per_ml": lambda: row.whole("density"),
            "tare_mg": lambda: row.scaled("tare", 1000),
            "has_lots": lambda: row.yes("has_lots", empty=True),
            "criticality": lambda: row.choice("criticality", words_of(Criticality), Criticality.ESSENTIAL),
            "service_ppm": lambda: row.scaled("service", 10_000),
            "min_units": lambda: row.whole("min"),
            "max_units": lambda: row.whole("max"),
            "pour_within_hours": lambda: row.whole("pour_within_hours"),
            "contact_minutes": lambda: row.whole("contact_minutes"),
            "count_every_weeks": lambda: row.whole("count_every_weeks"),
            "steps": lambda: tuple(row.text("steps").casefold().replace(",", " ").split()),
            "active": lambda: row.yes("active", empty=True),
        }

    def save(self) -> None:
        rows = self.book.save_items(self._drafts)
        self.updated = sum(known is not None for _, known in self._drafts)
        self.added = len(self._drafts) - self.updated
        self.warnings += self.book.warnings(rows)


class SuppliesIntake(BookIntake):
    _COLUMNS: Mapping[str, str] = {"pack_cents": "price"}

    def __init__(self, desk: Desk, person_id: int, *, update: bool) -> None:
        super().__init__(desk, person_id, update=update)
        self._drafts: list[SupplyDraft] = []
        self._days: dict[tuple[int, int, int], list[Any]] = {}
        for row in sorted(queries.supply_rows(desk.session), key=lambda row: row.valid_from):
            self._days.setdefault((row.item_id, row.supplier_id, row.units_per_pack), []).append(row.valid_from)

    def read(self, row: Row) -> None:
        nothing: tuple[tuple[str, int], ...] = ()
        draft = SupplyDraft(
            item=row.text("item"),
            supplier=row.text("supplier"),
            catalogue_no=row.text("catalogue_no"),
            units_per_pack=row.whole("units_per_pack", 1) or 0,
            pack_cents=row.scaled("price", 100, 0) or 0,
            valid_from=row.day("valid_from"),
            preferred=row.yes("preferred", empty=True),
            contents=tuple(PackPart(code, units) for code, units in row.parsed("contents", _pairs(1), nothing)),
            breaks=tuple((int(packs), cents) for packs, cents in row.parsed("breaks", _breaks, nothing)),
        )
        days = self._known_days(draft)
        if days and not row.text("valid_from"):
            draft = replace(draft, valid_from=days[-1])
        kept, faults = self.book.check_supply(draft)
        note(row, faults, self._COLUMNS)
        known = kept.valid_from in days
        self.refuse_known(row, "valid_from", f"this pack at its price from {kept.valid_from}", known=known)
        self.once(row, "item", (kept.item, kept.supplier.casefold(), kept.units_per_pack, kept.valid_from))
        if not row.faults:
            self._drafts.append(kept)
            self.updated += known
            self.added += not known

    def _known_days(self, draft: SupplyDraft) -> list[Any]:
        item = self.book.items.get(draft.item.upper())
        supplier = self.book.suppliers.get(draft.supplier.casefold())
        if item is None or supplier is None:
            return []
        return self._days.get((item.id or 0, supplier.id or 0, draft.units_per_pack), [])

    def save(self) -> None:
        self.book.save_supplies(self._drafts)


class FitsIntake(BookIntake):
    def __init__(self, desk: Desk, person_id: int, *, update: bool) -> None:
        super().__init__(desk, person_id, update=update)
        codes = {row.id: code for code, row in self.book.items.items()}
        self._fits: dict[str, set[str]] = {}
        for fitting, material in queries.fits(desk.session):
            self._fits.setdefault(codes[fitting], set()).add(codes[material])

    def read(self, row: Row) -> None:
        fitting, material = row.text("fitting").upper(), row.text("material").upper()
        note(row, self.book.check_fit(fitting, [material]), {})
        self.once(row, "material", (fitting, material))
        if not row.faults and material not in self._fits.setdefault(fitting, set()):
            self._fits[fitting].add(material)
            self.added += 1

    def save(self) -> None:
        self.book.save_fits({fitting: sorted(materials) for fitting, materials in self._fits.items()})
        self.warnings += self.book.warnings(self.book.items.values())


def _weekdays(text: str) -> tuple[int, ...]:
    days = []
    for word in text.replace(",", " ").casefold().split():
        if word in ("1", "2", "3", "4", "5", "6", "7"):
            days.append(int(word))
        elif word[:3] in WEEKDAYS:
            days.append(WEEKDAYS.index(word[:3]) + 1)
        else:
            raise BadInput(f"{word!r} is not a day of the week.", "Write e.g. mon thu, or 1 4.")
    return tuple(days)


def _pairs(per_unit: int) -> Callable[[str], tuple[tuple[str, int], ...]]:
    """Reads ``TIP-1:6 BAG:1``: words with a number each."""

    def read(text: str) -> tuple[tuple[str, int], ...]:
        found = []
        for word in text.split():
            match = _PAIR.fullmatch(word)
            if match is None or len(match[2]) > 15:
                raise BadInput(f"{word!r} can't be read.", "Write e.g. TIP-1:6, several parted by blanks.")
            found.append((match[1], parse_decimal(match[2], per_unit, "number")))
        return tuple(found)

    return read


def _breaks(text: str) -> tuple[tuple[str, int], ...]:
    pairs = _pairs(100)(text)
    if not all(packs.isascii() and packs.isdigit() and len(packs) < 7 for packs, _ in pairs):
        raise BadInput(f"{text!r} can't be read.", "Write e.g. 5:36.00, the number of packs first.")
    return pairs
