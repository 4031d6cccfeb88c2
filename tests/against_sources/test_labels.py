"""Strings of labels whose meaning is published or can be recomputed, each with where it is from.

Numbers are those meant for demonstrations only: GTINs of the prefixes 950 and 952, labeler codes of the HIBC standard's
own examples. "Read" means read in the source named, "computed" recomputed from its rule.
"""

from datetime import date
from typing import Any

import pytest

from inventory.domain.catalogue import check_digit
from inventory.domain.labels.hibc import check_character
from inventory.domain.labels.label import CodeKind, join
from inventory.domain.labels.reading import read_label
from inventory.domain.vocabulary import UseByReading
from inventory.errors import BadInput

TODAY = date(2026, 11, 25)
GTIN = "09506000134352"
FNC1 = "\x1d"


def said(text: str, today: date = TODAY) -> dict[str, Any]:
    """What a label says, without what it does not say and how it was read."""
    label = read_label(text, today)
    names = ("gtin", "hibc", "lot", "use_by", "made_on", "serial", "variant", "count", "link")
    return {name: value for name in names if (value := getattr(label, name)) is not None}


# GS1 General Specifications, 3.2 to 3.9 (elements), 7.8 (separators); the strings with the demonstration GTIN are ours,
# built after the shapes that the specification and the tests of GS1 libraries use; expected values computed.
ELEMENT_STRINGS = [
    (f"01{GTIN}15210526100329", {"gtin": GTIN, "lot": "0329", "use_by": date(2021, 5, 26)}),
    (f"01{GTIN}100329{FNC1}15210526", {"gtin": GTIN, "lot": "0329", "use_by": date(2021, 5, 26)}),
    (f"01{GTIN}100329{FNC1}{FNC1}15210526", {"gtin": GTIN, "lot": "0329", "use_by": date(2021, 5, 26)}),
    (f"01{GTIN}10032915210526", {"gtin": GTIN, "lot": "032915210526"}),  # separator lost
    ("(10)123(17)221231", {"lot": "123", "use_by": date(2022, 12, 31)}),
    (f"]d201{GTIN}{FNC1}1727123110LOT9", {"gtin": GTIN, "lot": "LOT9", "use_by": date(2027, 12, 31)}),
    (f"01{GTIN}1727123110lot-9/a", {"gtin": GTIN, "lot": "lot-9/a", "use_by": date(2027, 12, 31)}),
    ("20011722123110A/B", {"variant": "01", "lot": "A/B", "use_by": date(2022, 12, 31)}),
    ("(10)LOT7(17)251231", {"lot": "LOT7", "use_by": date(2025, 12, 31)}),  # a library loses the end of this lot
    (f"01{GTIN}11250101{FNC1}21S-1", {"gtin": GTIN, "made_on": date(2025, 1, 1), "serial": "S-1"}),
    (f"02{GTIN}3712{FNC1}10L", {"gtin": GTIN, "count": 12, "lot": "L"}),
]  # fmt: skip

# GS1 Digital Link Standard: URI Syntax (read); the first address with a demonstration GTIN of the prefix 952.
LINKS = [
    (
        "https://id.gs1.org/01/09521234543213/10/ABC123?17=261231",
        {"gtin": "09521234543213", "lot": "ABC123", "use_by": date(2026, 12, 31)},
    ),
    (
        f"https://id.gs1.org/01/{GTIN}/10/LOT%2F1?17=271231",  # decoded after it is divided
        {"gtin": GTIN, "lot": "LOT/1", "use_by": date(2027, 12, 31)},
    ),
    (f"]Q1https://example.org/shop/01/{GTIN}/22/A/10/B/21/C?linkType=all", {"gtin": GTIN, "lot": "B", "serial": "C"}),
    ("http://example.org/01/95012346", {"gtin": "00000095012346"}),
]

