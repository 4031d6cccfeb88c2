"""The size mix of the patients to come, as this practice has seen it, and the chance that a visit finds its tray.

Sizes fitted here sharpen the expected shares; trays tried in vain and new trays at retakes give two rates for each
arch, each with the belief it starts from.
"""

from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date, timedelta

from inventory.domain import trays
from inventory.domain.trays import SizeOutlook
from inventory.domain.vocabulary import Arch, ItemKind, TrialOutcome
from inventory.service import forecasting
from inventory.service.forecasting import Picture
from inventory.service.practice import Desk
from inventory.store.queries import trays as query
from inventory.store.queries import views
from inventory.store.queries import visits as visit_query
from inventory.store.queries.trays import Trial
from inventory.store.queries.visits import VisitRow

TRY_IN = (0.05, 20)  # chance of a tray tried in vain, and how many trays this belief weighs; own judgement
RETAKE = (0.05, 20)  # chance that an attempt needs a new tray of the size, and its weight; own judgement

MILLION = 1_000_000
TRIED = (TrialOutcome.TRIED_THROWN, TrialOutcome.TRIED_REPROCESS)
Line = tuple[str, Arch]


@dataclass(frozen=True, slots=True)
class LearnedRate:
    """A rate by arch: what was believed, with the weight of how many trays, what was seen, and what follows."""

    name: str
    arch: Arch
    prior: float
    weight: int
    seen: int
    chances: int

    @property
    def rate(self) -> float:
        return trays.learned_rate(self.prior, self.weight, self.seen, self.chances)

    @property
    def prior_ppm(self) -> int:
        return round(MILLION * self.prior)

    @property
    def rate_ppm(self) -> int:
        return round(MILLION * self.rate)


@dataclass(frozen=True, slots=True)
class Run:
    """The sizes of one tray line and arch in the practice's order, with their articles."""

    line: str
    arch: Arch
    sizes: tuple[str, ...]
    item_ids: tuple[tuple[int, ...], ...]
    reusable: bool


@dataclass(frozen=True, slots=True)
class SizeMix:
    """What was fitted and tried in here; priors by line, arch and size.

    Attributes:
        away_days: days until a reusable tray is there again after a visit.
        target: chance of a fitting tray from which on a visit counts as ready.
    """

    runs: Mapping[Line, Run]
    priors: Mapping[tuple[str, Arch, str], float]
    weight: float
    fitted: Counter[int]
    rates: Mapping[tuple[str, Arch], LearnedRate]
    away_days: int
    target: float

    def outlook(self, run: Run, known: Sequence[str] = ()) -> SizeOutlook:
        """What is known of one line and arch, with the sizes of visits that know theirs."""
        even = 1 / len(run.sizes)
        prior = [self.weight * self.priors.get((run.line, run.arch, size), even) for size in run.sizes]
        fitted = [sum(self.fitted[number] for number in numbers) for numbers in run.item_ids]
        return SizeOutlook(
            trays.learned_weights(prior, fitted),
            self.rates["try-in", run.arch].rate,
            self.rates["retake", run.arch].rate,
            tuple(sum(size == one for one in known) for size in run.sizes),
        )

    def run_of(self, picture: Picture, row: VisitRow, arch: Arch) -> Run | None:
        """The run of sizes that a visit takes its tray from; None where its kind takes none for the arch."""
        for need in picture.needs.get(row.case_kind_id, ()):
            if need.kind is ItemKind.TRAY and need.arch is arch and need.tray_line:
                return self.runs.get((need.tray_line, arch))
        return None

    def together(self, run: Run, days: Sequence[date]) -> int:
        """How many of some visits have their trays away at the same time: all of them, unless trays come back."""
        if not run.reusable:
            return len(days)
        return max((sum(self.meets(run, day, other) for other in days) for day in days), default=0)

    def meets(self, run: Run, day: date, later: date) -> bool:
        """Whether a tray taken on a day is still gone on a later one."""
        return day <= later and (not run.reusable or later < day + timedelta(days=self.away_days))


def read(desk: Desk, picture: Picture) -> SizeMix:
    """Read the mix; two years count."""
    seen = query.trials(desk.session, picture.today - timedelta(weeks=forecasting.LOOK_BACK_WEEKS))
    return SizeMix(
        _runs(desk, picture),
        {(p.line, p.arch, p.tray_size): p.weight_ppm / MILLION for p in visit_query.size_priors(desk.session)},
        desk.settings["tray_prior_weight"],
        Counter(one.item_id for one in seen if one.outcome is TrialOutcome.FITTED),
        {(rate.name, rate.arch): rate for arch in Arch for rate in _rates(arch, seen)},
        desk.settings["tray_away_days"],
        desk.settings["tray_target_percent"] / 100,
    )


def _runs(desk: Desk, picture: Picture) -> dict[Line, Run]:
    sizes = views.tray_sizes(desk.session)
    articles: dict[tuple[str, Arch, str], tuple[int, ...]] = {}
    lent: dict[Line, bool] = {}
    for number, item in picture.items.items():
        if item.tray_line and item.arch and item.tray_size:
            key = (item.tray_line, item.arch, item.tray_size)
            articles[key] = (*articles.get(key, ()), number)
            lent[key[:2]] = lent.get(key[:2], True) and item.reusable
            run = sizes.setdefault(key[:2], [])
            if item.tray_size not in run:
                run.append(item.tray_size)
    return {
        key: Run(*key, tuple(run), tuple(articles.get((*key, size), ()) for size in run), lent.get(key, False))
        for key, run in sizes.items()
    }


def _rates(arch: Arch, seen: Sequence[Trial]) -> tuple[LearnedRate, LearnedRate]:
    """Trays tried in vain for each one fitted, and fitted ones beyond the first of a visit for each fitted one."""
    fitted = Counter(one.visit_id for one in seen if one.arch is arch and one.outcome is TrialOutcome.FITTED)
    tried = sum(one.arch is arch and one.outcome in TRIED for one in seen)
    again = fitted.total() - len(fitted)
    return (
        LearnedRate("try-in", arch, *TRY_IN, tried, len(fitted)),
        LearnedRate("retake", arch, *RETAKE, again, fitted.total()),
    )
