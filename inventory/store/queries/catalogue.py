"""The catalogue as it stands: items, suppliers, packs, fits, tray lines, and which articles serve which need."""

from collections import defaultdict
from collections.abc import Collection, Iterable, Mapping
from dataclasses import dataclass
from datetime import date
from itertools import islice

from sqlalchemy import ColumnElement, delete, func, insert, update
from sqlmodel import Session, SQLModel, col, select

from inventory.domain.catalogue import TrayLine, Wanted
from inventory.domain.vocabulary import Arch, ItemKind
from inventory.store.tables import (
    Barcode,
    CaseKind,
    Holding,
    Item,
    ItemFits,
    Lot,
    Need,
    NeedItem,
    PackContent,
    Person,
    PriceBreak,
    Step,
    Supplier,
    Supply,
    TraySize,
)


def all_people(session: Session) -> list[Person]:
    """Everybody who works or worked here, by initials."""
    return list(session.exec(select(Person).order_by(col(Person.initials))))


def count_items(session: Session) -> int:
    return session.exec(select(func.count()).select_from(Item).where(col(Item.active))).one()


def count_lots(session: Session) -> int:
    return session.exec(select(func.count()).select_from(Lot)).one()


def stock_at(session: Session, place_id: int) -> bool:
    """Whether anything stands at a place."""
    query = select(Holding.id).where(Holding.place_id == place_id, col(Holding.on_hand) > 0).limit(1)
    return session.exec(query).first() is not None


def sizes_of(session: Session, line: str, arch: Arch) -> list[str]:
    """The sizes of a tray line for one arch, smallest first."""
    query = select(TraySize.label).where(TraySize.line == line, TraySize.arch == arch).order_by(col(TraySize.position))
    return list(session.exec(query))


def tray_lines(session: Session) -> tuple[TrayLine, ...]:
    """All tray lines with their runs of sizes."""
    rows = session.exec(select(TraySize).order_by(col(TraySize.line), col(TraySize.position)))
    found: dict[str, dict[Arch, list[str]]] = {}
    for row in rows:
        found.setdefault(row.line, {arch: [] for arch in Arch})[row.arch].append(row.label)
    return tuple(
        TrayLine(line, tuple(sizes[Arch.MAXILLARY]), tuple(sizes[Arch.MANDIBULAR])) for line, sizes in found.items()
    )


def name_unnamed_tray_needs(session: Session, line: str) -> None:
    """Tray needs that were made before any tray line was known take this one."""
    session.execute(
        update(Need).where(col(Need.kind) == ItemKind.TRAY, col(Need.tray_line).is_(None)).values(tray_line=line)
    )


Pairs = tuple[tuple[int, int], ...]
Pack = tuple[Pairs, Pairs]  # further articles as (item, units), lower prices as (from packs, cents)


@dataclass(frozen=True, slots=True)
class NeedSlot:
    """A need with the step it belongs to and the items that serve it, in order."""

    need_id: int
    case_kind: str
    case_kind_name: str
    step_name: str
    arch: Arch | None
    wanted: Wanted
    tray_line: str | None
    optional: bool
    item_ids: tuple[int, ...]


@dataclass(frozen=True, slots=True)
class SupplyRow:
    """A supply with its supplier's name, further articles as (item, units) and lower prices as (from packs, cents)."""

    supply_id: int
    item_id: int
    supplier_id: int
    supplier: str
    catalogue_no: str
    units_per_pack: int
    pack_cents: int
    valid_from: date
    preferred: bool
    contents: tuple[tuple[int, int], ...]
    breaks: tuple[tuple[int, int], ...]


def items(session: Session) -> list[Item]:
    """All items, taken-out ones too, by kind and code."""
    return list(session.exec(select(Item).order_by(col(Item.kind), col(Item.code))))


def item_by_code(session: Session, code: str) -> Item | None:
    return session.exec(select(Item).where(Item.code == code)).one_or_none()


def has_lots(session: Session, item_id: int) -> bool:
    """Whether anything of an item was ever in the book."""
    return session.exec(select(Lot.id).where(Lot.item_id == item_id).limit(1)).first() is not None


def suppliers(session: Session) -> list[Supplier]:
    """All suppliers by name."""
    return list(session.exec(select(Supplier).order_by(col(Supplier.name))))


def supplies(session: Session, item_ids: Collection[int] | None = None) -> list[SupplyRow]:
    """Supplies of some items, or of all; an item's newest price of its preferred supply comes first."""
    query = select(Supply, Supplier.name).join(Supplier, col(Supplier.id) == col(Supply.supplier_id))
    contents, breaks = select(PackContent), select(PriceBreak)
    if item_ids is not None:
        query = query.where(col(Supply.item_id).in_(item_ids))
        of_items = select(Supply.id).where(col(Supply.item_id).in_(item_ids))
        contents = contents.where(col(PackContent.supply_id).in_(of_items))
        breaks = breaks.where(col(PriceBreak.supply_id).in_(of_items))
    parts: dict[int, list[tuple[int, int]]] = defaultdict(list)
    for part in session.exec(contents.order_by(col(PackContent.item_id))):
        parts[part.supply_id].append((part.item_id, part.units))
    prices: dict[int, list[tuple[int, int]]] = defaultdict(list)
    for price in session.exec(breaks.order_by(col(PriceBreak.from_packs))):
        prices[price.supply_id].append((price.from_packs, price.pack_cents))
    order = (col(Supply.item_id), col(Supply.preferred).desc(), col(Supply.valid_from).desc(), col(Supply.id).desc())
    return [
        SupplyRow(
            row.id or 0, row.item_id, row.supplier_id, name, row.catalogue_no, row.units_per_pack, row.pack_cents,
            row.valid_from, row.preferred, tuple(parts[row.id or 0]), tuple(prices[row.id or 0]),
        )
        for row, name in session.exec(query.order_by(*order))
    ]  # fmt: skip


