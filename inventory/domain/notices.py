"""Which lots a recall notice names: surely, perhaps, or not.

A notice names articles by the maker's codes and lots by number, by range, or by when they came. Lot numbers have no
common grammar: zeros in front come and go, a blank or a stroke is added, an O is read as a zero. So there are three
answers, and the middle one is never silent: what can't be told for certain is *perhaps* named; it is put on hold like
the rest, and a person looks at the package.

The rule for one number: it is surely the one named if it is written the same, capitals and blanks at the ends apart; it
is perhaps the same if it is so without its separators, with letters that look like digits read as digits, and without
zeros in front of a run of digits, or if one of the two only has a further word at an end, set off by a separator.

The rule for a range: its ends belong to it. Anything else is compared only where both ends and the number have the same
pattern: the same runs of letters and digits, with the same separators, each run as long in all three; letters as in the
alphabet, digits as a number. Where the ends first differ in a run of digits that is longer in the last (98 to 105), a
run between them in length is compared too, if no zero leads in any of the three. If the first end comes after the last
in that order, the maker counts in some other way, and nothing but the ends is certain. Whatever can't be compared is
perhaps in the range.

A lot that bears a number of ours has no number of the maker in the book: any number named for its article is perhaps
its own. (The rule is our own judgement; makers state no grammar of their lot numbers.)
"""

import re
import unicodedata
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import date
from enum import IntEnum

_RUNS = re.compile(r"[0-9]+|[a-z]+|[^0-9a-z]+")
_SIGNS = re.compile(r"[^0-9a-z]+")
_LOOK_ALIKE = str.maketrans("oil", "011")
_GTIN_LENGTHS = (8, 12, 13, 14)


class Match(IntEnum):
    """How certainly a line of a notice names a lot; of several conditions the least certain one decides."""

    NO = 0
    PERHAPS = 1
    SURE = 2


@dataclass(frozen=True, slots=True)
class ScopeLine:
    """One line of a notice, its code resolved by the catalogue.

    Attributes:
        items: the articles named, each with its certainty; None where the line names none, empty where it names one
            that the catalogue does not know.
        lot_from: a lot number, or the first of a range; None: every lot.
        lot_to: the last of the range; None for a single lot.
        received_from: first day on which a lot came that is meant; None: any time before.
        received_to: last day; None: any time after.
    """

    items: Mapping[int, Match] | None
    lot_from: str | None = None
    lot_to: str | None = None
    received_from: date | None = None
    received_to: date | None = None


@dataclass(frozen=True, slots=True)
class LotFacts:
    """What a lot is known by.

    Attributes:
        item_id: its article.
        number: as in the book.
        ours: the number is the practice's own, the maker's is not known.
        came: days on which deliveries brought some of it.
        there_by: the day by which it was there, where no delivery in the book brought it; None where one did.
    """

    item_id: int
    number: str
    ours: bool = False
    came: tuple[date, ...] = ()
    there_by: date | None = None


def named(lines: Iterable[ScopeLine], lot: LotFacts) -> Match:
    """How certainly any of the lines of a notice names a lot."""
    return max((line_names(line, lot) for line in lines), default=Match.NO)


def line_names(line: ScopeLine, lot: LotFacts) -> Match:
    """How certainly one line of a notice names a lot.

    A line that names no article means whatever bears the lot number. One whose code the catalogue does not know means,
    perhaps, the lots of any article whose number is surely the one named or in the range; a number of ours, or one that
    can't be compared, says nothing there, or one unknown code would put the whole stock on hold.
    """
    received = came_between(line.received_from, line.received_to, lot)
    if line.items:
        return min(line.items.get(lot.item_id, Match.NO), _number_named(line, lot), received)
    if line.lot_from is None or lot.ours:
        return Match.NO
    by_number = _number_named(line, lot)
    if line.items is None and line.lot_to is None:
        return min(by_number, received)
    return min(Match.PERHAPS, received) if by_number is Match.SURE else Match.NO


def _number_named(line: ScopeLine, lot: LotFacts) -> Match:
    if line.lot_from is None:
        return Match.SURE
    if lot.ours:
        return Match.PERHAPS
    if line.lot_to is None:
        return same_number(line.lot_from, lot.number)
    return in_range(line.lot_from, line.lot_to, lot.number)


def same_number(one: str, other: str) -> Match:
    """Whether two lot numbers are the same: surely, perhaps, or not."""
    first, second = written(one), written(other)
    if first == second:
        return Match.SURE
    if bare(first) == bare(second) or _has_more(first, second) or _has_more(second, first):
        return Match.PERHAPS
    return Match.NO


