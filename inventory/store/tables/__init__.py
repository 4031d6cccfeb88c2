"""All tables, a module per subject."""

from inventory.store.tables.catalogue import (
    Barcode,
    Item,
    ItemFits,
    PackContent,
    PriceBreak,
    StockRule,
    Supplier,
    Supply,
    TraySize,
)
from inventory.store.tables.control import CountLine, CountRound, Hold, Notice, NoticeCase, NoticeScope
from inventory.store.tables.laboratory import Shipment
from inventory.store.tables.practice import Change, Person, Place, Revision, Setting
from inventory.store.tables.purchase import Purchase, PurchaseLine
from inventory.store.tables.stock import Delivery, DeliveryLine, Document, Holding, Lot, Movement
from inventory.store.tables.visits import (
    CaseKind,
    Estimate,
    Need,
    NeedItem,
    SizePrior,
    Step,
    TrayTrial,
    Visit,
    VisitUse,
)

__all__ = [
    "Barcode", "CaseKind", "Change", "CountLine", "CountRound", "Delivery", "DeliveryLine", "Document", "Estimate",
    "Hold", "Holding", "Item", "ItemFits", "Lot", "Movement", "Need", "NeedItem", "Notice", "NoticeCase", "NoticeScope",
    "PackContent", "Person", "Place", "PriceBreak", "Purchase", "PurchaseLine", "Revision", "Setting", "Shipment",
    "SizePrior", "Step", "StockRule", "Supplier", "Supply", "TraySize", "TrayTrial", "Visit", "VisitUse",
]  # fmt: skip
