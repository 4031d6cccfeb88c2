"""The catalogue: what the practice stocks, from whom, in which packs, and which article serves which need.

Readings return everything a form shows. Every change is checked field by field first and logged with who, when and why;
nothing is deleted, an item or a supplier is taken out by ``active=False``.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, fields
from datetime import date

from inventory.domain.catalogue import (
    BARCODE_SCHEMES,
    MOST_UNITS,
    Fault,
    ItemDraft,
    SupplierDraft,
    SupplyDraft,
    TrayLine,
    cleaned_line,
    gtin14,
    refuse,
)
from inventory.domain.quantity import show
from inventory.domain.vocabulary import Arch, BaseUnit, Criticality, ItemKind, SettingSpeed, Viscosity
from inventory.domain.words import clean
from inventory.errors import NotAllowed, NotFound
from inventory.service import recalling
from inventory.service.catalogue_book import Book, as_draft, checked, needs_tip, no_tip
from inventory.service.practice import Desk, Practice
from inventory.service.setting_up import save_tray_line
from inventory.store.queries import catalogue as queries
from inventory.store.queries.catalogue import NeedSlot, SupplyRow
from inventory.store.tables import Barcode, Item, Supplier


@dataclass(frozen=True, slots=True)
class ItemLine:
    """An item in a list; ``unit`` as people say it (``50 mL cartridge``)."""

    item_id: int
    code: str
    name: str
    kind: ItemKind
    unit: str
    viscosity: Viscosity | None
    setting_speed: SettingSpeed | None
    family: str
    criticality: Criticality
    active: bool


@dataclass(frozen=True, slots=True)
class SupplyCard:
    """How an item is bought: from whom, under which number, in which pack, at which price from which day on.

    ``contents`` are further articles in the pack as (item code, units); ``breaks`` lower prices as (from packs, cents).
    """

    supply_id: int
    item: str
    supplier: str
    catalogue_no: str
    units_per_pack: int
    pack_cents: int
    valid_from: date
    preferred: bool
    contents: tuple[tuple[str, int], ...]
    breaks: tuple[tuple[int, int], ...]


@dataclass(frozen=True, slots=True)
class BarcodeCard:
    """What a scanned code means; a GTIN has 14 digits."""

    scheme: str
    code: str
    units: int


@dataclass(frozen=True, slots=True)
class Article:
    item_id: int
    code: str
    name: str


@dataclass(frozen=True, slots=True)
class NeedCard:
    """What a step of a case kind asks for and what serves it: the practice's article first, then its substitutes."""

    need_id: int
    case_kind: str
    case_kind_name: str
    step: str
    step_name: str
    arch: Arch | None
    kind: ItemKind
    viscosity: Viscosity | None
    setting_speed: SettingSpeed | None
    tray_line: str | None
    optional: bool
    articles: tuple[Article, ...]


@dataclass(frozen=True, slots=True)
class ItemCard:
    """Everything a form shows of an item.

    ``fits`` are codes: of a tip or adhesive its materials, of a material its tips and adhesives.
    """

    item_id: int
    draft: ItemDraft
    supplies: tuple[SupplyCard, ...]
    fits: tuple[str, ...]
    barcodes: tuple[BarcodeCard, ...]
    needs: tuple[NeedCard, ...]
    warnings: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class SupplierCard:
    supplier_id: int
    draft: SupplierDraft


@dataclass(frozen=True, slots=True)
class Saved:
    """The number of what was saved, its code or name, and what will be missed though nothing is wrong."""

    row_id: int
    name: str
    warnings: tuple[str, ...] = ()


# readings


def items(
    practice: Practice, *, kind: ItemKind | None = None, search: str = "", taken_out: bool = False
) -> tuple[ItemLine, ...]:
    """Items by kind and code; ``search`` looks in code, name and family, upper or lower case alike."""
    sought = search.strip().casefold()
    with practice.reading() as desk:
        return tuple(
            _line(row)
            for row in queries.items(desk.session)
            if (row.active or taken_out)
            and (kind is None or row.kind is kind)
            and sought in f"{row.code} {row.name} {row.family or ''}".casefold()
        )


