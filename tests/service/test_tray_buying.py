"""Which tray to buy next, and the money in sizes that nobody needed."""

from datetime import timedelta

import pytest

from inventory.domain.vocabulary import Arch
from inventory.errors import BadInput
from inventory.service import setting_up, tray_buying
from tests.clinic import Clinic
from tests.service.catalogue_samples import BY, TODAY


def test_the_size_that_helps_most_is_named_first_with_what_it_makes_of_the_chance(clinic: Clinic) -> None:
    clinic.plan("C-1", on=TODAY + timedelta(days=1), upper_size="XL", lower=False)
    (line,) = tray_buying.tray_buying(clinic.practice, visits=1).lines
    assert (line.visits, line.booked, line.chance_ppm) == (1, 1, 0)
    best = line.sizes[0]
    # XL is certain; the attempt needs a second tray with the believed retake rate of one in twenty
    assert (best.arch, best.size, best.available, best.chance_ppm) == (Arch.MAXILLARY, "XL", 0, 950_000)
    assert [(tray.size, tray.chance_ppm) for tray in line.to_target] == [("XL", 950_000)]


def test_beyond_the_booked_visits_sizes_follow_the_mix_until_the_target(clinic: Clinic) -> None:
    (line,) = tray_buying.tray_buying(clinic.practice, visits=4).lines
    assert line.booked == 0
    assert line.to_target[-1].chance_ppm >= 950_000 > line.to_target[-2].chance_ppm
    setting_up.change_settings(clinic.practice, {"tray_target_percent": 60}, by=BY)
    (lower,) = tray_buying.tray_buying(clinic.practice, visits=4).lines
    assert len(lower.to_target) < len(line.to_target)


def test_a_size_not_used_for_months_shows_its_trays_and_when_it_was_last_fitted(clinic: Clinic) -> None:
    clinic.book(clinic.plan("C-1", on=TODAY - timedelta(days=100)), happened_on=TODAY - timedelta(days=100))
    found = tray_buying.tray_buying(clinic.practice, months=3)
    assert [(one.size, one.trays, one.last_fitted) for one in found.idle if one.arch is Arch.MAXILLARY] == [
        ("M", 4, TODAY - timedelta(days=100)),
        ("L", 5, None),
    ]
    assert [one.size for one in tray_buying.tray_buying(clinic.practice, months=12).idle] == ["L"]


@pytest.mark.parametrize("asked", [{"visits": 0}, {"visits": 41}, {"months": 0}])
def test_numbers_that_can_not_be_looked_at_are_refused(clinic: Clinic, asked: dict[str, int]) -> None:
    with pytest.raises(BadInput):
        tray_buying.tray_buying(clinic.practice, **asked)