# ANSI/HIBC 2.6, its own examples (read), check characters recomputed; dates of two-digit years as GS1 reads them.
HIBC = [
    ("+A123BJC5D6E71G", {"hibc": "A123BJC5D6E71"}),
    ("+H123ABC01234567890D", {"hibc": "H123ABC01234567890"}),
    ("+$$52001510X3GD", {"lot": "10X3", "use_by": date(2020, 1, 15), "link": "G"}),
    ("+$A1234GU", {"lot": "A1234", "link": "G"}),
    ("+A99912345/$$52001510X33", {"hibc": "A99912345", "lot": "10X3", "use_by": date(2020, 1, 15)}),
    ("+A123BJC5D6E71/$$52001510X3C", {"hibc": "A123BJC5D6E71", "lot": "10X3", "use_by": date(2020, 1, 15)}),
    (
        "+A99912345/$10X3/16D20111231/14D202001313",
        {"hibc": "A99912345", "lot": "10X3", "use_by": date(2020, 1, 31), "made_on": date(2011, 12, 31)},
    ),
    (
        "+A99912349/$10X3/16D20111231/14D20200131/Q500Z",
        {"hibc": "A99912349", "lot": "10X3", "use_by": date(2020, 1, 31), "made_on": date(2011, 12, 31), "count": 500},
    ),
    (
        "+J123AQ3451/$$3231231BC34567/S4012R",
        {"hibc": "J123AQ3451", "lot": "BC34567", "use_by": date(2023, 12, 31), "serial": "4012"},
    ),
    (
        "+J123AQ3451/$$1125BC34567/S4012L",
        {"hibc": "J123AQ3451", "lot": "BC34567", "use_by": date(2025, 11, 30), "serial": "4012"},
    ),
    (
        "+A99912345/$$902345710X3/16D20111212/14D20200906/S77DEFG45F",
        {
            "hibc": "A99912345", "lot": "10X3", "use_by": date(2020, 9, 6), "made_on": date(2011, 12, 12),
            "serial": "77DEFG45", "count": 2345,
        },
    ),
    ("+A123BJCMD6E79+", {"hibc": "A123BJCMD6E79"}),  # the check character is a plus
    ("+$$52001510X3+ ", {"lot": "10X3", "use_by": date(2020, 1, 15), "link": "+"}),  # a blank, and its link a plus
]  # fmt: skip


@pytest.mark.parametrize(("text", "expected"), ELEMENT_STRINGS + LINKS + HIBC)
def test_a_published_label_says_what_its_source_tells(text: str, expected: dict[str, Any]) -> None:
    assert said(text) == expected


@pytest.mark.parametrize(
    ("text", "at", "why"),
    [
        (f"01{GTIN}17271399", 19, "there is no date 271399"),
        (f"01{GTIN} 17271231 10LOT", 17, "a blank"),
        (f"01{GTIN[:-1]}317271231", 16, "last digit"),  # libraries only note a wrong GTIN inside a message
        (f"01{GTIN[:9]}", 3, "does not fit"),
        (f"01{GTIN}172712", 19, "does not fit"),
        (f"01{GTIN}10", 19, "the label ends here"),
        (f"01{GTIN}{FNC1}5812", 18, "no GS1 element begins with '5812'"),
        ("10ABCDEFGHIJKLMNOPQRSTUV17271231", 23, "goes on too long"),  # a lot has at most 20 signs
        (f"01{GTIN}10A{FNC1}10B", 23, "twice"),
        ("9506000134353", 13, "last digit"),
        # Digital Link: no primary key, odd segments, qualifiers out of order, another scheme
        ("https://id.gs1.org/10/ABC123?17=261231", 1, "names no article"),
        (f"https://id.gs1.org/01/{GTIN}/10", 37, "'/10' does not fit"),
        (f"https://id.gs1.org/01/{GTIN}/21/A/10/B", 42, "'/10/B' does not fit"),
        (f"https://id.gs1.org/01/{GTIN}?17=271399", 37, "does not fit"),
        (f"urn:epc:id:{GTIN}", 1, "https://"),
        # HIBC: no plus, small letters, the start sign of the symbology, unit of measure no digit, truncated
        ("A123BJC5D6E71G", 1, "begins with"),
        ("+a123BJC5D6E71G", 2, "small letters"),
        ("*+A123BJC5D6E71G*", 1, "begins with"),
        ("+A123BJC5D6E71H", 15, "check character"),
    ],
)
def test_a_label_that_breaks_the_rules_is_refused_at_its_place(text: str, at: int, why: str) -> None:
    with pytest.raises(BadInput) as refused:
        read_label(text, TODAY)
    assert f"character {at}:" in refused.value.message
    assert why in refused.value.message
    assert "type" in refused.value.todo.casefold()


@pytest.mark.parametrize(
    ("body", "why"),
    [
        ("+A123BJC5D6E7X", "unit of measure"),
        ("+A123BJC5D6E71/$$32312", "6 digits belong here"),
        ("+A123BJC5D6E71/$$520000L", "no day 000"),
        ("+A123BJC5D6E71/$$523366L", "no day 366"),  # 2023 has 365 days
        ("+A123BJC5D6E71/$$1325L", "no month 13"),
        ("+A123BJC5D6E71/$1234567890123456789", "at most 18"),
        ("+A123BJC5D6E71/Q5/S1", "comes last"),
        ("+A123BJC5D6E71/17D20301231", "does not fit"),
        ("+A123BJC5D6E71/14D20300231", "no date"),
        ("+A123BJC5D6E71/S1/S2", "the like stood before"),
    ],
)
def test_an_hibc_label_with_a_right_check_character_is_refused_for_what_else_is_wrong(body: str, why: str) -> None:
    text = body + check_character(body)
    with pytest.raises(BadInput) as refused:
        read_label(text, TODAY)
    assert why in refused.value.message


