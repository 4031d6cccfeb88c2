"""The chance that one visit of unknown tray size finds a fitting tray, after the visits before it took theirs.

`trays` asks whether all visits can be fitted; this asks for one of them, whatever happens to the others. It needs the
law of one size at a time: how many of its trays the visits before take, by fitting, at retakes, and tried in vain as a
neighbour. A visit that has this size makes it likelier for those before it too, as the shares are only learned.
"""

from functools import lru_cache

from inventory.domain.trays import SizeOutlook, Stock, again, neighbours


def chance_of_tray(outlook: SizeOutlook, stock: Stock, before: int) -> float:
    """Probability that a visit of unknown size finds a fitting tray, after the visits before it took theirs.

    The chance of each size times the chance that one of it is left; a tray more never lowers it.

    Args:
        outlook: of one arch; ``known`` are the visits of known size that come before.
        stock: trays by size.
        before: visits of unknown size that come before.
    """
    total = sum(outlook.weights)
    return sum(
        weight / total * _chance_left(outlook, size, have - 1, before)
        for size, (weight, have) in enumerate(zip(outlook.weights, stock, strict=True))
        if weight and have
    )


def _chance_left(outlook: SizeOutlook, size: int, most: int, before: int) -> float:
    """Probability that known and unknown visits before one of this size take at most so many of its trays."""
    spare = most - outlook.known_of(size)
    if spare < 0:
        return 0.0
    upper = (max(8, 1 << before.bit_length()), max(8, 1 << spare.bit_length()))
    taken = _taken(outlook.weights, (outlook.try_in, outlook.retake), size, *upper)[before]
    known = [again(outlook.retake, outlook.known_of(size), trays) for trays in range(spare + 1)]
    return min(1.0, sum(more * sum(taken[: spare - trays + 1]) for trays, more in enumerate(known)))


@lru_cache(maxsize=1024)
def _taken(
    weights: tuple[float, ...], rates: tuple[float, float], size: int, visits: int, most: int
) -> list[list[float]]:
    """Laws of the trays of one size (0 ... ``most``) that 0, 1 ... ``visits`` take, the one after them being of it.

    With shares unknown, the number of patients by size is that of independent negative binomial counts given their
    sum. So the generating function of the trays that n visits take is the coefficient of z^n in a product of powers
    (1 - z g(u))^-weight, g(u) being that of what one patient of a size takes of this one; all are cut at u^most.
    """
    try_in, retake = rates
    attempts = [(1 - retake) * retake**trays for trays in range(most)]
    takes = {size: ([0.0, *attempts], weights[size] + 1)}
    for other in neighbours(size, len(weights)):
        tried = try_in / len(neighbours(other, len(weights)))
        takes[other] = ([1 - tried, tried], weights[other])
    others = sum(weight for other, weight in enumerate(weights) if other not in takes)
    series = [[chance] for chance in _coefficients(others, visits)]
    for law, weight in takes.values():
        series = _times_power(series, law, weight, most)
    wholes = _coefficients(sum(weights) + 1, visits)
    return [[chance / whole for chance in of_visits] for of_visits, whole in zip(series, wholes, strict=True)]


def _times_power(series: list[list[float]], law: list[float], weight: float, most: int) -> list[list[float]]:
    """A series in z of polynomials in u, times (1 - z law(u))^-weight, cut as long as it is and at u^most."""
    powers = [[1.0]]
    for _ in series[1:]:
        powers.append(_product_of(powers[-1], law, most))
    factors = _coefficients(weight, len(series) - 1)
    product: list[list[float]] = []
    for at in range(len(series)):
        total = [0.0] * (most + 1)
        for k in range(at + 1):
            for degree, part in enumerate(_product_of(series[at - k], powers[k], most)):
                total[degree] += factors[k] * part
        product.append(total)
    return product


def _product_of(one: list[float], other: list[float], most: int) -> list[float]:
    """Two polynomials multiplied, cut at a degree."""
    product = [0.0] * min(most + 1, len(one) + len(other) - 1)
    for i, a in enumerate(one):
        for j, b in enumerate(other[: len(product) - i]):
            product[i + j] += a * b
    return product


def _coefficients(weight: float, most: int) -> list[float]:
    """Coefficients of z^0 ... z^most in (1 - z)^-weight."""
    found = [1.0]
    for count in range(most):
        found.append(found[-1] * (weight + count) / (count + 1))
    return found
