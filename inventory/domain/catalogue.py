"""What a catalogue entry must be, before anything is kept.

The store's own rules would refuse a wrong entry too, but in its own words and one at a time. Here every fault is found
at once and said per field, in the words of the trade, so that a form can mark its fields and an imported file its
columns. Everything is pure: drafts in, faults out.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from inventory.domain.words import clean
from inventory.errors import BadInput

ONE = 1_000_000  # shares are kept in parts per million


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