def item(practice: Practice, code: str) -> ItemCard:
    """One item with its supplies, fits, codes and the needs it serves.

    Raises:
        NotFound: no such code.
    """
    with practice.reading() as desk:
        row = _item(desk, code)
        codes = {one.id or 0: one for one in queries.items(desk.session)}
        slots = queries.needs(desk.session)
        return ItemCard(
            item_id=row.id or 0,
            draft=as_draft(row, slots),
            supplies=tuple(_supply(one, codes) for one in queries.supplies(desk.session, [row.id or 0])),
            fits=_fits(desk, row, codes),
            barcodes=tuple(
                BarcodeCard(b.scheme, b.code, b.units) for b in queries.barcodes_of(desk.session, row.id or 0)
            ),
            needs=tuple(_need(slot, codes) for slot in slots if row.id in slot.item_ids),
            warnings=(no_tip(row),) if needs_tip(row) and not _has_tip(desk, row, codes) else (),
        )


def suppliers(practice: Practice) -> tuple[SupplierCard, ...]:
    """All suppliers by name, taken-out ones too."""
    with practice.reading() as desk:
        return tuple(SupplierCard(row.id or 0, _terms(row)) for row in queries.suppliers(desk.session))


def supplies(practice: Practice, *, supplier: str = "") -> tuple[SupplyCard, ...]:
    """How everything is bought, all prices; of one supplier where it is named."""
    wanted = supplier.strip().casefold()
    with practice.reading() as desk:
        codes = {one.id or 0: one for one in queries.items(desk.session)}
        rows = queries.supplies(desk.session)
        return tuple(_supply(row, codes) for row in rows if not wanted or row.supplier.casefold() == wanted)


def tray_lines(practice: Practice) -> tuple[TrayLine, ...]:
    """All tray lines with their runs of sizes."""
    with practice.reading() as desk:
        return queries.tray_lines(desk.session)


def needs(practice: Practice, *, case_kind: str = "") -> tuple[NeedCard, ...]:
    """What every step asks for and what serves it; of one case kind where it is named."""
    with practice.reading() as desk:
        codes = {one.id or 0: one for one in queries.items(desk.session)}
        slots = queries.needs(desk.session)
        return tuple(_need(slot, codes) for slot in slots if not case_kind or slot.case_kind == case_kind)


def warnings(practice: Practice) -> tuple[str, ...]:
    """What is missing in the catalogue though nothing is wrong: materials without a mixing tip."""
    with practice.reading() as desk:
        codes = {one.id or 0: one for one in queries.items(desk.session)}
        return tuple(no_tip(row) for row in codes.values() if needs_tip(row) and not _has_tip(desk, row, codes))


# changes


def add_item(practice: Practice, draft: ItemDraft, *, by: str) -> Saved:
    """Add an item; every need that it serves lists it behind its other articles.

    Raises:
        BadInput: every field that is wrong, in words.
    """
    with practice.writing() as desk:
        book = Book(desk, desk.person(by))
        row = book.save_items([(checked(book.check_item(draft)), None)])[0]
        return Saved(row.id or 0, row.code, book.warnings([row]))


def change_item(practice: Practice, code: str, draft: ItemDraft, *, by: str, reason: str = "") -> Saved:
    """Change an item (all fields as they shall be; another ``draft.code`` renames it).

    Raises:
        NotFound: no such code.
        BadInput: every field that is wrong, in words.
    """
    with practice.writing() as desk:
        book = Book(desk, desk.person(by), clean(reason, "reason", 500, needed=False))
        old = _item(desk, code)
        row = book.save_items([(checked(book.check_item(draft, old)), old)])[0]
        return Saved(row.id or 0, row.code, book.warnings([row]))


def add_supplier(practice: Practice, draft: SupplierDraft, *, by: str) -> Saved:
    """Add a supplier.

    Raises:
        BadInput: every field that is wrong, in words.
    """
    with practice.writing() as desk:
        book = Book(desk, desk.person(by))
        row = book.save_suppliers([(checked(book.check_supplier(draft)), None)])[0]
        return Saved(row.id or 0, row.name)


def change_supplier(practice: Practice, name: str, draft: SupplierDraft, *, by: str, reason: str = "") -> Saved:
    """Change a supplier's terms or name, or take it out.

    Raises:
        NotFound: no such supplier.
        BadInput: every field that is wrong, in words.
    """
    with practice.writing() as desk:
        book = Book(desk, desk.person(by), clean(reason, "reason", 500, needed=False))
        old = book.suppliers.get(name.strip().casefold())
        if old is None:
            raise NotFound(f"There is no supplier {name!r}.", "Look it up in the list of suppliers.")
        row = book.save_suppliers([(checked(book.check_supplier(draft, old)), old)])[0]
        return Saved(row.id or 0, row.name)


def save_supply(practice: Practice, draft: SupplyDraft, *, by: str, reason: str = "") -> Saved:
    """Say how an item is bought. The same item, supplier, pack size and day change; else it is a new pack or price.

    Raises:
        BadInput: every field that is wrong, in words.
    """
    with practice.writing() as desk:
        book = Book(desk, desk.person(by), clean(reason, "reason", 500, needed=False))
        row = book.save_supplies([checked(book.check_supply(draft))])[0]
        return Saved(row.id or 0, row.catalogue_no)


