"""By when an impression has to be poured, and how its parcel is told of."""

from datetime import UTC, datetime, timedelta

from inventory.domain.alerts import AlertKind
from inventory.domain.parcels import ParcelState, Unsent, not_sent, pour_by, span, state_of
from inventory.domain.vocabulary import LaboratoryAnswer

NOON = datetime(2026, 3, 2, 12, tzinfo=UTC)


def test_the_shortest_window_stated_decides() -> None:
    assert pour_by(NOON, [168, 24, None]) == NOON + timedelta(hours=24)
    assert pour_by(NOON, [None]) is None
    assert pour_by(None, [24]) is None


def test_a_parcel_is_as_far_as_its_last_step() -> None:
    states = [
        state_of(packed=False, sent=False, answer=None), state_of(packed=True, sent=False, answer=None),
        state_of(packed=True, sent=True, answer=None),
        *(state_of(packed=True, sent=True, answer=answer) for answer in LaboratoryAnswer),
    ]  # fmt: skip
    assert states == list(ParcelState)
    assert [state.open for state in states] == [True, True, True, False, False]


def test_a_line_comes_when_the_end_is_near_and_says_more_once_it_is_past() -> None:
    one = Unsent(1, "C-1", "Final", packed=False, taken_at=NOON, pour_by=NOON + timedelta(hours=24))

    def at(hours: float) -> list[str]:
        return [line.what for line in not_sent([one], NOON + timedelta(hours=hours), 6)]

    assert at(17.9) == []
    assert at(18.5) == ["to be poured by 2026-03-03 12:00, in 5 hours; not sent"]
    assert at(24) == ["was to be poured by 2026-03-03 12:00; not sent"]
    for hours in (18.5, 24, 30):
        (line,) = not_sent([one], NOON + timedelta(hours=hours), 6)
        assert line.kind is AlertKind.NOT_SENT
        assert line.why[0].adds_up()


def test_hours_are_told_in_days_from_two_days_on() -> None:
    assert [span(hours) for hours in (1, 47, 48, 80)] == ["1 hour", "47 hours", "2 days", "3 days"]
