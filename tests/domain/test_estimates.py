"""What a visit is expected to use: steps by technique (common practice, no source), tips, purges, retakes, lots."""

from dataclasses import replace
from datetime import date, timedelta
from math import isclose

import pytest
from hypothesis import given
from hypothesis import strategies as st

from inventory.domain.allocation import Shortfall, Stack
from inventory.domain.estimates import (
    BITE,
    HEAVY_BODY,
    LIGHT_BODY,
    POWDER,
    TRAY,
    CasesPossible,
    ExpectedLine,
    LineKey,
    Material,
    Step,
    StepNeed,
    Tip,
    attempts_in,
    cases_possible,
    expected_use,
    outline,
    propose,
    retake,
    serve_visits,
    smallest_loads,
    use_per_case,
)
from inventory.domain.plausible import check_need, doubts_of, faults_of
from inventory.domain.vocabulary import Arch, BaseUnit, ItemKind, Technique, Viscosity
from inventory.errors import BadInput

UPPER, LOWER = Arch.MAXILLARY, Arch.MANDIBULAR
BOTH = (UPPER, LOWER)
TODAY = date(2026, 3, 1)
CARTRIDGE = 5000

HEAVY, LIGHT, BITE_MATERIAL, TIP = 1, 2, 3, 9
UPPER_M, UPPER_L, LOWER_M = 11, 12, 21
MIXING_TIP = Tip((TIP,), volume_qty=75, purge_qty=40)

UPPER_TRAY = StepNeed(1, Step.TRAY, UPPER, TRAY, BaseUnit.PIECE, (UPPER_M, UPPER_L), 1)
UPPER_LOAD = StepNeed(2, Step.LOAD, UPPER, HEAVY_BODY, BaseUnit.CML, (HEAVY,), 2500, 400, 100_000, MIXING_TIP)
UPPER_WASH = StepNeed(3, Step.WASH, UPPER, LIGHT_BODY, BaseUnit.CML, (LIGHT,), 900, 200, 100_000, MIXING_TIP)
LOWER_TRAY = StepNeed(4, Step.TRAY, LOWER, TRAY, BaseUnit.PIECE, (LOWER_M,), 1)
LOWER_LOAD = StepNeed(5, Step.LOAD, LOWER, HEAVY_BODY, BaseUnit.CML, (HEAVY,), 1700, 300, 120_000, MIXING_TIP)
LOWER_WASH = StepNeed(6, Step.WASH, LOWER, LIGHT_BODY, BaseUnit.CML, (LIGHT,), 700, 150, 120_000, MIXING_TIP)
RECORD = StepNeed(7, Step.JAW_RELATION, None, BITE, BaseUnit.CML, (BITE_MATERIAL,), 600, 150, 0, MIXING_TIP)
STOCK_TRAY_FINALS = (UPPER_TRAY, UPPER_LOAD, UPPER_WASH, LOWER_TRAY, LOWER_LOAD, LOWER_WASH, RECORD)
SIZES = {UPPER: {UPPER_M}, LOWER: {LOWER_M}}


def asked(technique: Technique, arch: Arch | None) -> list[tuple[Step, Material]]:
    return [(part.step, part.material) for part in outline(technique) if part.arch == arch]


def lots(item_id: int, units: int, unit_qty: int = CARTRIDGE, *, opened: bool = False) -> Stack:
    opened_on = TODAY if opened else None
    return Stack(item_id, item_id, item_id, units * unit_qty, unit_qty, TODAY, opened_on=opened_on)


def pieces(item_id: int, count: int) -> Stack:
    return lots(item_id, count, unit_qty=1)


# steps by technique


@pytest.mark.parametrize("arch", BOTH)
def test_the_stock_tray_technique_takes_per_arch_a_tray_its_heavy_load_and_a_light_wash(arch: Arch) -> None:
    assert asked(Technique.STOCK_TRAY, arch) == [
        (Step.TRAY, TRAY),
        (Step.LOAD, HEAVY_BODY),
        (Step.WASH, LIGHT_BODY),
    ]
    assert asked(Technique.STOCK_TRAY, None) == []