def set_fits(practice: Practice, fitting: str, materials: Sequence[str], *, by: str) -> tuple[str, ...]:
    """Say which materials a tip or an adhesive goes with (all of them); returns what is still missing.

    Raises:
        BadInput: an unknown code, something else than a tip or adhesive, or an adhesive for another family.
    """
    with practice.writing() as desk:
        book = Book(desk, desk.person(by))
        codes = [code.strip().upper() for code in materials]
        refuse(book.check_fit(fitting.strip().upper(), codes))
        book.save_fits({fitting.strip().upper(): codes})
        return book.warnings(book.items.values())


def add_barcode(practice: Practice, scheme: str, code: str, *, item: str, units: int, by: str) -> BarcodeCard:
    """Say which item a code stands for, and how many units such a package holds; a known code is changed.

    Args:
        practice: the practice at work.
        scheme: ``gtin`` (checked and padded to 14 digits), ``hibc`` or ``own``.
        code: as scanned or typed.
        item: the item's code.
        units: units of the item in one such package; a box and a single unit have different codes.
        by: initials.

    Raises:
        BadInput: unknown scheme, wrong check digit, or no sensible number of units.
        NotFound: no such item.
    """
    faults = [] if scheme in BARCODE_SCHEMES else [Fault("scheme", f"it is one of {', '.join(BARCODE_SCHEMES)}")]
    if not 1 <= units <= MOST_UNITS:
        faults.append(Fault("units", "it must be 1 or more"))
    refuse(faults)
    code = gtin14(clean(code, "code", 80)) if scheme == "gtin" else clean(code, "code", 80)
    with practice.writing() as desk:
        person_id, row = desk.person(by), _item(desk, item)
        known = queries.barcode(desk.session, scheme, code)
        old = None if known is None else f"{known.item_id} x {known.units}"
        if known is None:
            desk.add(Barcode(scheme=scheme, code=code, item_id=row.id or 0, units=units))
        else:
            known.item_id, known.units = row.id or 0, units
        desk.log_change(person_id, "barcode", code, {"item": (old, f"{row.id} x {units}")})
        desk.session.flush()
        recalling.look_again(desk, person_id, {row.id or 0})
        return BarcodeCard(scheme, code, units)


def add_tray_line(practice: Practice, line: TrayLine, *, by: str) -> tuple[TrayLine, ...]:
    """Add a tray line, or further sizes to one that is known (they go behind the others); returns all lines.

    Raises:
        BadInput: no name, no sizes, or a size twice.
    """
    kept = cleaned_line(line)
    with practice.writing() as desk:
        person_id = desk.person(by)
        save_tray_line(desk, kept)
        sizes = f"upper {' '.join(kept.upper)}; lower {' '.join(kept.lower)}"
        desk.log_change(person_id, "tray_line", kept.name, {"sizes": (None, sizes)})
        return queries.tray_lines(desk.session)


def set_articles(
    practice: Practice, need_id: int, codes: Sequence[str], *, by: str, reason: str = "", alike: bool = False
) -> tuple[NeedCard, ...]:
    """List the articles of a need: the practice's own first, then the substitutes the dentist approves.

    Args:
        practice: the practice at work.
        need_id: which need.
        codes: the items in order; none at all is allowed.
        by: initials.
        reason: why, for the log.
        alike: do the same for every need of the same step, kind, viscosity and set, in both arches and all case kinds.

    Returns:
        The needs as they stand now.

    Raises:
        NotFound: no such need or item.
        NotAllowed: a tray (found by its line and size), or an item of another kind or unit than the need's.
    """
    with practice.writing() as desk:
        book = Book(desk, desk.person(by), clean(reason, "reason", 500, needed=False))
        chosen = _slot(book, need_id)
        numbers = list(dict.fromkeys(_suitable(book, chosen, code) for code in codes))
        slots = [one for one in book.slots.values() if one is chosen or (alike and one.wanted == chosen.wanted)]
        for slot in slots:
            book.set_articles(slot, numbers)
        by_id = {row.id or 0: row for row in book.items.values()}
        return tuple(_need(book.slots[slot.need_id], by_id) for slot in slots)


