"""GS1 Digital Link: the same elements as the address of a web page (GS1 Digital Link Standard: URI Syntax).

biip knows which keys an address may have and in which order. Where it refuses one, the beginning that it still takes
tells where the fault is.
"""

import re
from collections.abc import Iterator
from datetime import date

from inventory.domain.labels import elements
from inventory.domain.labels.elements import Element
from inventory.domain.labels.label import CodeKind, Label, unreadable


def read(text: str, at: int, today: date) -> Label:
    """Read an address, from a position on.

    Raises:
        BadInput: no such address, or an element of it does not fit.
    """
    address = text[at:]
    if not re.match(r"https?://", address, re.IGNORECASE):
        raise unreadable("only an address that begins with https:// is a label", at)
    found = _elements(address)
    if found is None:
        good = max((cut for cut in _cuts(address) if _elements(address[:cut]) is not None), default=0)
        if good == 0:
            raise unreadable("this address names no article (nothing in it reads as /01/ and a GTIN)", at)
        raise unreadable(f"{address[good : good + 24]!a} does not fit here", at + good)
    placed = [element._replace(at=at + max(address.find(element.value), 0)) for element in found]
    return elements.label_of(CodeKind.DIGITAL_LINK, placed, today)


def _elements(address: str) -> list[Element] | None:
    """The elements of an address; None where it is no Digital Link."""
    from biip import ParseConfig, ParseError  # noqa: PLC0415 - takes a while to load, and only scans need it
    from biip.gs1_digital_link_uris import GS1DigitalLinkURI  # noqa: PLC0415

    ours = ParseConfig(gs1_element_strings_verify_date=False)  # dates are read by our own clock
    try:
        link = GS1DigitalLinkURI.parse(address, config=ours)
    except (ParseError, ValueError):
        return None
    return [Element(one.ai.ai, one.value, 0) for one in link.element_strings]


def _cuts(address: str) -> Iterator[int]:
    return (sign.start() for sign in re.finditer(r"[/?&]", address))
