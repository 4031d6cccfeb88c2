"""Text as people type, paste or scan it, made safe to keep: names, codes, lot numbers, reasons.

Characters that nobody can see make two equal-looking lots different, turn a line around on the screen or end a file too
early, so they are refused by name. A pasted line break is only a blank. Letters are kept as they are, upper and lower
case alike, in the composed form of Unicode (NFC), so that the same word compares equal whatever keyboard wrote it.
"""

import re
import unicodedata

from inventory.errors import BadInput

STANDING = "no lot"
"""Number of the one lot that an item kept without lots has."""

_BLANKS = re.compile(r"[ \t\r\n\u00a0\u2000-\u200a\u2028\u2029\u202f\u205f\u3000]+")
_UNSEEN = frozenset({"Cc", "Cf", "Cs", "Co", "Cn"})
_CODE = re.compile(r"[A-Z0-9][A-Z0-9._/+-]*")
_INITIALS = re.compile(r"\w{1,8}")


def clean(text: str, what: str, most: int, *, needed: bool = True) -> str:
    """Text fit to be kept on one line: trimmed, blanks single, composed.

    Args:
        text: what was typed.
        what: the field's name, for the error.
        most: the longest that can be kept, in characters.
        needed: whether something must be there.

    Raises:
        BadInput: empty though needed, too long, or with characters that can't be seen.
    """
    kept = unicodedata.normalize("NFC", _BLANKS.sub(" ", text).strip())
    unseen = next((sign for sign in kept if unicodedata.category(sign) in _UNSEEN), None)
    if unseen is not None:
        raise BadInput(f"{what}: it holds a sign that can't be seen (U+{ord(unseen):04X}).", "Type it by hand.")
    if needed and not kept:
        raise BadInput(f"{what}: nothing was typed.", "Fill it in.")
    if len(kept) > most:
        raise BadInput(f"{what}: {len(kept)} characters, at most {most} can be kept.", "Shorten it.")
    return kept


def clean_code(text: str, what: str, most: int = 40) -> str:
    """The practice's own short code of something, in capitals: ``wash-a`` and ``WASH-A`` are the same code.

    Raises:
        BadInput: empty, too long, or with anything but letters A to Z, digits and ``. _ / + -``.
    """
    code = clean(text, what, most).upper()
    if not _CODE.fullmatch(code):
        raise BadInput(f"{what}: {code!r} is not a code.", "Use letters A to Z, digits and . _ / + - without blanks.")
    return code


def clean_initials(text: str) -> str:
    """A person's initials in capitals, up to 8 letters or digits; full names are never kept.

    Raises:
        BadInput: empty, too long or with other signs.
    """
    initials = clean(text, "initials", 8).upper()
    if not _INITIALS.fullmatch(initials):
        raise BadInput(f"initials: {initials!r} are not initials.", "Use 1 to 8 letters or digits, e.g. AB.")
    return initials


def item_and_lot(item: str, number: str) -> str:
    """An item and its lot, as a person names them; an item kept without lots has none to name."""
    return item if number == STANDING else f"{item}, lot {number}"
