"""From what things cost to how sure the stock must be: the critical ratio, and how a short life lowers it.

The program asks for a target (99 of 100) because a practice can say that more easily than what a visit costs that can't
be done. Where costs are known they give the target. One unit more on the shelf saves a shortage when the use D until
the next delivery reaches it, costs holding when it does not, and is lost when not even the use until its expiry reaches
it; it is worth having as long as

    short x P(D >= S)  >=  holding x P(D < S) + outdated x P(use until expiry < S).

Without expiry this is the newsvendor's critical ratio, short / (short + holding).
"""

from inventory.domain.demand import MILLION, Distribution


def target_from_costs(
    use: Distribution, *, short: float, holding: float, outdated: float = 0.0, in_life: Distribution | None = None
) -> int:
    """The service target, in a million, at which the costs of one unit more and one unit less balance.

    Args:
        use: until an order of the next check could arrive.
        short: what a unit short costs beyond its price.
        holding: what a unit costs that is still there then.
        outdated: what a unit costs that expires, its price included.
        in_life: use until a unit ordered now would expire; None where nothing expires.

    Returns:
        A target whose quantile of ``use`` is the largest amount worth having.
    """
    best = 0
    for amount in range(0, use.step * len(use.masses), use.step):
        left = use.at_most(amount - 1)
        expires = in_life.at_most(amount - 1) if in_life else 0.0
        if short * (1 - left) < holding * left + outdated * expires:
            break
        best = amount
    return int(use.at_most(best) * MILLION)
