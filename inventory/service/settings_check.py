"""What each setting of a practice may be; wrong ones are refused by name before they can break every later reading."""

from collections.abc import Callable, Mapping
from datetime import date
from enum import StrEnum
from typing import Any
from zoneinfo import ZoneInfo

from inventory.domain.abc_classes import PERCENT, WEEKS
from inventory.domain.handbook import Review
from inventory.domain.position import Mode
from inventory.domain.vocabulary import Criticality
from inventory.domain.words import clean, clean_code
from inventory.errors import BadInput
from inventory.service.import_columns import KINDS
from inventory.service.practice import DEFAULTS

Check = Callable[[str, Any], Any]


def checked_settings(changes: Mapping[str, Any]) -> dict[str, Any]:
    """The settings as they may be kept.

    Raises:
        BadInput: a setting that does not exist, or a value it can't have.
    """
    unknown = [key for key in changes if key not in DEFAULTS]
    if unknown:
        raise BadInput(f"There is no setting {unknown[0]!r}.", f"Known are: {', '.join(sorted(DEFAULTS))}.")
    return {key: _CHECKS[key](key, value) for key, value in changes.items()}


def _zone(what: str, value: Any) -> str:
    try:
        return ZoneInfo(str(value)).key
    except (ValueError, OSError, KeyError):
        raise BadInput(f"{what}: {str(value)!r} is not a time zone.", "Name one as Europe/Vienna or UTC.") from None


def _currency(what: str, value: Any) -> str:
    code = clean(str(value), what, 3).upper()
    if not (len(code) == 3 and code.isascii() and code.isalpha()):
        raise BadInput(f"{what}: {code!r} is not a currency code.", "Use the three letters of ISO 4217, e.g. EUR.")
    return code


def _yes_no(what: str, value: Any) -> bool:
    if not isinstance(value, bool):
        raise BadInput(f"{what}: {value!r} is neither yes nor no.", "Say yes or no.")
    return value


def _number(least: int, most: int) -> Check:
    def check(what: str, value: Any) -> int:
        if isinstance(value, bool) or not isinstance(value, int) or not least <= value <= most:
            raise BadInput(f"{what}: {value!r} is not a whole number from {least} to {most}.", "Correct it.")
        return value

    return check


def _targets(what: str, value: Any) -> dict[str, int]:
    wanted = {str(member.value) for member in Criticality}
    if not isinstance(value, Mapping) or set(map(str, value)) != wanted:
        raise BadInput(f"{what}: a target for each of {', '.join(sorted(wanted))} is needed.", "Name all of them.")
    return {str(key): _number(1, 999_999)(f"{what} {key}", target) for key, target in value.items()}


def _weekly(what: str, value: Any) -> dict[str, float]:
    """Visits a week by case kind code; a kind that the practice hasn't got is kept and counts for nothing."""
    if not isinstance(value, Mapping):
        raise BadInput(f"{what}: {value!r} is not a number for each case kind.", "Name case kinds with visits a week.")
    found: dict[str, float] = {}
    for key, number in value.items():
        if isinstance(number, bool) or not isinstance(number, int | float) or not 0 <= number <= 1000:
            raise BadInput(f"{what} {key}: {number!r} is not from 0 to 1000 visits a week.", "Correct it.")
        found[clean(str(key), what, 40)] = number
    return found


def _one_of(kind: type[StrEnum]) -> Check:
    def check(what: str, value: Any) -> str:
        words = [member.value for member in kind]
        if value not in words:
            raise BadInput(f"{what}: {value!r} is none of {', '.join(words)}.", "Use one of these words.")
        return str(value)

    return check


def _min_max(what: str, value: Any) -> dict[str, Any]:
    """Months of lead time, safety and interval, and when the simple way looks; no months: the supplier's lead time."""
    usual = DEFAULTS["min_max"]
    if not isinstance(value, Mapping) or set(value) != set(usual):
        raise BadInput(f"{what}: {', '.join(usual)} are needed.", "Name all of them.")
    found: dict[str, Any] = {"review": _one_of(Review)(f"{what} review", value["review"])}
    for key in ("lead_months", "safety_months", "interval_months"):
        months = value[key]
        given = isinstance(months, int | float) and not isinstance(months, bool) and 0 <= months <= 60
        if not given and (months is not None or key == "interval_months"):
            raise BadInput(f"{what} {key}: {months!r} is not from 0 to 60 months.", "Correct it.")
        found[key] = months
    return found


