"""The catalogue within one writing unit of work: looked up once, checked in words, changed in bulk, all of it logged.

Forms save one entry at a time, an import thousands; both go through here, so the same rules hold for both.
"""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import fields, replace
from typing import Any

from inventory.domain.catalogue import (
    MATERIALS,
    Fault,
    ItemDraft,
    SupplierDraft,
    SupplyDraft,
    check_item,
    check_supplier,
    check_supply,
    refuse,
    serves,
)
from inventory.domain.quantity import show_money
from inventory.domain.vocabulary import Arch, BaseUnit, ItemKind, Viscosity
from inventory.service import recalling
from inventory.service.practice import Desk
from inventory.store.queries import catalogue as queries
from inventory.store.queries.catalogue import NeedSlot, Pack
from inventory.store.tables import Item, Supplier, Supply

_COLUMNS = tuple(field.name for field in fields(ItemDraft) if field.name != "steps")
_MAY_BE_EMPTY = ("family", "tray_line", "tray_size", "opened_days_source")
_BY_STEP = (ItemKind.TIP, ItemKind.ACCESSORY)


class Book:
    """What the catalogue holds, for the unit of work that is about to change it."""

    def __init__(self, desk: Desk, person_id: int, reason: str = "") -> None:
        self.desk, self.person_id, self.reason = desk, person_id, reason
        self.items = {row.code: row for row in queries.items(desk.session)}
        self.suppliers = {row.name.casefold(): row for row in queries.suppliers(desk.session)}
        self.slots = {slot.need_id: slot for slot in queries.needs(desk.session, lock=True)}
        self._trays = {_tray(row): row.code for row in self.items.values() if row.kind is ItemKind.TRAY and row.active}
        self._sizes = {
            (line.name, arch): sizes
            for line in queries.tray_lines(desk.session)
            for arch, sizes in ((Arch.MAXILLARY, line.upper), (Arch.MANDIBULAR, line.lower))
        }

    # items

    def check_item(self, draft: ItemDraft, row: Item | None = None) -> tuple[ItemDraft, tuple[Fault, ...]]:
        """The draft fit to be kept, and what is wrong with it, alone and beside what the book holds.

        Args:
            draft: the item as it shall be.
            row: the item that it changes; None for a new one.
        """
        kept, faults = check_item(draft)
        return kept, (*faults, *self._beside_others(kept, row))

    def _beside_others(self, draft: ItemDraft, row: Item | None) -> Iterable[Fault]:
        holder = self.items.get(draft.code)
        if holder is not None and holder is not row:
            yield Fault("code", f"{draft.code} is {holder.name} already")
        known = {slot.wanted.step for slot in self.slots.values() if slot.wanted.kind is draft.kind}
        for step in draft.steps:
            if draft.kind in _BY_STEP and step not in known:
                yield Fault("steps", f"no step {step!r} takes a {draft.kind}; known are: {', '.join(sorted(known))}")
        if draft.kind is ItemKind.TRAY and draft.arch is not None and draft.tray_line and draft.tray_size:
            yield from self._beside_trays(draft, row)
        turned = row is not None and (draft.kind, draft.base) != (row.kind, row.base)
        if row is not None and turned and queries.has_lots(self.desk.session, row.id or 0):
            yield Fault("kind", "kind and unit stay as they are once something was in stock; add a new item")

    def _beside_trays(self, draft: ItemDraft, row: Item | None) -> Iterable[Fault]:
        arch = Arch(draft.arch or "")
        sizes = self._sizes.get((draft.tray_line, arch), ())
        if draft.tray_size not in sizes:
            known = ", ".join(sizes) or "none yet; add the tray line first"
            yield Fault("tray_size", f"{draft.tray_line} has no {arch} size {draft.tray_size!r}; known are: {known}")
        holder = self._trays.get((draft.tray_line, arch, draft.tray_size))
        if draft.active and holder is not None and (row is None or holder != row.code):
            yield Fault("tray_size", f"this tray is item {holder} already")

    def save_items(self, drafts: Sequence[tuple[ItemDraft, Item | None]]) -> list[Item]:
        """Add or change checked items; needs that they serve list them from now on."""
        before = [None if row is None else as_draft(row, self.slots.values()) for _, row in drafts]
        rows = [self._add_item(draft) if row is None else self._change_item(draft, row) for draft, row in drafts]
        self.desk.session.flush()
        saved = [(draft, old, row) for (draft, _), old, row in zip(drafts, before, rows, strict=True)]
        self._list_in_needs(saved)
        return rows

    def _add_item(self, draft: ItemDraft) -> Item:
        row = Item(**_values(draft))
        self.desk.session.add(row)
        self._log("item", row.code, {"added": (None, row.name)})
        return self._remember(row)

    def _change_item(self, draft: ItemDraft, row: Item) -> Item:
        values = _values(draft)
        self._log("item", row.code, {name: (getattr(row, name), value) for name, value in values.items()})
        self.items.pop(row.code)
        self._trays.pop(_tray(row), None)
        for name, value in values.items():
            setattr(row, name, value)
        return self._remember(row)

    def _remember(self, row: Item) -> Item:
        self.items[row.code] = row
        if row.kind is ItemKind.TRAY and row.active:
            self._trays[_tray(row)] = row.code
        return row

    def _list_in_needs(self, saved: Sequence[tuple[ItemDraft, ItemDraft | None, Item]]) -> None:
        """Append each item behind the articles of every need it serves; take it off those it serves no longer.

        A substitute that somebody approved beyond these rules stays, unless the item was taken out.
        """
        for slot in self.slots.values():
            articles = dict.fromkeys(slot.item_ids)
            for draft, before, row in saved:
                number = row.id or 0
                if draft.active and serves(draft, slot.wanted):
                    articles.setdefault(number)
                elif not draft.active or (before and serves(before, slot.wanted)):
                    articles.pop(number, None)
            self.set_articles(slot, tuple(articles))

    def set_articles(self, slot: NeedSlot, item_ids: Sequence[int]) -> None:
        """List the articles of a need in this order; an optional tip or accessory counts once it has an article."""
        if tuple(item_ids) == slot.item_ids:
            return
        codes = {row.id: code for code, row in self.items.items()}
        written = [", ".join(codes[number] for number in numbers) for numbers in (slot.item_ids, item_ids)]
        self._log("need", slot.need_id, {"articles": (written[0], written[1])})
        queries.replace_articles(self.desk.session, slot.need_id, item_ids)
        required = slot.optional and not slot.item_ids and slot.wanted.kind in _BY_STEP
        if required:
            self._log("need", slot.need_id, {"optional": (True, False)})
            queries.change_need(self.desk.session, slot.need_id, optional=False)
        self.slots[slot.need_id] = replace(slot, item_ids=tuple(item_ids), optional=slot.optional and not required)

    # suppliers and supplies

    def check_supplier(
        self, draft: SupplierDraft, row: Supplier | None = None
    ) -> tuple[SupplierDraft, tuple[Fault, ...]]:
        """The draft fit to be kept, and what is wrong with it."""
        kept, faults = check_supplier(draft)
        holder = self.suppliers.get(kept.name.casefold())
        if holder is not None and holder is not row:
            faults = (*faults, Fault("name", f"{holder.name} is known already"))
        return kept, faults

    def save_suppliers(self, drafts: Sequence[tuple[SupplierDraft, Supplier | None]]) -> list[Supplier]:
        """Add or change checked suppliers."""
        rows = [
            self._add_supplier(draft) if row is None else self._change_supplier(draft, row) for draft, row in drafts
        ]
        self.desk.session.flush()
        return rows

    def _add_supplier(self, draft: SupplierDraft) -> Supplier:
        row = self.suppliers[draft.name.casefold()] = Supplier(**_terms(draft))
        self.desk.session.add(row)
        self._log("supplier", row.name, {"added": (None, row.name)})
        return row

    def _change_supplier(self, draft: SupplierDraft, row: Supplier) -> Supplier:
        terms = _terms(draft)
        self._log("supplier", row.name, {name: (getattr(row, name), value) for name, value in terms.items()})
        self.suppliers.pop(row.name.casefold())
        for name, value in terms.items():
            setattr(row, name, value)
        self.suppliers[row.name.casefold()] = row
        return row

    def check_supply(self, draft: SupplyDraft) -> tuple[SupplyDraft, tuple[Fault, ...]]:
        """The draft fit to be kept, dated, and what is wrong with it."""
        kept, faults = check_supply(draft)
        unknown = [
            Fault(field, f"there is no item {code}")
            for field, code in (("item", kept.item), *(("contents", part.item) for part in kept.contents))
            if code and code not in self.items
        ]
        if kept.supplier.casefold() not in self.suppliers:
            known = ", ".join(sorted(row.name for row in self.suppliers.values())) or "none yet"
            unknown.append(Fault("supplier", f"there is no supplier {kept.supplier!r}; known are: {known}"))
        return replace(kept, valid_from=kept.valid_from or self.desk.today), (*faults, *unknown)

    def save_supplies(self, drafts: Sequence[SupplyDraft]) -> list[Supply]:
        """Add checked supplies, or change those of the same item, supplier, pack size and day."""
        packs = {row.supply_id: (row.contents, row.breaks) for row in queries.supplies(self.desk.session)}
        known: dict[int, list[Supply]] = {}
        for row in queries.supply_rows(self.desk.session):
            known.setdefault(row.item_id, []).append(row)
        rows = [self._save_supply(draft, known.setdefault(self.items[draft.item].id or 0, [])) for draft in drafts]
        self.desk.session.flush()
        changed: dict[int, Pack] = {}
        for draft, row in zip(drafts, rows, strict=True):
            number = row.id or 0
            if number not in packs:
                price = f"{draft.item} from {draft.supplier}: {draft.units_per_pack} for {show_money(draft.pack_cents)}"
                self._log("supply", number, {"added": (None, price)})
            old, new = packs.get(number, ((), ())), self._pack(draft)
            if new != old:
                self._log("supply", number, {"contents": (old[0], new[0]), "breaks": (old[1], new[1])})
                changed[number] = packs[number] = new
        queries.replace_packs(self.desk.session, changed)
        self.desk.session.flush()
        recalling.look_again(self.desk, self.person_id, {row.item_id for row in rows})
        return rows

    def _save_supply(self, draft: SupplyDraft, known: list[Supply]) -> Supply:
        pack = (self.suppliers[draft.supplier.casefold()].id or 0, draft.units_per_pack)
        since = draft.valid_from or self.desk.today
        row = next((one for one in known if (*_pack(one), one.valid_from) == (*pack, since)), None)
        values = {name: getattr(draft, name) for name in ("catalogue_no", "pack_cents", "preferred")}
        if row is None:
            row = Supply(
                item_id=self.items[draft.item].id or 0, supplier_id=pack[0], units_per_pack=pack[1],
                valid_from=since, **values,
            )  # fmt: skip
            self.desk.session.add(row)
            known.append(row)
        else:
            self._log("supply", row.id, {name: (getattr(row, name), value) for name, value in values.items()})
            for name, value in values.items():
                setattr(row, name, value)
        if draft.preferred:
            self._prefer(pack, known)
        return row

    def _prefer(self, pack: tuple[int, int], known: Sequence[Supply]) -> None:
        """One way of buying an item is the preferred one, at all its prices."""
        for other in known:
            if other.preferred and _pack(other) != pack:
                other.preferred = False
                self._log("supply", other.id, {"preferred": (True, False)})

    def _pack(self, draft: SupplyDraft) -> Pack:
        contents = tuple(sorted((self.items[part.item].id or 0, part.units) for part in draft.contents))
        return contents, tuple(sorted(draft.breaks))

    # fits

    def check_fit(self, fitting: str, materials: Sequence[str]) -> tuple[Fault, ...]:
        """What is wrong with saying that a tip or adhesive goes with these materials."""
        faults = [Fault("fitting", f"there is no item {fitting}")] if fitting not in self.items else []
        faults += [Fault("material", f"there is no item {code}") for code in materials if code not in self.items]
        if faults:
            return tuple(faults)
        row = self.items[fitting]
        if row.kind not in _BY_STEP:
            faults.append(Fault("fitting", f"{fitting} is neither a tip nor an adhesive"))
        for code in materials:
            material = self.items[code]
            if material.kind not in MATERIALS:
                faults.append(Fault("material", f"{code} is not a material"))
            elif row.kind is ItemKind.ACCESSORY and row.family and material.family and row.family != material.family:
                faults.append(Fault("material", f"{fitting} is for {row.family}, {code} is {material.family}"))
        return tuple(faults)

    def save_fits(self, fits: Mapping[str, Sequence[str]]) -> None:
        """Say anew which materials each of these tips and adhesives goes with."""
        codes = {row.id: code for code, row in self.items.items()}
        before: dict[str, list[str]] = {}
        for fitting_id, material_id in queries.fits(self.desk.session):
            before.setdefault(codes[fitting_id], []).append(codes[material_id])
        for fitting, materials in fits.items():
            wanted = sorted(set(materials))
            old = sorted(before.get(fitting, []))
            self._log("item", fitting, {"fits": (", ".join(old), ", ".join(wanted))})
            if old != wanted:
                numbers = [self.items[code].id or 0 for code in wanted]
                queries.replace_fits(self.desk.session, self.items[fitting].id or 0, numbers)
        self.desk.session.flush()

    def warnings(self, rows: Iterable[Item]) -> tuple[str, ...]:
        """What is not wrong, but will be missed at a visit: a material from a cartridge without a mixing tip."""
        tips = {row.id for row in self.items.values() if row.kind is ItemKind.TIP and row.active}
        with_tip = {material for fitting, material in queries.fits(self.desk.session) if fitting in tips}
        return tuple(no_tip(row) for row in rows if needs_tip(row) and row.id not in with_tip)

    def _log(self, subject: str, subject_id: object, changes: dict[str, tuple[object, object]]) -> None:
        self.desk.log_change(self.person_id, subject, subject_id, changes, self.reason)


