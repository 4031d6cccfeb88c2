"""The practice's clock: what time it is, and which day it is where the practice stands.

Only the outermost layer makes one. The practice-local date decides what is in date, never the UTC date.
"""

from collections.abc import Callable
from dataclasses import dataclass
from datetime import UTC, date, datetime
from zoneinfo import ZoneInfo


def _utc_now() -> datetime:
    return datetime.now(UTC)


@dataclass(frozen=True, slots=True)
class Clock:
    """A source of the present instant, with an optional day to work on instead (``--today``)."""

    now_utc: Callable[[], datetime] = _utc_now
    day: date | None = None

    def now(self, zone: ZoneInfo) -> datetime:
        """The present instant, aware UTC; on another day than today it keeps the time of day."""
        now = self.now_utc()
        if self.day is None:
            return now
        return datetime.combine(self.day, now.astimezone(zone).timetz()).astimezone(UTC)

    def stopped(self) -> "Clock":
        """The same clock, standing still at the present instant."""
        now = self.now_utc()
        return Clock(lambda: now, self.day)

    def today(self, zone: ZoneInfo) -> date:
        """The practice-local date."""
        return self.day or self.now_utc().astimezone(zone).date()
