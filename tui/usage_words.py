"""How use and waste are said, on screens and by commands alike: plain sentences, every bar of the chart among them."""

from collections.abc import Iterator

from inventory.domain.quantity import show, show_money
from inventory.domain.usage import Account, Became, ItemUse, KindCost, Usage

WORDS = {
    Became.USED: "used",
    Became.PURGED: "purged in tips",
    Became.RETAKEN: "retaken",
    Became.LOST: "lost while working",
    Became.EXPIRED: "expired",
    Became.DISCARDED: "discarded otherwise",
    Became.RETURNED: "returned",
    Became.MISCOUNTED: "missing at counts",
}
"""What went, in the order in which it is told; what was received is no part of it."""

FOUND = "found at counts"


def gone(account: Account) -> dict[Became, int]:
    """How much went under each heading; below 0 where counts found more than was missing."""
    return {heading: -account.miscounted if heading is Became.MISCOUNTED else account.at(heading) for heading in WORDS}


def word(heading: Became, amount: int) -> str:
    """The words of a heading that so much stands under."""
    return FOUND if heading is Became.MISCOUNTED and amount < 0 else WORDS[heading]


def percent(part: int, whole: int) -> str:
    """``12 of 100``; a dash where there is nothing to compare with."""
    return f"{round(100 * part / whole)} of 100" if whole > 0 else "-"


def title(usage: Usage) -> str:
    """The period and the currency."""
    return f"Use and waste from {usage.since.isoformat()} to {usage.until.isoformat()}, money in {usage.currency}"


def account(qty: Account | None, cents: Account, item: ItemUse | None = None) -> Iterator[str]:
    """Each heading with something under it: ``used 120 mL (36.00)``; of all items together only the money."""
    counts, money = gone(qty) if qty else {}, gone(cents)
    for heading in WORDS:
        size = counts.get(heading, money[heading])
        if size == 0:
            continue
        told = show_money(abs(money[heading]))
        if item is not None:
            told = f"{show(abs(size), item.base)} ({told})"
        yield f"{word(heading, size)} {told}"


def item(one: ItemUse) -> str:
    """One item: what came, what went, what is left, what of it has no price."""
    parts = [f"received {show(one.qty.received, one.base)}"] if one.qty.received else []
    parts += [*account(one.qty, one.cents, one)]
    parts.append(f"stock {show(one.before, one.base)} before and {show(one.after, one.base)} after")
    if one.unpriced:
        parts.append(f"{show(one.unpriced, one.base)} without a known price")
    return f"{one.code}, {one.name}: {', '.join(parts)}"


def kind(one: KindCost) -> str:
    """What the materials of a kind of visit cost."""
    cost = one.cost
    visits = f"{cost.number} visit{'' if cost.number == 1 else 's'}"
    told = f"{one.name}: {visits}, {show_money(cost.mean)} on average"
    if cost.sd is not None:
        told += f", standard deviation {show_money(cost.sd)}"
        told += f", from {show_money(cost.lowest)} to {show_money(cost.highest)}"
    told += f", {show_money(cost.total)} in all"
    return f"{told}; {one.unpriced} of them used something without a known price" if one.unpriced else told


def summary(usage: Usage) -> Iterator[str]:
    """All items together: the sums under the headings, and how much of what went was wasted."""
    yield f"All items: {', '.join(account(None, usage.cents)) or 'nothing moved'}."
    whole = usage.cents.used + usage.cents.wasted
    if whole > 0:
        yield (
            f"Of {show_money(whole)} that went here {show_money(usage.cents.used)} was used at a first attempt, "
            f"{percent(usage.cents.used, whole)}; the rest is tips, retakes, losses, expired and missing stock."
        )


def beside(usage: Usage) -> str:
    """What went at work without a visit: bottles emptied, rests written off."""
    return f"Used or lost without a visit, e.g. a bottle emptied, a rest written off: {show_money(usage.beside_cents)}."