def _calendar_kinds(what: str, value: Any) -> dict[str, str]:
    """A case kind's code for each category or text; ``upper`` or ``lower`` behind it for one arch alone."""
    if not isinstance(value, Mapping):
        raise BadInput(f"{what}: {value!r} does not name a case kind for each text.", "Name texts with case kinds.")
    found: dict[str, str] = {}
    for text, kind in value.items():
        code, _, arch = str(kind).strip().partition(" ")
        if not code or arch.strip() not in ("", "upper", "lower") or str(text).count("*") > 3:
            raise BadInput(
                f"{what} {str(text)!r}: {kind!r} can't be.",
                "Give a case kind's code, with upper or lower behind it for one arch; at most three * in a text.",
            )
        found[clean(str(text), what, 100)] = f"{code} {arch.strip()}".strip()
    return found


def _import_columns(what: str, value: Any) -> dict[str, dict[str, dict[str, str]]]:
    """By kind of file, then by header: our column, or ``-``, for each foreign name."""
    kinds = value if isinstance(value, Mapping) else {"": value}
    headers = [header for kind in kinds.values() for header in (kind.values() if isinstance(kind, Mapping) else [kind])]
    known = set(KINDS) >= set(kinds) and all(isinstance(header, Mapping) for header in headers)
    if not (known and all(isinstance(ours, str) for header in headers for ours in header.values())):
        raise BadInput(f"{what}: that can't be.", "Say it with import --columns; {} forgets all of it.")
    return {str(kind): {str(key): dict(said) for key, said in found.items()} for kind, found in kinds.items()}


def _abc_percent(what: str, value: Any) -> dict[str, int]:
    """Where classes A and B end, in percent."""
    if not isinstance(value, Mapping) or set(value) != set(PERCENT):
        raise BadInput(f"{what}: {', '.join(PERCENT)} are needed.", "Name all of them.")
    found = {key: _number(1, 100)(f"{what} {key}", value[key]) for key in PERCENT}
    if found["A"] > found["B"]:
        raise BadInput(f"{what}: A ends at {found['A']}, after B.", "Let A end before B.")
    return found


def _count_weeks(what: str, value: Any) -> dict[str, int]:
    """Weeks between counts by category."""
    if not isinstance(value, Mapping) or set(value) != set(WEEKS):
        raise BadInput(f"{what}: {', '.join(WEEKS)} are needed.", "Name all of them.")
    return {key: _number(1, 520)(f"{what} {key}", value[key]) for key in WEEKS}


def _day(what: str, value: Any) -> str:
    """A day as ISO date, or nothing."""
    text = str(value or "").strip()
    try:
        return date.fromisoformat(text).isoformat() if text else ""
    except ValueError:
        raise BadInput(f"{what}: {text!r} is not a date.", "Write it as 2027-03-31, or leave it empty.") from None


def _word(what: str, value: Any) -> str:
    return clean(str(value), what, 30, needed=False)


def _practice_code(what: str, value: Any) -> str:
    return clean_code(str(value), what, 20) if str(value).strip() else ""


_CHECKS: dict[str, Check] = {
    "time_zone": _zone,
    "currency": _currency,
    "day_first": _yes_no,
    "review_weekday": _number(1, 7),
    "review_days": _number(1, 92),
    "horizon_days": _number(1, 366),
    "short_life_days": _number(0, 3660),
    "warn_days": _number(0, 3660),
    "pour_warn_hours": _number(0, 8760),
    "tray_prior_weight": _number(0, 10_000),
    "tray_target_percent": _number(1, 99),
    "tray_away_days": _number(0, 366),
    "service_ppm": _targets,
    "order_rule": _one_of(Mode),
    "min_max": _min_max,
    "holding_ppm": _number(0, 1_000_000),
    "fee_share_ppm": _number(0, 1_000_000),
    "abc_percent": _abc_percent,
    "count_weeks": _count_weeks,
    "practice_changed_on": _day,
    "practice_code": _practice_code,
    "calendar_kinds": _calendar_kinds,
    "calendar_reference": _word,
    "import_columns": _import_columns,
    "expected_weekly": _weekly,
}