def needs_tip(row: Item) -> bool:
    """Whether a material comes out of a cartridge through a mixing tip; a putty is kneaded, a powder stirred."""
    by_hand = row.viscosity is Viscosity.PUTTY or row.base is not BaseUnit.CML
    return row.kind in MATERIALS and row.active and not by_hand


def no_tip(row: Item) -> str:
    """The warning about a material without a mixing tip."""
    return f"No mixing tip fits {row.code} yet: what stays in tips is not counted and no tip is laid out."


def as_draft(row: Item, slots: Iterable[NeedSlot]) -> ItemDraft:
    """An item as a form shows it."""
    values = {name: getattr(row, name) for name in _COLUMNS}
    for name in _MAY_BE_EMPTY:
        values[name] = values[name] or ""
    steps = {slot.wanted.step: None for slot in slots if row.kind in _BY_STEP and row.id in slot.item_ids}
    return ItemDraft(**values, steps=tuple(steps))


def checked(result: tuple[Any, tuple[Fault, ...]]) -> Any:
    """The checked draft.

    Raises:
        BadInput: it has faults; all are named.
    """
    kept, faults = result
    refuse(faults)
    return kept


def _values(draft: ItemDraft) -> dict[str, Any]:
    values = {name: getattr(draft, name) for name in _COLUMNS}
    for name in _MAY_BE_EMPTY:
        values[name] = values[name] or None
    return values


def _terms(draft: SupplierDraft) -> dict[str, Any]:
    values = {field.name: getattr(draft, field.name) for field in fields(SupplierDraft)}
    return {**values, "order_weekdays": ",".join(map(str, draft.order_weekdays))}


def _tray(row: Item) -> tuple[str | None, Arch | None, str | None]:
    return (row.tray_line, row.arch, row.tray_size)


def _pack(row: Supply) -> tuple[int, int]:
    return (row.supplier_id, row.units_per_pack)
