"""Which tip or adhesive goes with which material, looked at from either side and changed pair by pair."""

from dataclasses import dataclass

from inventory.domain.catalogue import MATERIALS, refuse
from inventory.domain.vocabulary import ItemKind
from inventory.errors import NotAllowed, NotFound
from inventory.service.catalogue_book import Book
from inventory.service.practice import Practice
from inventory.store.queries import catalogue as queries

FITTINGS = (ItemKind.TIP, ItemKind.ACCESSORY)


@dataclass(frozen=True, slots=True)
class Fit:
    """An item that another one could go with, and whether it does."""

    code: str
    name: str
    fits: bool


@dataclass(frozen=True, slots=True)
class Fits:
    """What an item could go with: of a tip or an accessory the materials, of a material the tips and accessories."""

    code: str
    name: str
    others: tuple[Fit, ...]


def fits_of(practice: Practice, code: str) -> Fits:
    """What an item goes with, and what else it could; those that it does go with first.

    Raises:
        NotFound: no such item.
        NotAllowed: a tray goes with every material.
    """
    with practice.reading() as desk:
        items = queries.items(desk.session)
        item = next((row for row in items if row.code == code), None)
        if item is None:
            raise NotFound(f"There is no item {code!r}.", "Look it up in the list of items.")
        if item.kind is ItemKind.TRAY:
            raise NotAllowed(f"{item.name}: a tray goes with every material.", "Choose a tip, adhesive or material.")
        kinds = FITTINGS if item.kind in MATERIALS else tuple(MATERIALS)
        pairs = queries.fits(desk.session)
        there = {b for a, b in pairs if a == item.id} | {a for a, b in pairs if b == item.id}
        others = [Fit(row.code, row.name, row.id in there) for row in items if row.kind in kinds and row.active]
        return Fits(item.code, item.name, tuple(sorted(others, key=lambda one: (not one.fits, one.name))))


def turn_fit(practice: Practice, code: str, other: str, *, by: str) -> bool:
    """Say that two items go together, or, where they did, that they don't; returns whether they do now.

    Raises:
        BadInput: neither is a tip or adhesive, or an adhesive is for another family.
    """
    with practice.writing() as desk:
        book = Book(desk, desk.person(by))
        fitting, material = (other, code) if book.items[code].kind in MATERIALS else (code, other)
        refuse(book.check_fit(fitting, [material]))
        now = {pair[1] for pair in queries.fits(desk.session) if pair[0] == book.items[fitting].id}
        codes = {row.code for row in book.items.values() if row.id in now}
        book.save_fits({fitting: sorted(codes ^ {material})})
        return material not in codes
