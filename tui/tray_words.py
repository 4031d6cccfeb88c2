"""How tray sizes to buy are said, on screens and by commands alike."""

from typing import TYPE_CHECKING

from inventory.domain.vocabulary import Arch

if TYPE_CHECKING:
    from inventory.service.size_mix import LearnedRate
    from inventory.service.tray_buying import LineToBuy

ARCHES = {Arch.MAXILLARY: "upper", Arch.MANDIBULAR: "lower"}


def percent(ppm: int) -> str:
    """A chance in a million as people read it: ``97.4``, cut off, never rounded up to a certainty."""
    return f"{ppm // 1000 / 10:g}"


def looked_at(line: "LineToBuy") -> str:
    """Which visits were looked at."""
    if line.reusable:
        return f"{_visits(line.booked)} booked, reusable trays"
    return f"next {_visits(line.visits)}, {line.booked} of them booked"


def to_target(line: "LineToBuy", target: int) -> str:
    """What to buy until the target is reached: ``buy 3 upper XL, 2 upper M for 96.7 of 100``."""
    if not line.to_target:
        return f"nothing to buy, {target} of 100 are asked for"
    counted: dict[str, int] = {}
    for tray in line.to_target:
        name = f"{ARCHES[tray.arch]} {tray.size}"
        counted[name] = counted.get(name, 0) + 1
    trays = ", ".join(f"{number} {name}" for name, number in counted.items())
    return f"buy {trays} for {percent(line.to_target[-1].chance_ppm)} of 100"


def rate(learned: "LearnedRate") -> str:
    """``try-in, upper: 4.4 of 100 (10 of 231 seen; begun with 5 of 100 as if 20 seen)``."""
    begun = f"begun with {100 * learned.prior:g} of 100 as if {learned.weight} seen"
    seen = f"{learned.seen} of {learned.chances} seen; {begun}"
    return f"{learned.name}, {ARCHES[learned.arch]}: {100 * learned.rate:.1f} of 100 ({seen})"


def _visits(number: int) -> str:
    return f"{number} visit{'' if number == 1 else 's'}"
