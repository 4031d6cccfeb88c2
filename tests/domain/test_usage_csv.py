"""Use and waste as CSV: one head, one row each, amounts and money as numbers, no text a spreadsheet would reckon."""

import csv
from dataclasses import replace
from datetime import date
from io import StringIO

import pytest

from inventory.domain.usage import Account, ItemUse, KindCost, Spread, Usage
from inventory.domain.vocabulary import BaseUnit, ItemKind
from inventory.reports.usage_csv import items_csv, visits_csv

ITEM = ItemUse(
    1, "HEAVY", "Heavy body", ItemKind.IMPRESSION, BaseUnit.CML, 5000, 3735,
    Account(used=1000, purged=115, miscounted=-150), Account(used=300, purged=35, miscounted=-45), 7,
)  # fmt: skip
USAGE = Usage(
    date(2026, 11, 1), date(2026, 11, 25), "EUR", (ITEM,), ITEM.cents,
    (KindCost("final", "Final", Spread(1, 300, None, 300, 300, 300), 1),), 35,
)  # fmt: skip


def rows(text: str) -> list[dict[str, str]]:
    return list(csv.DictReader(StringIO(text)))


def test_a_row_tells_an_item_in_its_unit_and_in_money() -> None:
    (row,) = rows(items_csv(USAGE))
    assert {key: row[key] for key in ("unit", "before", "used", "purged", "miscounted", "after", "without_price")} == {
        "unit": "mL", "before": "50", "used": "10", "purged": "1.15", "miscounted": "-1.5", "after": "37.35",
        "without_price": "0.07",
    }  # fmt: skip
    assert (row["used_money"], row["miscounted_money"], row["currency"]) == ("3.00", "-0.45", "EUR")


def test_one_visit_has_no_standard_deviation() -> None:
    (row,) = rows(visits_csv(USAGE))
    assert (row["visits"], row["mean"], row["standard_deviation"]) == ("1", "3.00", "")


@pytest.mark.parametrize("name", ["=1+1", "+49", "-x", "@A1", "\tx", 'Wash, "fast"\n=2'])
def test_no_name_is_taken_for_a_formula_and_numbers_stay_numbers(name: str) -> None:
    kinds = (replace(USAGE.kinds[0], name=name),)
    report = replace(USAGE, items=(replace(ITEM, name=name),), kinds=kinds)
    for (row,) in (rows(items_csv(report)), rows(visits_csv(report))):
        assert row["name"].removeprefix("'") == name
        assert row["name"].startswith("'") == (name[0] in "=+-@\t")
    assert float(rows(items_csv(report))[0]["miscounted"]) == -1.5
