"""Forms of the catalogue: an item, how it is bought, who sells it, and what stands on the shelf at the beginning."""

from collections.abc import Mapping

from inventory.domain.catalogue import ItemDraft
from inventory.domain.quantity import PER_SIGN, SIGNS
from inventory.domain.vocabulary import Arch, BaseUnit, Criticality, ItemKind, Role, SettingSpeed, Viscosity, WayOfUse
from inventory.service import catalogue, setting_up
from tui import workers
from tui.screens.base import StockScreen
from tui.screens.row_form import YES_NO, RowForm, RowKind

MATERIALS = frozenset({"impression", "bite"})
ASKED_OF: Mapping[str, frozenset[str]] = {
    "content": MATERIALS | {"accessory"}, "unit": MATERIALS | {"accessory"},
    "viscosity": frozenset({"impression"}), "set": MATERIALS, "family": MATERIALS | {"accessory"},
    "tray_line": frozenset({"tray"}), "arch": frozenset({"tray"}), "tray_size": frozenset({"tray"}),
    "reusable": frozenset({"tray"}), "opened_days": MATERIALS | {"accessory"},
    "opened_days_source": MATERIALS | {"accessory"}, "min_load": MATERIALS, "may_split_load": MATERIALS,
    "tip_volume": frozenset({"tip"}), "purge": MATERIALS, "density": MATERIALS, "tare": MATERIALS,
    "pour_within_hours": frozenset({"impression"}), "contact_minutes": frozenset({"accessory"}),
    "steps": frozenset({"accessory", "tip"}), "way_of_use": frozenset({"accessory"}),
}  # fmt: skip
"""Columns that only some kinds of items have; the others are asked of all."""

LABELS = {
    "unit": "Measured in", "content": "One unit holds", "unit_name": "A unit is a", "set": "Set",
    "opened_days_source": "Days stated by", "may_split_load": "Split a load", "pour_within_hours": "Hours to pour",
    "contact_minutes": "Contact minutes", "count_every_weeks": "Weeks to count",
    "has_lots": "Has lot numbers", "min": "Least units", "max": "Most units", "active": "In use",
}  # fmt: skip


def _wanted(column: str, texts: Mapping[str, str]) -> bool:
    kinds = ASKED_OF.get(column)
    return kinds is None or texts.get("kind", "") in kinds


def _words(kind: type[ItemKind | Criticality | SettingSpeed | WayOfUse | Role]) -> tuple[str, ...]:
    return tuple(str(member.value).replace("_", " ") for member in kind)


def new_item(screen: StockScreen) -> None:
    """Add an item."""
    _item(screen, "New item", {"has_lots": "yes", "active": "yes"}, {}, update=False)


def change_item(screen: StockScreen, code: str) -> None:
    """Change an item, all but its code and kind."""
    practice = screen.practice

    def show(card: catalogue.ItemCard) -> None:
        values = item_row(card.draft)
        known = {"code": values["code"]}
        _item(screen, f"Item {values['code']}", values, known, update=True)

    workers.run(screen, lambda: catalogue.item(practice, code), show, name="item")


def _item(
    screen: StockScreen, heading: str, values: Mapping[str, str], fixed: Mapping[str, str], *, update: bool
) -> None:
    practice = screen.practice

    def show(lines: tuple[str, ...]) -> None:
        choices = {
            "kind": _words(ItemKind), "unit": ("mL", "g", "piece"), "viscosity": ("0", "1", "2", "3"),
            "set": _words(SettingSpeed), "arch": ("upper", "lower"), "tray_line": lines, "reusable": YES_NO,
            "may_split_load": YES_NO, "has_lots": YES_NO, "criticality": _words(Criticality), "active": YES_NO,
            "way_of_use": _words(WayOfUse),
        }  # fmt: skip
        row = RowKind(
            "items", heading, LABELS, choices, fixed, values, _wanted, update=update,
            caution="Days once opened: of the maker's leaflet, or a rule of the practice.", about="opened_days",
        )  # fmt: skip
        screen.app.push_screen(RowForm(row))

    workers.run(screen, lambda: tuple(line.name for line in catalogue.tray_lines(practice)), show, name="lines")