def supply_rows(session: Session) -> list[Supply]:
    """The rows of all supplies, to change them."""
    return list(session.exec(select(Supply).order_by(col(Supply.id))))


def replace_packs(session: Session, packs: Mapping[int, Pack]) -> None:
    """Say anew, by supply, which further articles its pack holds and from how many packs on it is cheaper."""
    contents = [
        {"supply_id": supply_id, "item_id": item_id, "units": units}
        for supply_id, pack in packs.items()
        for item_id, units in pack[0]
    ]
    breaks = [
        {"supply_id": supply_id, "from_packs": start, "pack_cents": cents}
        for supply_id, pack in packs.items()
        for start, cents in pack[1]
    ]
    for some in _batches(packs):
        _replace(session, PackContent, col(PackContent.supply_id).in_(some), [])
        _replace(session, PriceBreak, col(PriceBreak.supply_id).in_(some), [])
    _insert(session, PackContent, contents)
    _insert(session, PriceBreak, breaks)


def fits(session: Session) -> list[tuple[int, int]]:
    """Which tip or adhesive (first) goes with which material (second)."""
    rows = session.exec(select(ItemFits).order_by(col(ItemFits.fitting_id), col(ItemFits.material_id)))
    return [(row.fitting_id, row.material_id) for row in rows]


def replace_fits(session: Session, fitting_id: int, material_ids: Collection[int]) -> None:
    """Say anew which materials a tip or adhesive goes with."""
    rows = [{"fitting_id": fitting_id, "material_id": material_id} for material_id in material_ids]
    _replace(session, ItemFits, col(ItemFits.fitting_id) == fitting_id, rows)


def barcodes_of(session: Session, item_id: int) -> list[Barcode]:
    return list(session.exec(select(Barcode).where(Barcode.item_id == item_id).order_by(col(Barcode.id))))


def barcode(session: Session, scheme: str, code: str) -> Barcode | None:
    return session.exec(select(Barcode).where(Barcode.scheme == scheme, Barcode.code == code)).one_or_none()


def needs(session: Session, *, lock: bool = False) -> list[NeedSlot]:
    """Every need of every case kind, in the order of the steps; locked for a change where asked."""
    query = (
        select(Need, Step, CaseKind)
        .join(Step, col(Step.id) == col(Need.step_id))
        .join(CaseKind, col(CaseKind.id) == col(Step.case_kind_id))
        .order_by(col(CaseKind.id), col(Step.position), col(Need.id))
    )
    if lock:  # PostgreSQL: two items added at once must not take the same rank
        query = query.with_for_update(of=Need)
    rows = session.exec(query).all()
    articles: dict[int, list[int]] = defaultdict(list)
    for link in session.exec(select(NeedItem).order_by(col(NeedItem.rank))):
        articles[link.need_id].append(link.item_id)
    return [
        NeedSlot(
            need.id or 0, kind.code, kind.name, step.name, step.arch,
            Wanted(step.code, need.kind, need.viscosity, need.setting_speed),
            need.tray_line, need.optional, tuple(articles[need.id or 0]),
        )
        for need, step, kind in rows
    ]  # fmt: skip


def replace_articles(session: Session, need_id: int, item_ids: Collection[int]) -> None:
    """Say anew which items serve a need: the practice's article, then its substitutes."""
    rows = [{"need_id": need_id, "item_id": item_id, "rank": rank} for rank, item_id in enumerate(item_ids)]
    _replace(session, NeedItem, col(NeedItem.need_id) == need_id, rows)


def change_need(session: Session, need_id: int, **values: object) -> None:
    """Set columns of a need."""
    session.execute(update(Need).where(col(Need.id) == need_id).values(**values))


def _replace(session: Session, table: type[SQLModel], which: ColumnElement[bool], rows: list[dict[str, int]]) -> None:
    """Put other rows in the place of some, without a look at every row that the session knows."""
    session.execute(delete(table).where(which).execution_options(synchronize_session=False))
    _insert(session, table, rows)


def _insert(session: Session, table: type[SQLModel], rows: list[dict[str, int]]) -> None:
    if rows:
        session.execute(insert(table), rows)


def _batches(numbers: Iterable[int]) -> Iterable[tuple[int, ...]]:
    """So many at once that no store meets its limit of parameters."""
    left = iter(numbers)
    while some := tuple(islice(left, 500)):
        yield some
