"""Which of many names a person means while she types: the one rule of every list with type-ahead."""

import unicodedata
from collections.abc import Sequence


def folded(text: str) -> str:
    """Text without case and accents: what counts when it is typed in a hurry."""
    return "".join(part for part in unicodedata.normalize("NFKD", text.casefold()) if not unicodedata.combining(part))


def matches(query: str, labels: Sequence[str]) -> list[int]:
    """Positions of the labels that hold every word typed, best first.

    A label that begins with what was typed comes before one with words that begin so, and that before one that holds
    it somewhere; among equals the given order stays.
    """
    typed = folded(query)
    held = [(index, folded(label)) for index, label in enumerate(labels)]
    found = [(index, label) for index, label in held if all(word in label for word in typed.split())]
    return [index for index, _ in sorted(found, key=lambda pair: _rank(typed, pair[1]))]


def _rank(typed: str, label: str) -> int:
    if label.startswith(typed):
        return 0
    words = label.replace("-", " ").split()
    return 1 if all(any(word.startswith(part) for word in words) for part in typed.split()) else 2
