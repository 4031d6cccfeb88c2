"""Labels: whatever was written by the rules is read back, and whatever was not is refused in words."""

import string
from datetime import date
from random import Random
from urllib.parse import quote

import pytest
from hypothesis import given
from hypothesis import strategies as st

from inventory.domain.labels.label import Label, join
from inventory.domain.labels.reading import read_label
from inventory.domain.labels.writing import shelf_code
from inventory.domain.vocabulary import UseByReading
from inventory.errors import BadInput
from tests.benchmarks.label_speed import outcome, strings

TODAY = date(2026, 11, 25)
GTIN = "09506000134352"
SIGNS_OF_GS1 = "!\"%&'()*+,-./:;<=>?_" + string.digits + string.ascii_letters
SIGNS_OF_HIBC = string.digits + string.ascii_uppercase + "-. $/+%"

days = st.dates(date(1978, 1, 1), date(2076, 12, 31))
lots = st.text(SIGNS_OF_GS1, min_size=1, max_size=20)
small_lots = st.text(string.ascii_uppercase + string.digits, min_size=1, max_size=18)


@st.composite
def gtins(draw: st.DrawFn) -> str:
    digits = draw(st.text(string.digits, min_size=13, max_size=13))
    weighed = sum(int(digit) * weight for digit, weight in zip(digits, [3, 1] * 7, strict=False))
    return digits + str((10 - weighed % 10) % 10)


@given(gtins(), lots, lots, days, days, st.integers(1, 99_999_999), st.randoms(use_true_random=False), st.data())
def test_what_is_written_as_element_strings_in_any_order_is_read_back(  # noqa: PLR0917 - drawn, not passed
    gtin: str, lot: str, serial: str, use_by: date, made_on: date, count: int, chance: Random, data: st.DataObject
) -> None:
    elements = [
        ("01" + gtin, False), ("10" + lot, True), ("21" + serial, True), (f"17{use_by:%y%m%d}", False),
        (f"11{made_on:%y%m%d}", False), (f"30{count}", True), ("2007", False),
    ]  # fmt: skip
    chance.shuffle(elements)
    separator = data.draw(st.sampled_from(["\x1d", "␝", "|", "~", "^", "^]", "<GS>", "{FNC1}", "\x1d\x1d"]))
    mark = data.draw(st.sampled_from(["]d2", "]C1", "]Q3", "", "\x1d"]))
    text = mark + "".join(body + (separator if ends else "") for body, ends in elements)
    label = read_label(text, TODAY)
    found = (label.gtin, label.lot, label.serial, label.use_by, label.made_on, label.count, label.variant)
    assert found == (gtin, lot, serial, use_by, made_on, count, "07")


@given(gtins(), st.text(SIGNS_OF_GS1.replace("(", ""), min_size=1, max_size=20), days)
def test_the_printed_form_is_read_like_the_scanned_one(gtin: str, lot: str, use_by: date) -> None:
    label = read_label(f"(01){gtin} (17) {use_by:%y%m%d} (10){lot}", TODAY)
    assert (label.gtin, label.lot, label.use_by) == (gtin, lot, use_by)


@given(gtins(), lots, days)
def test_a_digital_link_is_read_like_the_scanned_form(gtin: str, lot: str, use_by: date) -> None:
    label = read_label(f"https://example.org/01/{gtin}/10/{quote(lot, safe='')}?17={use_by:%y%m%d}&a=b", TODAY)
    assert (label.gtin, label.lot, label.use_by) == (gtin, lot, use_by)


def hibc_check(text: str) -> str:
    values = {sign: value for value, sign in enumerate(SIGNS_OF_HIBC)}
    rest = 0
    for sign in text:
        rest = (rest + values[sign]) % 43
    return SIGNS_OF_HIBC[rest]


@given(
    st.from_regex(r"\A[A-Z][A-Z0-9]{3}[A-Z0-9]{1,18}[0-9]\Z"),
    small_lots,
    small_lots,
    days,
    days,
    st.integers(0, 99_999),
)
def test_what_is_written_as_hibc_in_one_code_or_two_is_read_back(  # noqa: PLR0917 - drawn, not passed
    article: str, lot: str, serial: str, use_by: date, made_on: date, count: int
) -> None:
    said = f"$$3{use_by:%y%m%d}{lot}/16D{made_on:%Y%m%d}/S{serial}/Q{count}"
    whole = f"+{article}/{said}"
    primary = f"+{article}" + hibc_check(f"+{article}")
    secondary = f"+{said}{primary[-1]}"
    one = read_label(whole + hibc_check(whole), TODAY)
    two = join(read_label(primary, TODAY), read_label(secondary + hibc_check(secondary), TODAY))
    for label in (one, two):
        found = (label.hibc, label.lot, label.serial, label.use_by, label.made_on, label.count)
        assert found == (article, lot, serial, use_by, made_on, count)


def test_of_many_strings_made_up_or_damaged_each_is_a_label_or_a_clear_error() -> None:
    """A hundred thousand: ``python -m tests.benchmarks.label_speed --strings 100000``."""
    read = [outcome(text) for text in strings(2_000, seed=4)]
    labels = [label for label in read if isinstance(label, Label)]
    errors = [error for error in read if isinstance(error, BadInput)]
    assert len(labels) + len(errors) == 2_000
    assert len(labels) > 100  # many damages leave something readable
    assert all("character" in error.message and error.todo for error in errors)


