"""A figure that tells a person to act shows its own arithmetic, and the arithmetic is right."""

import json
import re
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from inventory.domain.why import CENTS, DAYS, PACKS, Derivation, Op, Term, chained, derive, fold, from_data, text


def shortfall() -> Derivation:
    return derive(
        "What is short",
        [Term("reorder point", 28500, "cml"), Term("usable stock", 12345, "cml", Op.MINUS)],
        "short by",
        "cml",
    )


def test_a_sum_is_printed_line_by_line_with_its_result_last() -> None:
    assert shortfall().lines() == [
        "What is short",
        "  + reorder point     285 mL",
        "  - usable stock   123.45 mL",
        "  = short by       161.55 mL",
    ]


def test_packs_are_whole_and_rounded_up() -> None:
    packs = derive(
        "Packs",
        [Term("short by", 16155, "cml"), Term("content of a pack", 10000, "cml", Op.IN_PACKS_OF)],
        "to order",
        PACKS,
    )
    assert packs.result.value == 2
    assert packs.lines()[-1].endswith("2 packs")


def test_what_is_only_told_beside_a_sum_does_not_change_it() -> None:
    assert fold([Term("a", 5, "piece"), Term("on hold, not counted", 100, "piece", Op.TOLD)]) == 5


@pytest.mark.parametrize(
    ("op", "comes_to"),
    [
        (Op.PLUS, 17),
        (Op.MINUS, 7),
        (Op.TIMES, 60),
        (Op.IN_PACKS_OF, 3),
        (Op.AT_LEAST, 12),
        (Op.AT_MOST, 5),
        (Op.TOLD, 12),
    ],
)
def test_each_operation_does_what_it_says(op: Op, comes_to: int) -> None:
    assert fold([Term("start", 12, ""), Term("then", 5, "", op)]) == comes_to


def test_a_wrong_result_is_noticed() -> None:
    right = shortfall()
    wrong = Derivation(right.title, right.terms, Term("short by", 16154, "cml"))
    assert right.adds_up()
    assert not wrong.adds_up()
    assert not chained([wrong])


def test_a_result_carried_on_with_another_value_is_noticed() -> None:
    carried = derive("Next", [Term("short by", 1, "cml")], "x", "cml")
    assert not chained([shortfall(), carried])
    assert chained([shortfall(), derive("Next", [Term("short by", 16155, "cml")], "x", "cml")])


def test_units_are_written_as_people_read_them() -> None:
    assert Term("n", 1, DAYS).shown() == "1 day"
    assert Term("n", 3, DAYS).shown() == "3 days"
    assert Term("n", 1250, CENTS).shown() == "12.50"
    assert Term("n", 7, "").shown() == "7"


def test_several_sums_print_one_under_the_other() -> None:
    assert text([shortfall(), shortfall()]) == shortfall().lines() * 2


def test_a_derivation_survives_json() -> None:
    assert from_data(json.loads(json.dumps(shortfall().as_data()))) == shortfall()


amounts = st.integers(0, 10**7)
terms = st.lists(st.tuples(amounts, st.sampled_from([Op.PLUS, Op.MINUS, Op.AT_LEAST, Op.AT_MOST])), max_size=8)


@given(terms)
def test_the_printed_lines_add_up_when_read_back_from_the_paper(rows: list[tuple[int, Op]]) -> None:
    made = derive("t", [Term(f"n{'abcdefgh'[k]}", v, "cml", op) for k, (v, op) in enumerate(rows)], "sum", "cml")
    total = Fraction(0)
    for line in made.lines()[1:]:
        read = re.fullmatch(r"\s+(at least|at most|[+=-]) (?:n[a-h]|sum)\s+(-?[\d.]+) mL", line)
        assert read is not None
        value = Fraction(read[2])
        match read[1]:
            case "+":
                total += value
            case "-":
                total -= value
            case "at least":
                total = max(total, value)
            case "at most":
                total = min(total, value)
            case _:
                assert total == value