def new_pack(screen: StockScreen, code: str) -> None:
    """Say how an item is bought: from whom, in which pack, at which price, with what else in it."""
    practice = screen.practice

    def show(suppliers: tuple[str, ...]) -> None:
        row = RowKind(
            "supplies", f"How {code} is bought", {"contents": "Also in the pack", "breaks": "Lower prices"},
            {"supplier": suppliers, "preferred": YES_NO}, {"item": code}, {"preferred": "yes"}, update=True,
            caution="The same supplier, pack and day change; else it is a new pack or price.",
        )  # fmt: skip
        screen.app.push_screen(RowForm(row))

    workers.run(
        screen, lambda: tuple(card.draft.name for card in catalogue.suppliers(practice)), show, name="suppliers"
    )


def new_supplier(screen: StockScreen) -> None:
    """Add a supplier with its terms, or change them."""
    row = RowKind(
        "suppliers", "Supplier", {"takes_short_dated": "Takes back", "free_from": "Free from"},
        {"takes_short_dated": YES_NO, "active": YES_NO}, {}, {"takes_short_dated": "no", "active": "yes"}, update=True,
        caution="A name that is known already: its terms change.",
    )  # fmt: skip
    screen.app.push_screen(RowForm(row))


def opening_stock(screen: StockScreen, code: str) -> None:
    """What of an item stood on the shelf when the book was begun."""
    practice = screen.practice

    def show(places: tuple[str, ...]) -> None:
        row = RowKind(
            "opening_stock", f"Opening stock of {code}", {"use_by": "Use by", "left": "Left in it"},
            {"place": places}, {"item": code}, {},
            caution="Sealed units of a lot, or one opened unit with what is left in it.",
        )  # fmt: skip
        screen.app.push_screen(RowForm(row))

    def read() -> tuple[str, ...]:
        return tuple(place.name for place in setting_up.practice_state(practice).places if place.active)

    workers.run(screen, read, show, name="places")


def item_row(draft: ItemDraft) -> dict[str, str]:
    """An item as the row of a file, in the words and units of its columns."""
    per = PER_SIGN[draft.base]
    pieces = draft.base is BaseUnit.PIECE

    def yes(value: bool) -> str:
        return "yes" if value else "no"

    def number(value: int | None, scale: int = 1) -> str:
        return "" if value is None else _decimal(value, scale)

    viscosity = "" if draft.viscosity is None else str(list(Viscosity).index(draft.viscosity))
    arch = {None: "", Arch.MAXILLARY: "upper", Arch.MANDIBULAR: "lower"}[draft.arch]
    return {
        "code": draft.code, "name": draft.name, "kind": draft.kind.value,
        "unit": "piece" if pieces else SIGNS[draft.base], "content": number(draft.unit_qty, per),
        "unit_name": draft.unit_name, "way_of_use": draft.way_of_use.value.replace("_", " "),
        "viscosity": viscosity, "set": draft.setting_speed.value if draft.setting_speed else "",
        "family": draft.family, "tray_line": draft.tray_line, "arch": arch, "tray_size": draft.tray_size,
        "reusable": yes(draft.reusable), "opened_days": number(draft.opened_days),
        "opened_days_source": draft.opened_days_source, "min_load": number(draft.min_load_qty, per),
        "may_split_load": yes(draft.may_split_load), "tip_volume": number(draft.tip_volume_qty, 100),
        "purge": number(draft.bleed_qty, per), "density": number(draft.density_mg_per_ml),
        "tare": number(draft.tare_mg, 1000), "has_lots": yes(draft.has_lots), "criticality": draft.criticality.value,
        "service": number(draft.service_ppm, 10_000), "min": number(draft.min_units), "max": number(draft.max_units),
        "pour_within_hours": number(draft.pour_within_hours),
        "contact_minutes": number(draft.contact_minutes), "count_every_weeks": number(draft.count_every_weeks),
        "steps": " ".join(draft.steps),
        "active": yes(draft.active),
    }  # fmt: skip


def _decimal(value: int, scale: int) -> str:
    """A whole number of parts as a decimal, without zeros that say nothing."""
    whole, rest = divmod(value, scale)
    return str(whole) if not rest else f"{whole}.{str(rest).zfill(len(str(scale)) - 1).rstrip('0')}"
