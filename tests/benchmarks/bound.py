"""What a clairvoyant would pay: a bound below which no policy can come.

Who knows every visit and the life of every delivery orders, at a weekly check, just what is used until the next order
comes: no waste, no shortage, only fees and holding. The best such plan is a dynamic program over the checks (Wagner and
Whitin 1958, Management Science 5(1) 89), solved for all replications together. It is a bound because it also allows
what nobody has: parts of packs, opened units that keep, and a first shelf that came without a fee. Leaving a visit
short never pays, as it costs more than a delivery of its own.
"""

import numpy as np

from tests.benchmarks.simulator import WARM_UP
from tests.benchmarks.world import FEE_CENTS, HOLDING, WEEK, YEAR, Article, Chance, Floats


def clairvoyant(article: Article, chance: Chance) -> Floats:
    """The bound on the controllable cost a year, for each replication; in units of money."""
    days = chance.use.shape[1]
    first = next(day for day in range(WARM_UP, WARM_UP + WEEK) if (day - article.lead) % WEEK == 0)
    comes = np.array([*range(first, days, WEEK), days])
    used = np.cumsum(np.pad(chance.use, ((0, 0), (1, 0))), axis=1, dtype=np.float64)  # before each day
    moment = np.cumsum(np.pad(chance.use * np.arange(days), ((0, 0), (1, 0))), axis=1, dtype=np.float64)
    rate = article.price * HOLDING / YEAR
    longest = article.life_days[1]
    best = np.full((len(used), len(comes)), np.inf)
    best[:, 0] = 0.0
    for start in range(len(comes) - 1):
        day = comes[start]
        fee = FEE_CENTS if start else 0
        life = chance.lives[:, day - article.lead] if start else np.full(len(used), longest)
        until = np.minimum(day + life + 1, days)
        served = np.take_along_axis(used, until[:, None], axis=1)[:, 0]
        for end in range(start + 1, min(len(comes), start + longest // WEEK + 2)):
            stop = comes[end]
            amount = used[:, stop] - used[:, day]
            held = (moment[:, stop] - moment[:, day] - amount * day) * rate
            cost = np.where(amount > 0, fee + held, 0.0)
            cost[used[:, stop] > served] = np.inf
            best[:, end] = np.minimum(best[:, end], best[:, start] + cost)
    return np.asarray(best[:, -1] / 100 / ((days - first) / YEAR))
