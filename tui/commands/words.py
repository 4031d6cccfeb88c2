"""Values as plain lines say them: labels in words, one fact after the other, nothing drawn, nothing only in colour.

A screen reader reads these lines aloud, so signs stand only where they are spoken well, and what may be cut off on a
narrow terminal stands last.
"""

from collections.abc import Iterable, Sequence
from datetime import date

from inventory.domain.quantity import show, show_units
from inventory.domain.vocabulary import Arch, BaseUnit, LateReason, UseByReading

ARCHES = {
    "upper": Arch.MAXILLARY,
    "maxillary": Arch.MAXILLARY,
    "lower": Arch.MANDIBULAR,
    "mandibular": Arch.MANDIBULAR,
}
NO_LOT = "no lot"  # the standing lot of an item without lots, as the book calls it
_LATE = {
    LateReason.EXPIRED: "past its last day of use",
    LateReason.HELD: "on hold",
    LateReason.RECALLED: "recalled",
}


def arch(value: Arch | None) -> str:
    """``upper`` or ``lower``; empty where a step belongs to no arch."""
    return {Arch.MAXILLARY: "upper", Arch.MANDIBULAR: "lower"}.get(value, "") if value else ""


def use_by(on: date | None, read: UseByReading) -> str:
    """``use by 2027-03-31``, ``use by end of 2027-03``, ``no use-by date stated`` or ``use-by date not read yet``."""
    if on is None:
        return "use-by date not read yet" if read is UseByReading.NOT_READ else "no use-by date stated"
    return f"use by end of {on:%Y-%m}" if read is UseByReading.MONTH else f"use by {on.isoformat()}"


def lot(number: str, on: date | None, read: UseByReading) -> str:
    """``lot A1, use by 2027-03-31``; items kept without lots have nothing to say but ``no lot``."""
    return NO_LOT if number == NO_LOT and on is None else f"lot {number}, {use_by(on, read)}"


def certain(number: str, *, confirmed: bool) -> str:
    """Whether somebody read or scanned the lot; nothing where there is no lot to be read."""
    if number == NO_LOT:
        return ""
    return "lot confirmed" if confirmed else "lot assumed"


def late(reason: LateReason | None) -> str:
    """Why a lot should not be used; empty where it may."""
    return _LATE[reason] if reason else ""


def on_hand(qty: int, unit_qty: int, unit_name: str, base: BaseUnit, opened_on: date | None = None) -> str:
    """What stands somewhere: ``3 cartridges, 150 mL``, ``opened cartridge, 20 mL left``, ``12 pcs``."""
    if base is BaseUnit.PIECE:
        return show(qty, base)
    if opened_on is not None:
        return f"opened {unit_name}, {show(qty, base)} left, opened {opened_on.isoformat()}"
    units = qty // unit_qty
    return f"{units} sealed {unit_name}{'' if units == 1 else 's'}, {show(qty, base)}"


def stock(sealed: int, opened_qty: int, unit_qty: int, base: BaseUnit) -> str:
    """Stock of an item: ``3 + 0.4 opened (170 mL)``; pieces as a bare count."""
    units = show_units(sealed, opened_qty, unit_qty, base)
    if base is BaseUnit.PIECE:
        return show(sealed * unit_qty + opened_qty, base)
    return f"{units} ({show(sealed * unit_qty + opened_qty, base)})"


def facts(*parts: str | None) -> str:
    """The facts that are there, parted by commas."""
    return ", ".join(part for part in parts if part)


def titled(title: str, lines: Iterable[str], nothing: str) -> Iterable[str]:
    """A title, then the lines a little further in; one sentence where there are none."""
    found = [f"  {line}" for line in lines]
    return (title, *found) if found else (nothing,)


def aligned(rows: Sequence[tuple[str, str]]) -> list[str]:
    """Pairs of a label and its value, the values one under the other."""
    most = max((len(label) for label, _ in rows), default=0)
    return [f"{label:<{most}}  {value}" for label, value in rows]
