"""What files of each kind look like: their columns, what goes into them, and an example row; also the templates.

One table says everything once: the reader knows from it which columns there may be, the template and the documents
print it.
"""

import csv
import io
from dataclasses import dataclass

from inventory.errors import NotFound


@dataclass(frozen=True, slots=True)
class Column:
    """A column: its header, what goes into it, an example, and whether each row needs it."""

    name: str
    help: str
    example: str = ""
    needed: bool = False


@dataclass(frozen=True, slots=True)
class FileKind:
    """A kind of file: what it holds and its columns in the template's order."""

    name: str
    title: str
    columns: tuple[Column, ...]

    @property
    def names(self) -> tuple[str, ...]:
        return tuple(column.name for column in self.columns)

    @property
    def needed(self) -> tuple[str, ...]:
        return tuple(column.name for column in self.columns if column.needed)


PEOPLE = FileKind(
    "people",
    "Who works here, by initials; full names are never kept.",
    (
        Column("initials", "1 to 8 letters or digits", "EF", needed=True),
        Column("role", "assistant, dentist or manager", "assistant", needed=True),
    ),
)
PLACES = FileKind(
    "places",
    "Where stock stands; only a store room and a chair count as usable.",
    (
        Column("name", "the place's name", "operatory 3", needed=True),
        Column("role", "store, chair, set aside, reprocessing or laboratory", "chair", needed=True),
    ),
)
SUPPLIERS = FileKind(
    "suppliers",
    "Who delivers, and on which terms.",
    (
        Column("name", "the supplier's name", "Supplier North", needed=True),
        Column("lead_days", "days from order to delivery", "3", needed=True),
        Column("order_weekdays", "days on which orders are taken, e.g. mon thu; empty: any", "mon thu"),
        Column("minimum", "least value of an order, in money", "50.00"),
        Column("fee", "cost of a delivery, in money", "9.00"),
        Column("free_from", "value from which the delivery is free; empty: never", "150.00"),
        Column("takes_short_dated", "yes or no: takes back what comes with a short life", "no"),
        Column("active", "no: taken out", "yes"),
    ),
)
TRAY_SIZES = FileKind(
    "tray_sizes",
    "The sizes of each tray line by arch, one a row, smallest first.",
    (
        Column("line", "the tray line's name", "Line 1", needed=True),
        Column("arch", "upper or lower", "upper", needed=True),
        Column("size", "the size's label", "S", needed=True),
    ),
)
ITEMS = FileKind(
    "items",
    "What the practice stocks, one article a row. With update, columns that the file leaves out stay as they are.",
    (
        Column("code", "the practice's own code: A to Z, digits, . _ / + -", "LIGHT-A", needed=True),
        Column("name", "what people call it", "Light body A, fast", needed=True),
        Column("kind", "impression, bite, tray, tip or accessory", "impression", needed=True),
        Column("unit", "mL, g or piece; empty: mL for materials, else piece", "mL"),
        Column("content", "how much one sealed unit holds; pieces: 1", "50"),
        Column("unit_name", "what one unit is called", "cartridge"),
        Column(
            "way_of_use", "visit, step or count; empty: visit for materials and trays, step for tips, else count", ""
        ),
        Column("viscosity", "of an elastomer: 0 putty, 1 heavy, 2 medium, 3 light", "3"),
        Column("set", "of a material: fast or regular", "fast"),
        Column("family", "chemistry of a material or adhesive", "addition silicone"),
        Column("tray_line", "of a tray", ""),
        Column("arch", "of a tray: upper or lower", ""),
        Column("tray_size", "of a tray", ""),
        Column("reusable", "yes or no: is reprocessed", "no"),
        Column("opened_days", "days an opened unit stays usable; empty: not stated", "90"),
        Column("opened_days_source", "where that is stated: leaflet, or a practice rule", "leaflet"),
        Column("min_load", "least amount worth keeping for a step, in the unit", "6"),
        Column("may_split_load", "yes or no: one load may come from two units", "no"),
        Column("tip_volume", "of a mixing tip: what stays in it, in mL", ""),
        Column("purge", "of a material: what is purged at each new tip, in the unit", "0.4"),
        Column("density", "of a material, in mg a mL", ""),
        Column("tare", "weight of an empty unit, in g", ""),
        Column("has_lots", "no: it comes without lot numbers", "yes"),
        Column("criticality", "vital, essential or normal; empty: essential", "essential"),
        Column("service", "own target in percent, e.g. 99.5; empty: by criticality", ""),
        Column("min", "own rule: at or below so many units ...", ""),
        Column("max", "... order up to so many units", ""),
        Column("pour_within_hours", "of an impression material: hours until it must be poured", "168"),
        Column("contact_minutes", "of a disinfectant: minutes that an impression stays in it", ""),
        Column("count_every_weeks", "own weeks between counts; empty: by value and criticality", ""),
        Column("steps", "of an accessory or intra-oral tip: codes of the steps that take one, e.g. bag", ""),
        Column("active", "no: taken out", "yes"),
    ),
)
SUPPLIES = FileKind(
    "supplies",
    "How items are bought: from whom, in which packs, at which price.",
    (
        Column("item", "the item's code", "LIGHT-A", needed=True),
        Column("supplier", "the supplier's name", "Supplier North", needed=True),
        Column("catalogue_no", "the supplier's number", "N-1001", needed=True),
        Column("units_per_pack", "units of the item in a pack", "2", needed=True),
        Column("price", "price of a pack, in money", "38.50", needed=True),
        Column("valid_from", "day from which the price holds; empty: today, or the known price's day", "2027-01-01"),
        Column("preferred", "no: another pack or supplier is preferred", "yes"),
        Column("contents", "further articles in the pack as code:units, e.g. TIP-1:6", "TIP-1:6"),
        Column("breaks", "lower prices as packs:price, e.g. 5:36.00 10:34.50", ""),
    ),
)
FITS = FileKind(
    "fits",
    "Which tip or adhesive goes with which material, one pair a row.",
    (
        Column("fitting", "code of a tip or an adhesive", "TIP-1", needed=True),
        Column("material", "code of a material", "LIGHT-A", needed=True),
    ),
)
OPENING_STOCK = FileKind(
    "opening_stock",
    "What stands on the shelves when the book begins: sealed units of a lot at a place, and opened units one a row.",
    (
        Column("item", "the item's code", "LIGHT-A", needed=True),
        Column("place", "where it stands", "store room", needed=True),
        Column("lot", "number on the label; empty: a house number", "L2705"),
        Column("use_by", "2028-05-31, 2028-05, none (the maker states none), or empty: not read yet", "2028-05-31"),
        Column("units", "sealed units", "4"),
        Column("opened_on", "of an opened unit: the day it was opened", ""),
        Column("left", "of an opened unit: what is left, e.g. 20 (in the unit) or 4t (tenths of it)", ""),
        Column("made_on", "day it was made, where the label says so", ""),
        Column("received_on", "day it came; empty: today", ""),
    ),
)
ORDERS = FileKind(
    "orders",
    "Orders that were sent before the book began and are still to come, one item a row.",
    (
        Column("order", "its number; empty: one is drawn for all such rows of a supplier and day", "PO-17"),
        Column("supplier", "the supplier's name", "Supplier North", needed=True),
        Column("sent_on", "day it was sent", "2027-01-04", needed=True),
        Column("expected_on", "day the supplier named; empty: by its lead time", ""),
        Column("item", "the item's code", "LIGHT-A", needed=True),
        Column("packs", "packs ordered", "5", needed=True),
        Column("units_per_pack", "where the supplier sells several packs; empty: the preferred one", "2"),
        Column("price", "price of a pack, in money; empty: as in the catalogue", "38.50"),
        Column("received_packs", "packs that came already; only the others are on order", "0"),
    ),
)
VISITS = FileKind(
    "visits",
    "Booked visits, under case references and never under names.",
    (
        Column(
            "case_ref",
            "the practice's reference: letters, digits, / . _ - with at least one digit",
            "C-1042",
            needed=True,
        ),
        Column("on", "the day", "2027-03-18", needed=True),
        Column("case_kind", "code of the case kind, e.g. final_stock_tray", "final_stock_tray", needed=True),
        Column("arches", "upper, lower or both; empty: both", "both"),
        Column("upper_size", "tray size where it is known; empty: carried over from the case's last visit", "M"),
        Column("lower_size", "the same for the lower arch", ""),
        Column("place", "where", "operatory 1"),
        Column("note", "anything but a patient's name", ""),
    ),
)
KINDS = {
    kind.name: kind
    for kind in (PEOPLE, PLACES, SUPPLIERS, TRAY_SIZES, ITEMS, SUPPLIES, FITS, OPENING_STOCK, ORDERS, VISITS)
}  # in the order in which a new practice imports them


def file_kind(name: str) -> FileKind:
    """The kind of file of this name; ``opening-stock`` and ``Opening stock`` alike.

    Raises:
        NotFound: there is none.
    """
    kind = KINDS.get("_".join(name.casefold().replace("-", " ").replace("_", " ").split()))
    if kind is None:
        raise NotFound(f"There are no files of kind {name!r}.", f"Known are: {', '.join(KINDS)}.")
    return kind


def template(name: str) -> str:
    """A file to start from: remarks that say what goes into each column, an example in a remark, and the header.

    Raises:
        NotFound: no such kind of file.
    """
    kind = file_kind(name)
    remarks = [f"# {kind.title}"]
    remarks += [f"# {column.name}{' (needed)' if column.needed else ''}: {column.help}" for column in kind.columns]
    written = io.StringIO()
    writer = csv.writer(written, lineterminator="\n")
    for remark in remarks:  # as one cell each, so that a spreadsheet keeps them in one piece
        writer.writerow([remark])
    writer.writerow(kind.names)
    first, *others = (column.example for column in kind.columns)
    writer.writerow([f"# {first}", *others])
    return written.getvalue()