@pytest.mark.parametrize("arch", BOTH)
def test_the_custom_tray_technique_takes_border_moulding_and_wash_and_no_stock_tray(arch: Arch) -> None:
    assert asked(Technique.CUSTOM_TRAY, arch) == [(Step.BORDER, HEAVY_BODY), (Step.WASH, LIGHT_BODY)]


@pytest.mark.parametrize("arch", BOTH)
def test_a_reline_takes_a_wash_and_no_tray(arch: Arch) -> None:
    assert asked(Technique.RELINE, arch) == [(Step.WASH, LIGHT_BODY)]


@pytest.mark.parametrize("arch", BOTH)
def test_a_preliminary_impression_takes_a_powder_in_a_stock_tray(arch: Arch) -> None:
    assert asked(Technique.PRELIMINARY, arch) == [(Step.TRAY, TRAY), (Step.PRELIMINARY, POWDER)]
    assert POWDER.viscosity is None


def test_one_jaw_relation_record_with_bite_registration_material_serves_both_arches() -> None:
    assert asked(Technique.JAW_RELATION, None) == [(Step.JAW_RELATION, BITE)]
    assert len(outline(Technique.JAW_RELATION)) == 1


# expected use


def test_tip_volume_and_purge_are_part_of_a_line_and_shown_apart() -> None:
    (wash,) = expected_use([UPPER_WASH], BOTH)
    assert (wash.net_qty, wash.tip_qty, wash.purge_qty, wash.gross_qty, wash.tips) == (900, 75, 40, 1015, 1)


def test_a_line_without_a_tip_uses_its_net_amount_only() -> None:
    (line,) = expected_use([replace(UPPER_WASH, tip=None)], BOTH)
    assert (line.net_qty, line.gross_qty, line.tips) == (900, 900, 0)


def test_an_upper_only_visit_uses_nothing_mandibular_but_still_its_record() -> None:
    lines = expected_use(STOCK_TRAY_FINALS, [UPPER], SIZES)
    assert [line.need for line in lines] == [UPPER_TRAY, UPPER_LOAD, UPPER_WASH, RECORD]


def test_both_arches_take_one_record() -> None:
    assert [line.need for line in expected_use(STOCK_TRAY_FINALS, BOTH, SIZES)] == list(STOCK_TRAY_FINALS)


def test_a_tray_is_of_the_known_size_and_of_no_size_while_none_is_known() -> None:
    upper, lower = expected_use([UPPER_TRAY, LOWER_TRAY], BOTH, {UPPER: {UPPER_L}})
    assert (upper.articles, upper.size_unknown) == ((UPPER_L,), False)
    assert (lower.articles, lower.size_unknown) == ((), True)
    assert upper.net_qty == 1


def test_a_need_that_is_optional_is_listed_only_when_asked_for() -> None:
    need = replace(RECORD, optional=True)
    assert expected_use([need], BOTH) == ()
    assert [line.need for line in expected_use([need], BOTH, with_optional=True)] == [need]


# retakes


def test_a_retake_takes_material_tip_and_purge_again_right_after_its_step() -> None:
    lines = retake(expected_use(STOCK_TRAY_FINALS, BOTH, SIZES), Step.WASH, UPPER)
    assert [(line.need.need_id, line.attempt) for line in lines] == [
        (1, 1), (2, 1), (3, 1), (3, 2), (4, 1), (5, 1), (6, 1), (7, 1),
    ]  # fmt: skip
    assert lines[3].gross_qty == 1015


def test_a_retake_may_take_a_new_tray() -> None:
    lines = retake(expected_use(STOCK_TRAY_FINALS, [UPPER], SIZES), Step.LOAD, UPPER, new_tray=True)
    assert [(line.need.need_id, line.attempt) for line in lines if line.attempt == 2] == [(1, 2), (2, 2)]
    washed_again = retake(lines, Step.WASH, UPPER, new_tray=True)
    assert [(line.need.need_id, line.attempt) for line in washed_again if line.need.is_tray] == [(1, 1), (1, 2), (1, 3)]
    assert max(line.attempt for line in washed_again if line.need == UPPER_WASH) == 2


