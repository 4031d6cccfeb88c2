"""How what steps take is said, on screens and by commands alike."""

from typing import TYPE_CHECKING

from inventory.domain.quantity import show
from inventory.domain.vocabulary import Arch

if TYPE_CHECKING:
    from inventory.service.learning import FarCount, FarOff, Learned

ARCHES = {Arch.MAXILLARY: "upper", Arch.MANDIBULAR: "lower"}


def name(one: "Learned") -> str:
    """``Wash, upper``."""
    return ", ".join(filter(None, (one.step_name, ARCHES[one.arch] if one.arch else "")))


def line(one: "Learned") -> str:
    """All that is to be said of one step, in one line."""
    unit = one.base
    parts = [
        f"{one.need_id}. {name(one)}: {show(one.current.qty, unit)}",
        one.source.value,
        f"default {show(one.default.qty, unit)}" if one.source.value != "default" else "",
        f"learned {learned(one)} from {behind(one)}" if one.observations else "nothing learned yet",
        "accept it or leave it" if one.to_accept else "",
        together(one),
        left_out(one),
    ]
    return ", ".join(filter(None, parts))


def learned(one: "Learned") -> str:
    """``11.5 mL (9.9 mL to 13.1 mL with 90 of 100)``."""
    between = f"{show(one.low, one.base)} to {show(one.high, one.base)} with 90 of 100"
    return f"{show(one.learned.qty, one.base)} ({between})"


def behind(one: "Learned") -> str:
    """What stands behind what is learned: ``5 stretches between counts and 1 amount entered``."""
    counts = _number(one.counts, "stretch between counts", "stretches between counts")
    entered = _number(one.entered, "amount entered", "amounts entered")
    return " and ".join(filter(None, (counts if one.counts else "", entered if one.entered else ""))) or "nothing"


def together(one: "Learned", names: "dict[int, str] | None" = None) -> str:
    """Where only a sum is known: with which other steps, and what it is; else empty.

    Args:
        one: the step.
        names: of the others by their numbers; without them the numbers are named.
    """
    found = one.together
    if found is None:
        return ""
    others = [(names or {}).get(each, str(each)) for each in found.needs if each != one.need_id]
    others += ["what is left in cartridges thrown away"] if found.rests else []
    if not others:
        return ""
    return f"known only together with {', '.join(others)}: {show(found.qty, one.base)} for one of each"


def left_out(one: "Learned") -> str:
    """How many observations lie too far off."""
    parts = [
        _number(len(one.left_out), "amount", "amounts") if one.left_out else "",
        _number(len(one.far_counts), "pair of counts", "pairs of counts") if one.far_counts else "",
    ]
    said = " and ".join(filter(None, parts))
    return f"{said} left out as too far off" if said else ""


def far_amount(far: "FarOff", one: "Learned") -> str:
    """An amount entered that was left out."""
    return (
        f"Left out: case {far.case_ref}, {far.on.isoformat()}: {show(far.qty, one.base)} entered, "
        f"{show(far.expected, one.base)} likely."
    )


def far_count(far: "FarCount", one: "Learned") -> str:
    """Two counts that were left out."""
    gone = f"{show(abs(far.gone), one.base)} {'gone' if far.gone >= 0 else 'more than before'}"
    return (
        f"Left out: {far.item}, counted {far.since.isoformat()} and {far.until.isoformat()}: {gone}, "
        f"{show(far.expected, one.base)} gone likely."
    )


def _number(count: int, singular: str, plural: str) -> str:
    return f"{count} {singular if count == 1 else plural}"