def in_range(first: str, last: str, number: str) -> Match:
    """Whether a lot number lies in a range, its ends included: surely, perhaps, or not."""
    at_an_end = max(same_number(first, number), same_number(last, number))
    if at_an_end is Match.SURE:
        return Match.SURE
    low, high, it = written(first), written(last), written(number)
    inside = _between(low, high, it)
    if inside is None:
        return Match.PERHAPS
    if inside:
        return Match.SURE
    misread = _between(*(text.translate(_LOOK_ALIKE) for text in (low, high, it)))
    return Match.PERHAPS if misread else at_an_end


def came_between(first: date | None, last: date | None, lot: LotFacts) -> Match:
    """Whether some of a lot came within days, both included; either may be open.

    A lot that no delivery brought came at some time before it was first seen, so it is perhaps meant.
    """
    if first is None and last is None:
        return Match.SURE
    if any((first or day) <= day <= (last or day) for day in lot.came):
        return Match.SURE
    if lot.there_by is not None and (first is None or lot.there_by >= first):
        return Match.PERHAPS
    return Match.NO


def same_code(one: str, other: str) -> Match:
    """Whether two codes of an article (catalogue number, GTIN, HIBC) are the same: surely, perhaps, or not.

    GTINs of 8, 12 and 13 digits are the same padded to 14 (GS1 General Specifications, section 3.3). Another packaging
    level of the same article differs in the first digit and the check digit only: perhaps meant, as are codes that
    differ in separators alone.
    """
    first, second = _code(one), _code(other)
    if first == second:
        return Match.SURE
    if first.isdecimal() and second.isdecimal() and len(first) == len(second) == 14:
        return Match.PERHAPS if first[1:13] == second[1:13] else Match.NO
    loose = _SIGNS.sub("", first)
    return Match.PERHAPS if loose and loose == _SIGNS.sub("", second) else Match.NO


def items_of_code(code: str, known: Iterable[tuple[str, int, Match]]) -> dict[int, Match]:
    """The articles that a code may mean.

    Args:
        code: as the notice gives it.
        known: codes of the catalogue with their article, and how certain it is that the code means that article (of a
            pack, the further articles in it are perhaps meant).

    Returns:
        Articles with their certainty; perhaps each of them where the code surely means several.
    """
    found: dict[int, Match] = {}
    for other, item_id, certain in known:
        match = min(same_code(code, other), certain)
        if match is not Match.NO:
            found[item_id] = max(match, found.get(item_id, Match.NO))
    if sum(match is Match.SURE for match in found.values()) > 1:
        return dict.fromkeys(found, Match.PERHAPS)
    return found


def written(number: str) -> str:
    """A lot number for comparison: composed, small letters, blanks single and none at the ends."""
    return " ".join(unicodedata.normalize("NFKC", number).casefold().split())


def bare(number: str) -> str:
    """What is left of a lot number without separators, look-alike letters and zeros in front of digits."""
    runs = _RUNS.findall(_SIGNS.sub("", written(number)).translate(_LOOK_ALIKE))
    kept = "".join(run.lstrip("0") or "0" if run.isdecimal() else run for run in runs)
    return kept or written(number)  # nothing but separators, or another script: as it is


def _has_more(longer: str, shorter: str) -> bool:
    """Whether a number holds another as a whole word at one of its ends: ``a100-2`` or ``lot a100``."""
    rest = longer.removeprefix(shorter) if longer.startswith(shorter) else longer.removesuffix(shorter)
    if not shorter or rest == longer or not rest:
        return False
    return bool(_SIGNS.match(rest) if longer.startswith(shorter) else _SIGNS.search(rest[-1]))


def _between(low: str, high: str, number: str) -> bool | None:
    """Whether a number lies between two, both included; None where the three can't be compared."""
    runs = [_RUNS.findall(text) for text in (low, high, number)]
    if len({len(found) for found in runs}) > 1:
        return None
    ends_differ = False
    for three in zip(*runs, strict=True):
        if not (_same_pattern(three) or (_counted(*three) and not ends_differ)):
            return None
        ends_differ = ends_differ or three[0] != three[1]
    first, last, it = ([int(run) if run.isdecimal() else run for run in found] for found in runs)
    return first <= it <= last if first <= last else None


def _same_pattern(three: tuple[str, ...]) -> bool:
    """Whether a run is digits, or letters, of one length in all three; a separator has to be the same."""
    if len({len(run) for run in three}) > 1:
        return False
    return (
        all(map(str.isdecimal, three)) or all(run.isascii() and run.isalpha() for run in three) or len(set(three)) == 1
    )


def _counted(low: str, high: str, number: str) -> bool:
    """Whether digits count on from a shorter number to a longer one (98 to 105), and this number may be on the way."""
    if not all(run.isdecimal() and not run.startswith("0") for run in (low, high, number)):
        return False
    return len(low) <= len(number) <= len(high)


def _code(text: str) -> str:
    code = written(text)
    return code.zfill(14) if code.isdecimal() and len(code) in _GTIN_LENGTHS else code
