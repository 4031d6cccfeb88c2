"""How retakes are said, on screens and by commands alike."""

from collections.abc import Iterator
from typing import TYPE_CHECKING

from inventory.domain.quantity import show_money
from tui.tray_words import ARCHES

if TYPE_CHECKING:
    from inventory.service.retakes import ArchRetakes, LotRetakes, Retakes

MOST_LOTS = 10


def told(found: "Retakes") -> Iterator[str]:
    """By arch, then the lots of which most was taken again."""
    yield f"Impressions since {found.since.isoformat()}"
    yield from (f"  {_arch(one)}" for one in found.arches)
    yield "Lots of which impressions were taken again, most first" if found.lots else "No lot had a retake."
    yield from (f"  {_lot(one)}" for one in found.lots[:MOST_LOTS])
    if len(found.lots) > MOST_LOTS:
        yield f"  and {len(found.lots) - MOST_LOTS} lots more with as many or fewer"


def _arch(one: "ArchRetakes") -> str:
    share = f", {100 * one.retakes / one.impressions:.1f} of 100" if one.impressions else ""
    return f"{ARCHES[one.arch]}: {one.impressions}, {one.retakes} of them retakes{share}, cost {show_money(one.cents)}"


def _lot(one: "LotRetakes") -> str:
    return f"{one.name}, lot {one.lot}: {one.again} of {one.impressions} taken again"