def test_a_retake_of_the_tray_alone_takes_a_tray_and_no_material() -> None:
    lines = retake(expected_use(STOCK_TRAY_FINALS, [UPPER], SIZES), Step.TRAY, UPPER)
    assert [line.need.need_id for line in lines if line.attempt == 2] == [1]


def test_a_second_retake_is_the_third_attempt_and_every_line_keeps_a_name_of_its_own() -> None:
    lines = expected_use(STOCK_TRAY_FINALS, BOTH, SIZES)
    for _ in range(2):
        lines = retake(lines, Step.WASH, LOWER)
    assert [line.attempt for line in lines if line.need == LOWER_WASH] == [1, 2, 3]
    assert len({line.key for line in lines}) == len(lines)


def test_a_retake_expects_the_estimate_even_where_the_first_attempt_was_corrected() -> None:
    corrected = tuple(replace(line, net_qty=1400) for line in expected_use([UPPER_WASH], BOTH))
    assert [line.net_qty for line in retake(corrected, Step.WASH, UPPER)] == [1400, 900]


def test_the_record_can_be_taken_again_too() -> None:
    assert len(retake(expected_use([RECORD], BOTH), Step.JAW_RELATION, None)) == 2


@pytest.mark.parametrize(("step", "arch"), [(Step.BORDER, UPPER), (Step.WASH, None), (Step.LOAD, LOWER)])
def test_a_step_that_is_not_on_the_form_cant_be_taken_again(step: Step, arch: Arch | None) -> None:
    with pytest.raises(BadInput, match=step):
        retake(expected_use(STOCK_TRAY_FINALS, [UPPER], SIZES), step, arch, new_tray=True)


def test_the_mean_over_cases_counts_retakes_as_whole_attempts() -> None:
    """One in ten attempts again: 1/(1-0.1) attempts a case, by the rule of geometric sums."""
    amount = use_per_case(UPPER_WASH)
    assert isclose(amount.mean, 1015 / 0.9)
    assert isclose(amount.sd**2, 200**2 / 0.9 + 0.1 / 0.81 * 1015**2)
    assert use_per_case(replace(UPPER_WASH, retake_ppm=0)).sd == 200


def test_an_attempt_that_uses_nothing_cant_be_divided_by() -> None:
    with pytest.raises(ValueError, match="uses something"):
        attempts_in(CARTRIDGE, 0)


def test_the_smallest_load_of_an_article_is_the_smallest_any_step_asks_of_it() -> None:
    needs = [*STOCK_TRAY_FINALS, replace(UPPER_WASH, articles=(LIGHT, HEAVY))]
    assert smallest_loads(needs)[LIGHT] == 815
    assert smallest_loads(needs)[HEAVY] == 1015


# serving


def test_a_visit_gets_its_material_its_tray_and_one_tip_a_load() -> None:
    lines = expected_use(STOCK_TRAY_FINALS, BOTH, SIZES)
    stock = [
        lots(HEAVY, 1),
        lots(LIGHT, 1),
        lots(BITE_MATERIAL, 1),
        pieces(UPPER_M, 1),
        pieces(LOWER_M, 1),
        pieces(TIP, 5),
    ]
    served = propose(lines, stock, TODAY)
    assert served.complete
    assert {pick.key: (pick.item_id, pick.qty) for pick in served.picks} == {
        LineKey(1, 1): (UPPER_M, 1),
        LineKey(2, 1): (HEAVY, 2615),
        LineKey(3, 1): (LIGHT, 1015),
        LineKey(4, 1): (LOWER_M, 1),
        LineKey(5, 1): (HEAVY, 1815),
        LineKey(6, 1): (LIGHT, 815),
        LineKey(7, 1): (BITE_MATERIAL, 715),
        **{LineKey(need_id, 1, tip=True): (TIP, 1) for need_id in (2, 3, 5, 6, 7)},
    }