@pytest.mark.parametrize(
    ("text", "swallowed"),
    [
        (f"01{GTIN}10032915210526", "best-before date"),
        (f"01{GTIN}10LOT717271231", "use-by date"),
        (f"01{GTIN}10LOT71727123121SER1", "use-by date"),
        (f"10LOT701{GTIN}", "article number"),
        (f"01{GTIN}21S417271231{chr(29)}10L", "use-by date"),
    ],
)
def test_a_lot_that_seems_to_have_swallowed_the_next_field_gets_a_question(text: str, swallowed: str) -> None:
    (question,) = read_label(text, TODAY).questions
    assert swallowed in question


@pytest.mark.parametrize(
    "text",
    [
        f"01{GTIN}1727123110LOT717281231",  # the date is there: digits of the lot are its own
        f"01{GTIN}10LOT717271399",  # no such date
        f"(01){GTIN}(10)LOT717271231",  # printed: the brackets say where it ends
        f"https://example.org/01/{GTIN}/10/LOT717271231",
    ],
)
def test_a_lot_whose_digits_are_its_own_gets_none(text: str) -> None:
    assert read_label(text, TODAY).questions == ()


def test_a_lot_keeps_brackets_case_and_leading_zeros() -> None:
    assert read_label("(10)00a(10)B(17)271231", TODAY).lot == "00a(10)B"
    assert read_label(f"01{GTIN}1000a(17)B", TODAY).lot == "00a(17)B"


def test_made_after_its_use_by_date_is_asked_about() -> None:
    (question,) = read_label(f"01{GTIN}1128010117270101", TODAY).questions
    assert "2028-01-01" in question


def test_a_use_by_date_with_an_hour_counts_as_its_day() -> None:
    label = read_label(f"01{GTIN}70032712311200", TODAY)
    assert (label.use_by, label.use_by_read) == (date(2027, 12, 31), UseByReading.DAY)


def test_the_use_by_date_goes_before_the_best_before_date() -> None:
    label = read_label(f"01{GTIN}1526123117271231", TODAY)
    assert (label.use_by, label.best_before) == (date(2027, 12, 31), False)
    assert read_label(f"01{GTIN}15261231", TODAY).best_before


def test_a_label_of_a_pallet_names_no_article() -> None:
    with pytest.raises(BadInput, match="no article, lot or date") as refused:
        read_label("00" + "106141412345678908", TODAY)
    assert "other code" in refused.value.todo


def test_signs_of_another_keyboard_layout_are_told_as_such() -> None:
    with pytest.raises(BadInput, match="character 3") as refused:
        read_label("01ß9506000134352", TODAY)
    assert "keyboard layout" in refused.value.todo


def test_two_codes_of_a_gs1_package_join_and_two_articles_do_not() -> None:
    article, rest = read_label("9506000134352", TODAY), read_label("1727123110LOT9", TODAY)
    joined = join(rest, article)
    assert (joined.gtin, joined.lot, joined.use_by) == (GTIN, "LOT9", date(2027, 12, 31))
    with pytest.raises(BadInput, match="not of one package"):
        join(article, read_label("95012346", TODAY))
    with pytest.raises(BadInput, match="contradict"):
        join(joined, read_label("10LOT8", TODAY))


def test_our_own_shelf_labels_name_their_code() -> None:
    label = read_label("91LIGHT-A\x1d10H-7", TODAY)
    assert (label.scheme, label.code, label.lot) == ("own", "LIGHT-A", "H-7")


def test_line_ends_and_tabs_of_a_scanner_do_not_count() -> None:
    assert read_label(f"01{GTIN}10A\t\r\n", TODAY).lot == "A"
    with pytest.raises(BadInput, match="nothing is there"):
        read_label("]d2\r", TODAY)


@given(st.sampled_from(["", GTIN]), st.text(max_size=25), days, st.booleans())
def test_what_a_shelf_label_says_is_read_back_whatever_the_lots_number_is(
    gtin: str, lot: str, use_by: date, month: bool
) -> None:
    read = UseByReading.MONTH if month else UseByReading.DAY
    text = shelf_code("LIGHT-50/A", gtin=gtin, lot=lot, lot_id=17, use_by=use_by, read=read)
    label = read_label(text, TODAY)
    assert label.code in (GTIN, "LIGHT-50/A")
    assert (label.lot == lot) if lot and label.own_lot is None else (label.own_lot == (17 if lot else None))
    assert label.use_by is not None
    assert (label.use_by.year, label.use_by.month, label.use_by_read) == (use_by.year, use_by.month, read)


def test_a_shelf_label_is_a_digital_link_where_the_article_has_a_gtin() -> None:
    text = shelf_code("LIGHT", gtin=GTIN, lot="A/1", use_by=date(2027, 12, 31))
    assert text == f"https://id.gs1.org/01/{GTIN}/10/A%2F1?17=271231"
    assert shelf_code("LIGHT", lot="A/1") == "(91)LIGHT(10)A/1"
    assert shelf_code("LIGHT", gtin=GTIN, lot="no such letter: é", lot_id=17) == "(91)LIGHT(92)17"
