"""Quantities of impressions against what has been published, and against the rule where nothing was."""

from dataclasses import replace
from math import isclose

import pytest

from inventory.domain.estimates import LIGHT_BODY, Step, StepNeed, Tip, attempts_in, expected_use, retake
from inventory.domain.plausible import AREA_CM2, PLAUSIBLE_RATIO, doubts_of, layer_ml
from inventory.domain.vocabulary import Arch, BaseUnit, Technique

UPPER, LOWER = Arch.MAXILLARY, Arch.MANDIBULAR
WASH = StepNeed(1, Step.WASH, UPPER, LIGHT_BODY, BaseUnit.CML, (1,), 900, tip=Tip((2,), volume_qty=75, purge_qty=40))


@pytest.mark.parametrize(
    ("arch", "thickness_mm", "ml"),
    [(UPPER, 1, 3.7), (UPPER, 2, 7.4), (UPPER, 3, 11.1), (LOWER, 1, 2.5), (LOWER, 2, 4.9), (LOWER, 3, 7.4)],
)
def test_a_net_wash_is_area_times_thickness(arch: Arch, thickness_mm: float, ml: float) -> None:
    """Areas read in Int J Prosthodont Restor Dent 2024;14(3):161; the volumes are computed from the rule."""
    assert round(layer_ml(arch, thickness_mm), 1) == ml


def test_the_two_areas_are_in_the_proportion_of_three_to_two() -> None:
    """36.85 and 24.51 cm2 (read in the source named above), ratio 1.50 (computed); it lies within the bounds."""
    ratio = AREA_CM2[UPPER][0] / AREA_CM2[LOWER][0]
    assert round(ratio, 2) == 1.50
    assert PLAUSIBLE_RATIO[0] < ratio < PLAUSIBLE_RATIO[1]


def test_two_attempts_of_an_upper_wash_take_20_30_ml_and_two_tips() -> None:
    """Computed from the rule: 9.0 mL net, 0.75 in the tip, 0.4 purged, twice: 2 x 10.15 mL."""
    lines = retake(expected_use([WASH], [UPPER]), Step.WASH, UPPER)
    assert sum(line.gross_qty for line in lines) == 2030
    assert sum(line.tips for line in lines) == 2


def test_a_cartridge_of_50_ml_gives_four_such_attempts_and_strands_9_40_ml() -> None:
    """Computed from the rule: 50 - 4 x 10.15."""
    (line,) = expected_use([WASH], [UPPER])
    assert attempts_in(5000, line.gross_qty) == (4, 940)


@pytest.mark.parametrize(("upper_ml", "lower_ml"), [(8, 6), (10, 7.5), (12, 9)])
def test_washes_we_take_as_usual_raise_no_doubt(upper_ml: float, lower_ml: float) -> None:
    """8 to 12 mL upper and 6 to 9 lower: own judgement, editable defaults."""
    assert doubts_of(pair(Step.WASH, upper_ml, lower_ml), Technique.RELINE) == ()


@pytest.mark.parametrize(("upper_ml", "lower_ml"), [(20, 14), (25, 17), (30, 20)])
def test_tray_loads_we_take_as_usual_raise_no_doubt(upper_ml: float, lower_ml: float) -> None:
    """20 to 30 mL upper and 14 to 20 lower, the border moulded with the load: own judgement, editable defaults."""
    assert doubts_of(pair(Step.LOAD, upper_ml, lower_ml), Technique.RELINE) == ()


@pytest.mark.parametrize(("upper_ml", "lower_ml"), [(2, 1.4), (14, 10), (9, 9), (11, 5.5)])
def test_a_wash_outside_the_layer_or_the_proportion_raises_a_doubt(upper_ml: float, lower_ml: float) -> None:
    """Bounds of 1 to 3 mm within two standard deviations of the area, ratio 1.2 to 1.7: own judgement."""
    assert doubts_of(pair(Step.WASH, upper_ml, lower_ml), Technique.RELINE)


def test_a_spacer_of_two_millimetres_lies_within_the_layer() -> None:
    """2 mm is the usual spacer of a custom tray (read in Sci Rep 2016, srep19207)."""
    assert doubts_of(pair(Step.WASH, layer_ml(UPPER, 2), layer_ml(LOWER, 2)), Technique.CUSTOM_TRAY) == ()


def test_a_low_waste_tip_saves_what_the_abstract_measured() -> None:
    """205.5 and 38.1 microlitres stay in the tips (read in CED-IADR 2024, abstract 0023); 0.01 mL is 10 of them."""
    usual, low_waste = (
        expected_use([replace(WASH, tip=Tip((2,), round(microlitres / 10), 40))], [UPPER])[0]
        for microlitres in (205.5, 38.1)
    )
    assert isclose((usual.gross_qty - low_waste.gross_qty) * 10, 205.5 - 38.1, abs_tol=10)


def pair(step: Step, upper_ml: float, lower_ml: float) -> list[StepNeed]:
    return [
        replace(WASH, step=step, mean_qty=round(upper_ml * 100)),
        replace(WASH, step=step, arch=LOWER, mean_qty=round(lower_ml * 100)),
    ]