def test_a_load_split_over_two_cartridges_takes_two_tips_and_two_purges() -> None:
    (line,) = expected_use([replace(UPPER_LOAD, may_split=True)], BOTH)
    rest = replace(lots(HEAVY, 1, 1000, opened=True), unit_qty=CARTRIDGE)
    served = propose([line], [rest, replace(lots(HEAVY, 1), holding_id=99), pieces(TIP, 5)], TODAY)
    assert [pick.qty for pick in served.of(line.key)] == [1000, 2615 - 1000 + 115]
    assert [pick.qty for pick in served.of(replace(line.key, tip=True))] == [2]


def test_a_load_nothing_serves_still_says_that_its_tip_is_missing() -> None:
    (line,) = expected_use([UPPER_WASH], BOTH)
    assert propose([line], [], TODAY).shortfalls == (
        Shortfall(line.key, LIGHT, 1015),
        Shortfall(replace(line.key, tip=True), TIP, 1),
    )


def test_a_tip_that_also_stands_on_the_form_by_itself_is_not_given_out_twice() -> None:
    by_itself = StepNeed(8, Step.WASH, UPPER, Material(ItemKind.TIP), BaseUnit.PIECE, (TIP,), 1)
    lines = expected_use([UPPER_WASH, by_itself], BOTH)
    served = propose(lines, [lots(LIGHT, 1), pieces(TIP, 1)], TODAY)
    assert served.shortfalls == (Shortfall(LineKey(3, 1, tip=True), TIP, 1),)


def test_a_tray_of_unknown_size_is_a_shortfall_and_no_size_is_guessed() -> None:
    lines = expected_use([UPPER_TRAY], BOTH)
    assert propose(lines, [pieces(UPPER_M, 9)], TODAY).shortfalls == (Shortfall(LineKey(1, 1), None, 1),)


def test_booked_visits_share_one_stock_first_visit_first() -> None:
    lines = expected_use([UPPER_WASH], BOTH)
    stock = [lots(LIGHT, 1), pieces(TIP, 9)]
    days = [TODAY + timedelta(days=n) for n in range(5)]
    served = serve_visits([(day, lines) for day in days], stock)
    assert [allocation.complete for allocation in served] == [True] * 4 + [False]
    assert [[pick.qty for pick in allocation.picks] for allocation in served] == [[1015, 1]] * 4 + [[1]]


def test_a_booked_visit_needs_stock_in_date_on_its_own_day() -> None:
    lines = expected_use([UPPER_WASH], BOTH)
    stock = [replace(lots(LIGHT, 1), use_by=TODAY), replace(pieces(TIP, 5), use_by=TODAY)]
    today, tomorrow = serve_visits([(TODAY, lines), (TODAY + timedelta(days=1), lines)], stock)
    assert today.complete
    assert [short.item_id for short in tomorrow.shortfalls] == [LIGHT, TIP]


def test_a_visit_that_asks_for_nothing_still_has_its_answer() -> None:
    assert [served.complete for served in serve_visits([(TODAY, ()), (TODAY, ())], [])] == [True, True]
    assert serve_visits([], []) == ()


def test_cases_possible_says_how_many_and_what_the_next_one_lacks() -> None:
    lines = expected_use([UPPER_TRAY, UPPER_WASH], [UPPER])
    stock = [lots(LIGHT, 2), pieces(TIP, 5)]
    assert cases_possible(lines, stock, TODAY) == CasesPossible(5, (Shortfall(LineKey(3, 1, tip=True), TIP, 1),))
    assert cases_possible(lines, stock, TODAY, most=3) == CasesPossible(3, ())
    assert cases_possible(lines, [pieces(TIP, 5)], TODAY).count == 0


