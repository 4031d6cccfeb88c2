"""How long a supplier really takes: the days it states, corrected by what its deliveries have shown.

Stated days are believed like `PRIOR_ORDERS` earlier orders that all came exactly then; every order that has come since
counts as one. Mean and spread are taken over both, so one late delivery shifts little and twenty outweigh what the
supplier says. This is the posterior mean of a normal law with a conjugate prior; the weight of the prior is our own
judgement. An order counts from the day it was sent to the day its first delivery came.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta

PRIOR_ORDERS = 4  # orders that the days a supplier states are worth: own judgement


@dataclass(frozen=True)
class LeadTime:
    """Days from ordering to having it: their mean, standard deviation, and how many orders they were learned from."""

    days: int
    sd_days: float = 0.0
    orders: int = 0

    @property
    def words(self) -> str:
        """What is known of it, in words."""
        days = f"{self.days} day{'' if self.days == 1 else 's'}"
        if not self.orders:
            return f"takes {days}, as it says itself"
        return f"takes {days} give or take {self.spread_days}, learned from {self.orders} orders that came"

    @property
    def spread_days(self) -> int:
        """The usual spread in whole days; an order later than this is overdue."""
        return math.ceil(self.sd_days)

    def overdue_after(self, expected_on: date) -> date:
        """The last day on which an order expected on a day is not yet overdue."""
        return expected_on + timedelta(days=self.spread_days)


def learn_lead_time(stated_days: int, observed: Sequence[int]) -> LeadTime:
    """Lead time of a supplier.

    Args:
        stated_days: what the supplier says.
        observed: days that past orders took.
    """
    weight = PRIOR_ORDERS + len(observed)
    mean = (PRIOR_ORDERS * stated_days + sum(observed)) / weight
    squares = PRIOR_ORDERS * (stated_days - mean) ** 2 + sum((days - mean) ** 2 for days in observed)
    return LeadTime(round(mean), math.sqrt(squares / weight), len(observed))
