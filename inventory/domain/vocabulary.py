"""The words of the trade and of logistics as closed sets; their values are what the store and JSON hold."""

from enum import IntEnum, StrEnum


class Arch(StrEnum):
    """Upper or lower jaw."""

    MAXILLARY = "maxillary"
    MANDIBULAR = "mandibular"


class Viscosity(IntEnum):
    """Consistency types of ISO 4823 (elastomeric impression and bite registration materials)."""

    PUTTY = 0
    HEAVY = 1
    MEDIUM = 2
    LIGHT = 3


class SettingSpeed(StrEnum):
    FAST = "fast"
    REGULAR = "regular"


class ItemKind(StrEnum):
    """What an item is; impression material may be an elastomer (cml) or a powder (cg)."""

    IMPRESSION = "impression"
    BITE = "bite"
    TRAY = "tray"
    TIP = "tip"
    ACCESSORY = "accessory"


class BaseUnit(StrEnum):
    """The exact integer unit of every quantity: 0.01 mL, 0.01 g or one piece."""

    CML = "cml"
    CG = "cg"
    PIECE = "piece"


class WayOfUse(StrEnum):
    """How an item leaves stock: on the visit's form, fixed with a step, or when a bottle is opened or empty."""

    VISIT = "visit"
    STEP = "step"
    COUNT = "count"


class Criticality(StrEnum):
    VITAL = "vital"
    ESSENTIAL = "essential"
    NORMAL = "normal"


class PlaceRole(StrEnum):
    """What a place is for; only stock in a store room or at a chair counts as usable."""

    STORE = "store"
    CHAIR = "chair"
    SET_ASIDE = "set_aside"
    REPROCESSING = "reprocessing"
    LABORATORY = "laboratory"

    @property
    def usable(self) -> bool:
        return self in (PlaceRole.STORE, PlaceRole.CHAIR)


class UseByReading(StrEnum):
    """How a lot's use-by date was read from its label."""

    DAY = "day"
    MONTH = "month"  # the label gives no day: the last day of the month was taken
    NONE_STATED = "none_stated"
    NOT_READ = "not_read"


class DocumentKind(StrEnum):
    RECEIPT = "receipt"
    OPENING = "opening"
    USE = "use"
    COUNT = "count"
    DISCARD = "discard"
    TRANSFER = "transfer"
    RETURN = "return"
    REVERSAL = "reversal"


class MovementKind(StrEnum):
    """One signed change of one holding. Waste is lost while working, discard is stock thrown away."""

    RECEIPT = "receipt"
    OPENING = "opening"
    USE = "use"
    PURGE = "purge"
    WASTE = "waste"
    DISCARD = "discard"
    COUNT = "count"
    TRANSFER = "transfer"
    RETURN = "return"


class LateReason(StrEnum):
    """Why a lot should not have been used, although it really was."""

    EXPIRED = "expired"
    HELD = "held"
    RECALLED = "recalled"


class Technique(StrEnum):
    STOCK_TRAY = "stock_tray"
    CUSTOM_TRAY = "custom_tray"
    RELINE = "reline"
    PRELIMINARY = "preliminary"
    JAW_RELATION = "jaw_relation"


class VisitState(StrEnum):
    PLANNED = "planned"
    DONE = "done"
    CANCELLED = "cancelled"


class OrderState(StrEnum):
    """How far a purchase order is: written, sent, partly here, all that will come is here, or given up."""

    DRAFT = "draft"
    SENT = "sent"
    PART = "part"
    RECEIVED = "received"
    CANCELLED = "cancelled"

    @property
    def open(self) -> bool:
        """Whether goods are still to come."""
        return self in (OrderState.SENT, OrderState.PART)


class RemakeAskedBy(StrEnum):
    CHAIR = "chair"
    LABORATORY = "laboratory"


class TrialOutcome(StrEnum):
    """What became of a tray that was laid out for a visit."""

    FITTED = "fitted"
    LAID_OUT_UNUSED = "laid_out_unused"
    TRIED_REPROCESS = "tried_reprocess"
    TRIED_THROWN = "tried_thrown"


class Role(StrEnum):
    ASSISTANT = "assistant"
    DENTIST = "dentist"
    MANAGER = "manager"


class EstimateSource(StrEnum):
    DEFAULT = "default"
    LEARNED = "learned"
    PINNED = "pinned"


class NoticeClass(StrEnum):
    """Recall classes as 21 CFR 7.3(m) numbers them."""

    I = "I"  # noqa: E741 - the authority's own numbering
    II = "II"
    III = "III"
    NONE = "none"


class ContactStatus(StrEnum):
    """How far the patient of a case was told about a recall."""

    OPEN = "open"
    TOLD = "told"
    NOT_REACHED = "not_reached"
    NOT_NEEDED = "not_needed"


class CountMethod(StrEnum):
    """How a shelf was read: whole units, tenths of an opened unit by eye, or by weight; or a reading taken back."""

    UNITS = "units"
    TENTHS = "tenths"
    WEIGHT = "weight"
    WITHDRAWN = "withdrawn"


class LaboratoryAnswer(StrEnum):
    RECEIVED = "received"
    REJECTED = "rejected"