@given(st.integers(0, 6), st.integers(0, 20), st.integers(300, 2000))
def test_one_case_more_than_possible_is_never_complete(cartridges: int, tips: int, net: int) -> None:
    lines = expected_use([replace(UPPER_WASH, mean_qty=net)], [UPPER])
    stock = [lots(LIGHT, cartridges), pieces(TIP, tips)]
    possible = cases_possible(lines, stock, TODAY)
    assert possible.count == min(tips, cartridges * (CARTRIDGE // (net + 115)))
    served = serve_visits([(TODAY, lines)] * (possible.count + 1), stock)
    assert [allocation.complete for allocation in served] == [True] * possible.count + [False]


# figures that can't be right


@pytest.mark.parametrize("need", STOCK_TRAY_FINALS)
def test_usual_needs_are_without_fault(need: StepNeed) -> None:
    check_need(need)


@pytest.mark.parametrize(
    ("need", "fault"),
    [
        (replace(UPPER_WASH, mean_qty=0), "more than nothing"),
        (replace(UPPER_WASH, optional=True, mean_qty=-1), "more than nothing"),
        (replace(UPPER_WASH, sd_qty=-1), "spread"),
        (replace(UPPER_WASH, retake_ppm=-1), "between 0 and 50%"),
        (replace(UPPER_WASH, retake_ppm=500_001), "between 0 and 50%"),
        (replace(UPPER_WASH, tip=Tip((TIP,), -1, 0)), "can't be negative"),
        (replace(UPPER_WASH, tip=Tip((TIP,), 0, -1)), "can't be negative"),
        (replace(UPPER_WASH, base=BaseUnit.CG, material=POWDER), "mixing tip"),
        (replace(UPPER_WASH, base=BaseUnit.CG, tip=None), "viscosity"),
        (replace(RECORD, material=Material(ItemKind.BITE, Viscosity.HEAVY)), "viscosity"),
        (replace(RECORD, base=BaseUnit.CG, tip=None), "bite-registration"),
        (replace(UPPER_TRAY, mean_qty=2), "one piece"),
        (replace(UPPER_TRAY, base=BaseUnit.CML), "one piece"),
        (replace(UPPER_TRAY, arch=None), "one arch"),
        (replace(UPPER_WASH, articles=(LIGHT, LIGHT)), "twice"),
    ],
)
def test_figures_that_cant_be_right_are_refused(need: StepNeed, fault: str) -> None:
    assert any(fault in text for text in faults_of(need))
    with pytest.raises(BadInput, match=fault.replace("%", ".")):
        check_need(need)


def test_every_fault_is_named_at_once() -> None:
    assert len(faults_of(replace(UPPER_WASH, mean_qty=0, sd_qty=-1, retake_ppm=-1))) == 3


def test_an_optional_need_may_expect_nothing() -> None:
    assert faults_of(replace(RECORD, optional=True, mean_qty=0)) == ()


# figures that look unusual


def test_usual_finals_raise_no_doubt() -> None:
    assert doubts_of(STOCK_TRAY_FINALS, Technique.STOCK_TRAY) == ()


def test_a_wash_far_from_an_even_layer_raises_a_doubt_that_says_why() -> None:
    needs = [replace(need, mean_qty=9000) if need == UPPER_WASH else need for need in STOCK_TRAY_FINALS]
    thickness, ratio = doubts_of(needs, Technique.STOCK_TRAY)
    assert thickness == "wash, maxillary: 90 mL is unusual, 1 to 3 mm are 2.9 to 13.5 mL"
    assert ratio == "wash: upper to lower is 12.86, usually 1.2 to 1.7"


def test_a_border_is_not_compared_for_it_goes_by_length() -> None:
    needs = [replace(UPPER_LOAD, step=Step.BORDER, mean_qty=600), replace(LOWER_LOAD, step=Step.BORDER, mean_qty=600)]
    assert doubts_of(needs, Technique.CUSTOM_TRAY) == ()


def test_a_tray_in_a_reline_and_a_missing_one_in_the_stock_tray_technique_raise_a_doubt() -> None:
    assert doubts_of([UPPER_TRAY, UPPER_WASH], Technique.RELINE) == (
        "the technique reline usually takes no stock tray",
    )
    without_lower = [need for need in STOCK_TRAY_FINALS if need != LOWER_TRAY]
    assert doubts_of(without_lower, Technique.STOCK_TRAY) == (
        "mandibular: the technique stock_tray usually takes a stock tray",
    )


def test_a_line_is_a_plain_value() -> None:
    assert ExpectedLine(UPPER_WASH, (LIGHT,), 1, 900) == expected_use([UPPER_WASH], [UPPER])[0]
