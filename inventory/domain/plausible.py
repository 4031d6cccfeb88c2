"""Whether the figures of a case kind can be right (faults), and whether they look usual (doubts).

A fault is refused. A doubt is only said, for mouths differ. Amounts are compared with an even layer on the denture
foundation: 36.85 +/- 4.04 cm2 in the maxilla, 24.51 +/- 4.46 cm2 in the mandible, n = 24 (International Journal of
Prosthodontics and Restorative Dentistry 2024;14(3):161). How thick a layer may be is our own judgement.
"""

from collections.abc import Iterable, Iterator, Mapping, Sequence
from types import MappingProxyType

from inventory.domain.estimates import MILLION, TRAY, Step, StepNeed, outline
from inventory.domain.quantity import show
from inventory.domain.vocabulary import Arch, BaseUnit, ItemKind, Technique
from inventory.errors import BadInput

HIGHEST_RETAKE_PPM = 500_000  # own judgement: the highest remake rate read of, crowns of one dentist, is 0.42
AREA_CM2 = MappingProxyType({Arch.MAXILLARY: (36.85, 4.04), Arch.MANDIBULAR: (24.51, 4.46)})  # mean, sd
PLAUSIBLE_MM: Mapping[str, tuple[float, float]] = MappingProxyType({Step.WASH: (1, 3), Step.LOAD: (3, 9)})
PLAUSIBLE_RATIO = (1.2, 1.7)  # upper to lower, own judgement around the 1.50 of the two areas


def faults_of(need: StepNeed) -> tuple[str, ...]:
    """Everything about a need's figures that can't be right, in words."""
    tip, elastomer = need.tip, need.material.kind is ItemKind.IMPRESSION and need.base is BaseUnit.CML
    checks = {
        "the mean use must be more than nothing": need.mean_qty > 0 or (need.optional and need.mean_qty == 0),
        "the spread can't be negative": need.sd_qty >= 0,
        f"retakes must lie between 0 and {HIGHEST_RETAKE_PPM / MILLION:.0%}": 0
        <= need.retake_ppm
        <= HIGHEST_RETAKE_PPM,
        "tip volume and purge can't be negative": tip is None or min(tip.volume_qty, tip.purge_qty) >= 0,
        "only a material measured in mL goes through a mixing tip": tip is None or need.base is BaseUnit.CML,
        "only an elastomer has a viscosity": need.material.viscosity is None or elastomer,
        "bite-registration material is measured in mL": need.material.kind is not ItemKind.BITE
        or need.base is BaseUnit.CML,
        "a tray is one piece": not need.is_tray or (need.base is BaseUnit.PIECE and need.mean_qty == 1),
        "a tray belongs to one arch": not need.is_tray or need.arch is not None,
        "an article is listed twice": len(set(need.articles)) == len(need.articles),
    }
    return tuple(fault for fault, fine in checks.items() if not fine)


def check_need(need: StepNeed) -> None:
    """Refuse a need whose figures can't be right.

    Raises:
        BadInput: naming every fault.
    """
    faults = faults_of(need)
    if faults:
        where = f"{need.step}, {need.arch}" if need.arch else need.step
        raise BadInput(f"estimate ({where}): {'; '.join(faults)}.", "Correct the figures; nothing was changed.")


def layer_ml(arch: Arch, thickness_mm: float, sds: float = 0) -> float:
    """Volume of an even layer on the denture foundation, in mL: area times thickness.

    Args:
        arch: upper or lower.
        thickness_mm: of the layer.
        sds: how many standard deviations the jaw's area lies from the mean.
    """
    mean, sd = AREA_CM2[arch]
    return (mean + sds * sd) * thickness_mm / 10


def doubts_of(needs: Sequence[StepNeed], technique: Technique) -> tuple[str, ...]:
    """What about a case kind looks unusual, in words; nothing of it is forbidden.

    Amounts of wash and load outside a plausible layer on a jaw within two standard deviations, upper and lower amounts
    out of proportion, trays where the technique takes none or none where it takes one. A border goes by length, not
    by area, so it isn't compared.
    """
    return (*_thickness_doubts(needs), *_ratio_doubts(needs), *_tray_doubts(needs, technique))


def _compared(needs: Iterable[StepNeed]) -> Iterator[tuple[StepNeed, Arch, tuple[float, float]]]:
    for need in needs:
        if need.arch and need.base is BaseUnit.CML and need.step in PLAUSIBLE_MM:
            yield need, need.arch, PLAUSIBLE_MM[need.step]


def _thickness_doubts(needs: Iterable[StepNeed]) -> Iterator[str]:
    for need, arch, (thin, thick) in _compared(needs):
        low, high = layer_ml(arch, thin, -2), layer_ml(arch, thick, 2)
        if not low <= need.mean_qty / 100 <= high:
            amount = show(need.mean_qty, need.base)
            yield f"{need.step}, {arch}: {amount} is unusual, {thin:g} to {thick:g} mm are {low:.1f} to {high:.1f} mL"


def _ratio_doubts(needs: Sequence[StepNeed]) -> Iterator[str]:
    low, high = PLAUSIBLE_RATIO
    lower = {(need.step, need.material): need for need, arch, _ in _compared(needs) if arch is Arch.MANDIBULAR}
    for need, arch, _ in _compared(needs):
        other = lower.get((need.step, need.material))
        if arch is Arch.MAXILLARY and other and other.mean_qty:
            ratio = need.mean_qty / other.mean_qty
            if not low <= ratio <= high:
                yield f"{need.step}: upper to lower is {ratio:.2f}, usually {low:g} to {high:g}"


def _tray_doubts(needs: Iterable[StepNeed], technique: Technique) -> Iterator[str]:
    taken = {need.arch for need in needs if need.is_tray}
    usual = {part.arch for part in outline(technique) if part.material == TRAY}
    if taken and not usual:
        yield f"the technique {technique} usually takes no stock tray"
    for arch in sorted(arch for arch in usual - taken if arch):
        yield f"{arch}: the technique {technique} usually takes a stock tray"
