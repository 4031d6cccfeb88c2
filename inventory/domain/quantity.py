"""Quantities are exact integers of a base unit; this module reads and writes them as people do.

Base units: ``cml`` = 0.01 mL, ``cg`` = 0.01 g, ``piece``; money is in cents. Nothing here is a float.
"""

import re
from decimal import Decimal

from inventory.domain.vocabulary import BaseUnit
from inventory.errors import BadInput

SIGNS = {BaseUnit.CML: "mL", BaseUnit.CG: "g", BaseUnit.PIECE: "pcs"}
PER_SIGN = {BaseUnit.CML: 100, BaseUnit.CG: 100, BaseUnit.PIECE: 1}
LARGEST = 2**53  # beyond any practice, and still exact in JSON readers

_NUMBER = re.compile(r"-?(\d{1,20}\.?\d{0,6}|\.\d{1,6})")  # few enough digits that the arithmetic stays exact
_TENTHS = re.compile(r"(?P<left>left\s+)?(?P<n>\d+(?:[.,]\d+)?)\s*(?:t|tenths?|/10)", re.IGNORECASE)
_PLAIN = re.compile(r"(?P<left>left\s+)?(?P<n>\d+(?:[.,]\d+)?)\s*(?P<sign>ml|g|pcs?|pieces?)?", re.IGNORECASE)


def parse_decimal(text: str, per_unit: int, what: str = "amount") -> int:
    """Read a decimal amount into whole base units.

    Args:
        text: digits with an optional decimal point or comma, e.g. ``"12,5"``.
        per_unit: base units in one of the unit typed (100 for mL, g and money).
        what: the field's name, for the error.

    Returns:
        The exact number of base units.

    Raises:
        BadInput: not a number, negative, too large, or finer than one base unit.
    """
    typed = text.strip().replace(",", ".")
    if not _NUMBER.fullmatch(typed):
        raise BadInput(f"{what}: {text!r} is not a number.", "Type digits, e.g. 12.5.")
    value = Decimal(typed) * per_unit
    if value < 0 or value > LARGEST:
        raise BadInput(f"{what}: {text!r} is out of range.", "Type a number from 0 up.")
    if value != value.to_integral_value():
        raise BadInput(
            f"{what}: {text!r} is finer than the book keeps (1/{per_unit}).",
            "Round it to two decimals." if per_unit == 100 else "Type a whole number.",
        )
    return int(value)


def parse_amount(text: str, base: BaseUnit, unit_qty: int, left_from: int | None = None) -> int:
    """Read what was used: mL or g, ``3t`` (tenths of a cartridge), or ``left 4t`` / ``left 20`` (what is left).

    Args:
        text: what was typed.
        base: the item's base unit.
        unit_qty: content of one sealed unit, in base units.
        left_from: what was there before, in base units; None where "left" makes no sense.

    Returns:
        The amount used, in base units.

    Raises:
        BadInput: unreadable, too fine, another unit than the item's, or more left than was there.
    """
    stripped = text.strip()
    tenths = _TENTHS.fullmatch(stripped)
    match = tenths or _PLAIN.fullmatch(stripped)
    if match is None:
        raise BadInput(
            f"amount: {text!r} can't be read.",
            "Type e.g. 12.5 (mL), 3t (tenths of a cartridge), left 4t or left 20.",
        )
    if tenths:
        if base is BaseUnit.PIECE:
            raise BadInput("amount: tenths are for cartridges and bottles.", "Type a number of pieces.")
        scaled = parse_decimal(match["n"], 10, "tenths") * unit_qty
        amount = (scaled + 50) // 100  # nearest base unit; a tenth of any real cartridge is whole anyway
    else:
        _same_unit(match["sign"], base)
        amount = parse_decimal(match["n"], PER_SIGN[base])
    if match["left"] is None:
        return amount
    if left_from is None:
        raise BadInput("amount: 'left' needs an opened cartridge to compare with.", "Type what was used.")
    if amount > left_from:
        raise BadInput(
            f"amount: {show(amount, base)} left, but only {show(left_from, base)} was there.",
            "Check the cartridge, or correct the count first.",
        )
    return left_from - amount


def _same_unit(sign: str | None, base: BaseUnit) -> None:
    meant = {"ml": BaseUnit.CML, "g": BaseUnit.CG}.get((sign or "").lower(), BaseUnit.PIECE)
    if sign and meant is not base:
        raise BadInput(f"amount: this item is counted in {SIGNS[base]}, not {sign}.", "Leave the unit out.")


def show(qty: int, base: BaseUnit) -> str:
    """Write base units as people read them: ``1235, cml`` as ``12.35 mL``, ``-100, cml`` as ``-1 mL``."""
    per = PER_SIGN[base]
    if per == 1:
        return f"{qty} {SIGNS[base]}"
    whole, rest = divmod(abs(qty), per)
    decimals = f".{rest:02d}".rstrip("0") if rest else ""
    return f"{'-' if qty < 0 else ''}{whole}{decimals} {SIGNS[base]}"


def show_units(sealed: int, opened_qty: int, unit_qty: int, base: BaseUnit) -> str:
    """Write stock as cartridges first: ``3 + 0.4 opened``; pieces as a bare count.

    Args:
        sealed: sealed units.
        opened_qty: content of the opened units together, in base units.
        unit_qty: content of one sealed unit, in base units.
        base: the item's base unit.
    """
    if base is BaseUnit.PIECE:
        return str(sealed * unit_qty + opened_qty)
    if not opened_qty:
        return str(sealed)
    tenths = max(1, (opened_qty * 10 + unit_qty // 2) // unit_qty)
    return f"{sealed} + {tenths // 10}.{tenths % 10} opened"


def show_money(cents: int) -> str:
    """Write cents as ``12.50``; the currency sign is the practice's setting and stands in the column's head."""
    sign = "-" if cents < 0 else ""
    return f"{sign}{abs(cents) // 100}.{abs(cents) % 100:02d}"


def ceil_div(a: int, b: int) -> int:
    """Whole packs for an amount: the smallest n with n * b >= a."""
    return -(-a // b)