def change_need(
    practice: Practice, need_id: int, *, by: str, optional: bool | None = None, tray_line: str | None = None
) -> NeedCard:
    """Make a need optional or required, or let it take its tray from another line.

    Raises:
        NotFound: no such need or tray line.
        NotAllowed: a tray line for something else than a tray.
    """
    with practice.writing() as desk:
        book = Book(desk, desk.person(by))
        slot = _slot(book, need_id)
        changes: dict[str, tuple[object, object]] = {}
        if optional is not None:
            changes["optional"] = (slot.optional, optional)
        if tray_line is not None:
            if slot.wanted.kind is not ItemKind.TRAY:
                raise NotAllowed("Only a need for a tray has a tray line.", "Choose a step that takes a tray.")
            names = [line.name for line in queries.tray_lines(desk.session)]
            if tray_line not in names:
                raise NotFound(f"There is no tray line {tray_line!r}.", f"Known are: {', '.join(names)}.")
            changes["tray_line"] = (slot.tray_line, tray_line)
        if changes:
            queries.change_need(desk.session, need_id, **{name: new for name, (_, new) in changes.items()})
            desk.log_change(book.person_id, "need", need_id, changes)
        by_id = {row.id or 0: row for row in book.items.values()}
        return _need(next(one for one in queries.needs(desk.session) if one.need_id == need_id), by_id)


def _slot(book: Book, need_id: int) -> NeedSlot:
    if need_id not in book.slots:
        raise NotFound(f"There is no need {need_id}.", "Look it up in the list of needs.")
    return book.slots[need_id]


def _suitable(book: Book, slot: NeedSlot, code: str) -> int:
    row = book.items.get(code.strip().upper())
    if row is None or not row.active:
        raise NotFound(f"There is no item {code!r}.", "Look it up in the list of items.")
    if slot.wanted.kind is ItemKind.TRAY:
        raise NotAllowed("A tray is found by its line, arch and size.", "Change the need's tray line instead.")
    powder = slot.wanted.kind is ItemKind.IMPRESSION and slot.wanted.viscosity is None
    if row.kind is not slot.wanted.kind or (row.base is BaseUnit.CG) != powder:
        asked = "a powder" if powder else f"{slot.wanted.kind} items"
        raise NotAllowed(f"{row.code} can't serve {slot.step_name}: it asks for {asked}.", "Choose another item.")
    return row.id or 0


def _item(desk: Desk, code: str) -> Item:
    row = queries.item_by_code(desk.session, code.strip().upper())
    if row is None:
        raise NotFound(f"There is no item {code!r}.", "Look it up in the list of items.")
    return row


def _line(row: Item) -> ItemLine:
    piece = row.base is BaseUnit.PIECE
    unit = row.unit_name if piece else f"{show(row.unit_qty, row.base)} {row.unit_name}"
    return ItemLine(
        row.id or 0, row.code, row.name, row.kind, unit, row.viscosity, row.setting_speed, row.family or "",
        row.criticality, row.active,
    )  # fmt: skip


def _supply(row: SupplyRow, by_id: dict[int, Item]) -> SupplyCard:
    contents = tuple((by_id[number].code, units) for number, units in row.contents)
    return SupplyCard(
        row.supply_id, by_id[row.item_id].code, row.supplier, row.catalogue_no, row.units_per_pack, row.pack_cents,
        row.valid_from, row.preferred, contents, row.breaks,
    )  # fmt: skip


def _need(slot: NeedSlot, by_id: dict[int, Item]) -> NeedCard:
    articles = tuple(Article(number, by_id[number].code, by_id[number].name) for number in slot.item_ids)
    return NeedCard(
        slot.need_id, slot.case_kind, slot.case_kind_name, slot.wanted.step, slot.step_name, slot.arch,
        slot.wanted.kind, slot.wanted.viscosity, slot.wanted.setting_speed, slot.tray_line, slot.optional, articles,
    )  # fmt: skip


def _terms(row: Supplier) -> SupplierDraft:
    values = {field.name: getattr(row, field.name) for field in fields(SupplierDraft)}
    return SupplierDraft(**{**values, "order_weekdays": tuple(map(int, filter(None, row.order_weekdays.split(","))))})


def _fits(desk: Desk, row: Item, by_id: dict[int, Item]) -> tuple[str, ...]:
    pairs = queries.fits(desk.session)
    numbers = [b for a, b in pairs if a == row.id] + [a for a, b in pairs if b == row.id]
    return tuple(by_id[number].code for number in numbers)


def _has_tip(desk: Desk, row: Item, by_id: dict[int, Item]) -> bool:
    fitting: Iterable[Item] = (by_id[a] for a, b in queries.fits(desk.session) if b == row.id)
    return any(one.kind is ItemKind.TIP and one.active for one in fitting)