@pytest.mark.parametrize(
    ("form", "expected", "reading"),
    [
        ("0928", date(2028, 9, 30), UseByReading.MONTH),
        ("2092828", date(2028, 9, 28), UseByReading.DAY),
        ("3280928", date(2028, 9, 28), UseByReading.DAY),
        ("428092823", date(2028, 9, 28), UseByReading.DAY),
        ("528272", date(2028, 9, 28), UseByReading.DAY),
        ("62827223", date(2028, 9, 28), UseByReading.DAY),
        ("7", None, UseByReading.NOT_READ),
    ],
)
@pytest.mark.parametrize(("quantity", "count"), [("", None), ("824", 24), ("900100", 100)])
def test_hibc_reads_a_date_by_its_flag_with_or_without_a_quantity_before_it(
    form: str, expected: date | None, reading: UseByReading, quantity: str, count: int | None
) -> None:
    # ANSI/HIBC 2.6, table of secondary data structures (read); the instances computed
    body = f"+$${quantity}{form}3C001L"
    label = read_label(body + check_character(body), TODAY)
    found = (label.lot, label.use_by, label.use_by_read, label.count, label.link)
    assert found == ("3C001", expected, reading, count, "L")
    if not quantity:  # a serial number has none
        body = f"+$$+{form}3C001L"
        label = read_label(body + check_character(body), TODAY)
        assert (label.serial, label.use_by, label.use_by_read) == ("3C001", expected, reading)


def test_the_superseded_form_of_hibc_is_year_and_day_of_the_year_before_the_lot() -> None:
    body = "+281233C001L"
    assert said(body + check_character(body)) == {"lot": "3C001", "use_by": date(2028, 5, 2), "link": "L"}


@pytest.mark.parametrize(
    ("body", "digit"),
    [("950110153100", "0"), ("9501234", "6"), ("629104150021", "3"), ("0950600013435", "2")],
)
def test_check_digits_by_the_published_rule(body: str, digit: str) -> None:
    # GS1 General Specifications 7.9 (read; the last one computed)
    assert check_digit(body) == digit


def test_the_check_character_of_the_standards_worked_example() -> None:
    # ANSI/HIBC 2.6, appendix: the values of +A123BJC5D6E71 sum to 145, which leaves 16, the letter G (read)
    assert check_character("+A123BJC5D6E71") == "G"


@pytest.mark.parametrize(
    ("digits", "year"), [("75", 2075), ("76", 2076), ("77", 1977), ("26", 2026), ("00", 2000), ("99", 1999)]
)
def test_the_century_is_the_one_nearest_to_the_practices_own_day(digits: str, year: int) -> None:
    # GS1 General Specifications 7.12 (read), instances computed for 2026
    assert said(f"01{GTIN}17{digits}0115")["use_by"] == date(year, 1, 15)
    assert said(f"01{GTIN}17770115", date(2027, 1, 1))["use_by"] == date(2077, 1, 15)  # a year later, another century


@pytest.mark.parametrize(
    ("digits", "day"),
    [("200200", date(2020, 2, 29)), ("210200", date(2021, 2, 28)), ("260400", date(2026, 4, 30))],
)
def test_day_00_is_the_last_day_of_the_month_and_is_told_apart(digits: str, day: date) -> None:
    # GS1 General Specifications 3.4 (read); not allowed on regulated items since 2025, but old stock has it
    label = read_label(f"01{GTIN}17{digits}", TODAY)
    assert (label.use_by, label.use_by_read) == (day, UseByReading.MONTH)


def test_digits_that_are_a_date_and_an_article_number_are_told_as_both() -> None:
    # 17770101: element 17 with 1977-01-01, or a GTIN-8 with a right check digit (computed); libraries give both or one
    label = read_label("17770101", TODAY)
    assert (label.use_by, label.gtin, label.gtin_instead) == (date(1977, 1, 1), None, "00000017770101")
    assert label.questions


@pytest.mark.parametrize("digits", ["95012346", "952123454322", "6291041500213", GTIN])
def test_plain_article_numbers_of_every_length_are_padded_to_one(digits: str) -> None:
    digits = digits[:-1] + check_digit(digits[:-1])
    label = read_label(digits, TODAY)
    assert (label.kind, label.gtin) == (CodeKind.ARTICLE, digits.zfill(14))


def test_the_second_hibc_label_joins_the_first_that_it_names_and_no_other() -> None:
    # the check characters G and + of the standard's primary labels come back as links of the secondary ones (read)
    first, other = read_label("+A123BJC5D6E71G", TODAY), read_label("+A123BJCMD6E79+", TODAY)
    second = read_label("+$$52001510X3GD", TODAY)
    both = read_label("+A123BJC5D6E71/$$52001510X3C", TODAY)
    joined = join(second, first)
    assert (joined.hibc, joined.lot, joined.use_by, joined.kind) == (both.hibc, both.lot, both.use_by, both.kind)
    with pytest.raises(BadInput, match="another article"):
        join(other, second)
