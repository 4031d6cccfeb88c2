"""The catalogue as it stands: items, suppliers, packs, fits, tray lines, and which articles serve which need."""

from sqlalchemy import func, update
from sqlmodel import Session, col, select

from inventory.domain.catalogue import TrayLine
from inventory.domain.vocabulary import Arch, ItemKind
from inventory.store.tables import Holding, Item, Lot, Need, Person, TraySize


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
