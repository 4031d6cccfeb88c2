"""From the book to planning: each item's stock, its demand and how it is bought, as the pure computation takes them.

Visits in the calendar are known demand; what goes beyond them is forecast from weekly counts of past visits by kind.
Demand falls on the article that a need names first; substitutes serve only when it is out. Items used by count alone
(adhesive, disinfectant) are forecast from how often a unit was opened.
"""

from collections import Counter, defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from fractions import Fraction
from statistics import median

from inventory.domain import demand as dm
from inventory.domain import handbook, reordering, supply
from inventory.domain.basket import SupplierTerms
from inventory.domain.lead_time import LeadTime
from inventory.domain.shelf import OpenedLife, Parcel
from inventory.domain.vocabulary import Arch, BaseUnit, ItemKind, TrialOutcome, VisitState, WayOfUse
from inventory.service import on_order
from inventory.service.practice import Desk
from inventory.store.queries import catalogue, planning, stock
from inventory.store.queries import visits as visit_queries
from inventory.store.queries.planning import Bought
from inventory.store.queries.stock import Stand
from inventory.store.queries.visits import NeedRow, VisitRow
from inventory.store.tables import Item

LOOK_BACK_WEEKS = 104
ARCH_PRIOR = 4  # visits' weight of the belief that a visit takes both arches; own judgement
TRY_IN_PRIOR = 10  # trays fitted, without one tried in vain: own judgement


@dataclass(frozen=True, slots=True)
class Picture:
    """What stands where, what is on order, what the steps need, which visits are booked; read in one unit of work."""

    today: date
    items: dict[int, Item]
    stands: tuple[Stand, ...]
    needs: dict[int, tuple[NeedRow, ...]]
    tips: dict[int, tuple[int, ...]]
    planned: tuple[VisitRow, ...]
    coming: tuple[supply.Coming, ...] = ()


def picture(desk: Desk) -> Picture:
    """Read what laying out and readiness need."""
    session = desk.session
    items = planning.items(session)
    needs = visit_queries.needs(session)
    return Picture(
        today=desk.today,
        items=items,
        stands=tuple(stand for stand in stock.stands(session) if stand.item_id in items),
        needs=needs,
        tips=_tips(items, planning.fits(session), needs),
        planned=tuple(visit_queries.visits(session, since=desk.today, state=VisitState.PLANNED)),
        coming=on_order.coming(desk, items),
    )


def positions(desk: Desk, picture: Picture, bought: Mapping[int, Bought]) -> dict[int, reordering.Position]:
    """Every item's stock, demand and terms, as the ordering rule takes them.

    Args:
        desk: the unit of work.
        picture: what stands where and which visits are booked.
        bought: how each item is bought.
    """
    session, today, items = desk.session, desk.today, picture.items
    since = today - timedelta(weeks=LOOK_BACK_WEEKS)
    history = _History.read(desk, since)
    uses = _Uses(items, picture.needs, picture.tips, _size_shares(desk, items, since))
    costs = planning.unit_costs(session)
    lives = planning.lives_at_delivery(session)
    leads = on_order.lead_times(desk)
    counted = [number for number, item in items.items() if item.way_of_use is WayOfUse.COUNT]
    openings = planning.taken_by_count(session, counted, since)
    expected = _expected_weekly(desk)
    demands = _visit_demands(uses, history, picture.planned, expected)
    for number in counted:
        demands[number] = _count_demand(openings.get(number, []), history, items[number])
    parcels: dict[int, list[Parcel]] = defaultdict(list)
    for stand in picture.stands:
        parcels[stand.item_id].append(_parcel(stand, costs.get(stand.lot_id)))
    for one in picture.coming:
        parcels[one.item_id].append(_on_its_way(one, lives.get(one.item_id, ())))
    return {
        number: _position(
            item,
            tuple(parcels[number]),
            demands.get(number, dm.Demand()),
            _supply(bought[number], items, leads[bought[number].supplier_id]) if number in bought else None,
            lives.get(number, ()),
        )
        for number, item in items.items()
    }


@dataclass(frozen=True, slots=True)
class _History:
    """Past visits: weekly counts by case kind (oldest first), arches taken, and how many patients came."""

    today: date
    weeks: int
    weekly: Mapping[int, list[int]]
    arches: Mapping[tuple[int, Arch], int]
    done: Mapping[int, int]
    shows: float

    @classmethod
    def read(cls, desk: Desk, since: date) -> "_History":
        first = planning.first_visit(desk.session)
        start = max(since, first) if first else desk.today
        weeks = (desk.today - start).days // 7
        rows = planning.visit_counts(desk.session, since)
        weekly: dict[int, list[int]] = defaultdict(lambda: [0] * weeks)
        arches: Counter[tuple[int, Arch]] = Counter()
        done: Counter[int] = Counter()
        came = booked = 0
        for kind, on, state, upper, lower in rows:
            booked += state is not VisitState.PLANNED
            if state is not VisitState.DONE:
                continue
            came += 1
            done[kind] += 1
            arches[kind, Arch.MAXILLARY] += upper
            arches[kind, Arch.MANDIBULAR] += lower
            age = (desk.today - on).days - 1
            if 0 <= age < weeks * 7:
                weekly[kind][weeks - 1 - age // 7] += 1
        return cls(desk.today, weeks, weekly, arches, done, dm.learn_show_rate(came, booked))

    def arch_share(self, kind: int, arch: Arch | None) -> float:
        """Share of a kind's visits that take an arch; a step without arch is taken always."""
        if arch is None:
            return 1.0
        return (self.arches[kind, arch] + ARCH_PRIOR) / (self.done[kind] + ARCH_PRIOR)


@dataclass(frozen=True, slots=True)
class _Uses:
    """What one visit takes of each item."""

    items: Mapping[int, Item]
    needs: Mapping[int, tuple[NeedRow, ...]]
    tips: Mapping[int, tuple[int, ...]]
    sizes: Mapping[tuple[str, Arch], dict[int, float]]

    def of(
        self, kind: int, chance: Mapping[Arch | None, float], sizes: Mapping[Arch, str | None]
    ) -> dict[int, list[dm.StepUse]]:
        """By item: the step uses of a visit of a kind.

        Args:
            kind: the case kind.
            chance: share of visits with each arch (1 for a booked visit's arches).
            sizes: tray sizes known beforehand.
        """
        found: dict[int, list[dm.StepUse]] = defaultdict(list)
        for need in self.needs.get(kind, ()):
            share = chance.get(need.arch, 0.0)
            if share <= 0:
                continue
            if need.kind is ItemKind.TRAY:
                for item, size_share in self._trays(need, sizes.get(need.arch) if need.arch else None).items():
                    found[item].append(dm.StepUse(1, chance=share * size_share))
            elif article := next((number for number in need.articles if number in self.items), None):
                self._material(found, need, article, share)
        return found

    def _material(self, found: dict[int, list[dm.StepUse]], need: NeedRow, article: int, share: float) -> None:
        tip = next(iter(self.tips.get(article, ())), None)
        fixed = (self.items[article].bleed_qty or 0) + ((self.items[tip].tip_volume_qty or 0) if tip else 0)
        retake = need.retake_ppm / 1_000_000
        found[article].append(dm.StepUse(need.mean_qty, need.sd_qty, fixed if tip else 0, retake, share))
        if tip is not None:
            found[tip].append(dm.StepUse(1, retake=retake, chance=share))

    def _trays(self, need: NeedRow, known: str | None) -> dict[int, float]:
        """Which tray a need takes, and with what chance; a size known beforehand is certain."""
        if need.arch is None or need.tray_line is None:
            return {}
        # a reusable tray comes back: it is lent, not used up, and never a reason to order
        shares = {
            n: s for n, s in self.sizes.get((need.tray_line, need.arch), {}).items() if not self.items[n].reusable
        }
        if known is None:
            return shares
        return {number: 1.0 for number in shares if self.items[number].tray_size == known}


def _tips(
    items: Mapping[int, Item], fits: Mapping[int, tuple[int, ...]], needs: Mapping[int, tuple[NeedRow, ...]]
) -> dict[int, tuple[int, ...]]:
    """Mixing tips by material; tips that a step names itself (intra-oral ones) come on top and are not meant."""
    named = {
        number for rows in needs.values() for need in rows if need.kind is ItemKind.TIP for number in need.articles
    }
    return {
        material: tuple(n for n in fitting if n in items and items[n].kind is ItemKind.TIP and n not in named)
        for material, fitting in fits.items()
    }


def _size_shares(desk: Desk, items: Mapping[int, Item], since: date) -> dict[tuple[str, Arch], dict[int, float]]:
    """Expected take of each tray at a visit with its arch: share of its size, and trays tried in vain."""
    weight = desk.settings["tray_prior_weight"]
    priors = {(p.line, p.arch, p.tray_size): p.weight_ppm / 1_000_000 for p in visit_queries.size_priors(desk.session)}
    fitted: Counter[int] = Counter()
    tried: Counter[int] = Counter()
    for _, item_id, outcome in planning.tray_trials(desk.session, since):
        fitted[item_id] += outcome is TrialOutcome.FITTED
        tried[item_id] += outcome in (TrialOutcome.TRIED_THROWN, TrialOutcome.TRIED_REPROCESS)
    lines: dict[tuple[str, Arch], list[int]] = defaultdict(list)
    for number, item in items.items():
        if item.kind is ItemKind.TRAY and item.tray_line and item.arch:
            lines[item.tray_line, item.arch].append(number)
    shares: dict[tuple[str, Arch], dict[int, float]] = {}
    for (line, arch), numbers in lines.items():
        even = 1 / len(numbers)
        alpha = {n: weight * priors.get((line, arch, items[n].tray_size or ""), even) + fitted[n] for n in numbers}
        total = sum(alpha.values()) or 1
        all_fitted = sum(fitted[n] for n in numbers) + TRY_IN_PRIOR
        shares[line, arch] = {n: alpha[n] / total + tried[n] / all_fitted for n in numbers}
    return shares


def _expected_weekly(desk: Desk) -> dict[int, float]:
    """Visits a week of each kind that the practice expects before there is any history, from its settings."""
    kinds = {kind.code: kind.id or 0 for kind in visit_queries.case_kinds(desk.session)}
    return {kinds[code]: float(n) for code, n in desk.settings["expected_weekly"].items() if code in kinds}


def _visit_demands(
    uses: _Uses, history: _History, planned: Iterable[VisitRow], expected: Mapping[int, float]
) -> dict[int, dm.Demand]:
    streams: dict[int, list[dm.Stream]] = defaultdict(list)
    bookings: dict[int, list[dm.Booking]] = defaultdict(list)
    planned = tuple(planned)
    seen = set(history.weekly) | {visit.case_kind_id for visit in planned}
    for kind in uses.needs:
        # a kind neither expected nor ever seen is not forecast: the practice may simply not do it
        prior = expected.get(kind, dm.PRIOR_RATE if kind in seen else 0.0)
        rate = dm.learn_rate(history.weekly[kind] if kind in seen else [], prior)
        chance = {arch: history.arch_share(kind, arch) for arch in (None, *Arch)}
        for item, steps in uses.of(kind, chance, {}).items():
            if rate.weekly > 0:
                streams[item].append(dm.Stream(str(kind), rate, tuple(steps)))
    for visit in planned:
        chance = {None: 1.0, **dict.fromkeys(visit.arches, 1.0)}
        sizes = {arch: visit.size(arch) for arch in visit.arches}
        for item, steps in uses.of(visit.case_kind_id, chance, sizes).items():
            bookings[item].append(dm.Booking(visit.on, str(visit.case_kind_id), tuple(steps), history.shows))
    return {
        item: dm.Demand(tuple(streams[item]), tuple(bookings[item]), history.weeks) for item in {*streams, *bookings}
    }


def _count_demand(taken: list[tuple[date, int]], history: _History, item: Item) -> dm.Demand:
    """Demand of an item used by count: how often a unit was opened, a unit each time."""
    weekly = [0] * history.weeks
    for on, qty in taken:
        age = (history.today - on).days - 1
        if 0 <= age < history.weeks * 7:
            weekly[history.weeks - 1 - age // 7] += max(1, qty // item.unit_qty)
    rate = dm.learn_rate(weekly, prior=0.0)
    if rate.weekly <= 0:
        return dm.Demand(history_weeks=history.weeks)
    return dm.Demand((dm.Stream("count", rate, (dm.StepUse(item.unit_qty),)),), (), history.weeks)


def _parcel(stand: Stand, cost: tuple[int, int] | None) -> Parcel:
    unit_cents = cost[0] / cost[1] if cost else 0
    return Parcel(
        key=str(stand.holding_id),
        qty=stand.on_hand if stand.place_role.usable else 0,
        use_by=stand.last_day,
        opened=stand.opened_on is not None,
        cents=round(unit_cents * stand.on_hand / stand.unit_qty),
        held=stand.blocked is not None,
    )


def _on_its_way(coming: supply.Coming, lives: Sequence[int]) -> Parcel:
    """Stock on order; it is taken to come with the life that deliveries usually have."""
    use_by = coming.arrives + timedelta(days=int(median(lives))) if lives else None
    return Parcel(f"order {coming.order}", coming.qty, use_by, arrives=coming.arrives)


def _position(
    item: Item,
    parcels: tuple[Parcel, ...],
    demand: dm.Demand,
    terms: supply.Supply | None,
    lives: tuple[int, ...],
) -> reordering.Position:
    rule = None
    if item.min_units is not None and item.max_units is not None:
        rule = reordering.MinRule(item.min_units * item.unit_qty, item.max_units * item.unit_qty)
    life = None
    if item.opened_days is not None and item.base is not BaseUnit.PIECE:
        life = OpenedLife(item.unit_qty, item.opened_days)
    return reordering.Position(
        code=item.code, name=item.name, base=item.base, unit_qty=item.unit_qty, parcels=parcels, demand=demand,
        supply=terms, criticality=item.criticality,
        service_ppm=item.service_ppm, min_rule=rule, lives=lives, opened_life=life,
    )  # fmt: skip


def _supply(bought: Bought, items: Mapping[int, Item], lead: LeadTime) -> supply.Supply:
    return supply.Supply(
        supplier=bought.supplier,
        units_per_pack=bought.units_per_pack,
        pack_cents=bought.pack_cents,
        lead_days=lead.days,
        lead_sd_days=lead.sd_days,
        order_weekdays=supply.weekdays(bought.order_weekdays),
        breaks=tuple(supply.PriceBreak(packs, cents) for packs, cents in bought.breaks),
        further=tuple(
            (items[number].code, units * items[number].unit_qty) for number, units in bought.further if number in items
        ),
        fee_cents=bought.fee_cents,
    )


def supplier_terms(desk: Desk) -> dict[str, SupplierTerms]:
    """Each supplier's minimum order, delivery fee and the goods value from which delivery is free, by its name."""
    return {
        row.name: SupplierTerms(row.name, row.minimum_cents, row.fee_cents, row.free_from_cents)
        for row in catalogue.suppliers(desk.session)
    }


def rules(desk: Desk) -> reordering.Rules:
    """The practice's settings for ordering."""
    targets, simple = desk.settings["service_ppm"], desk.settings["min_max"]
    return reordering.Rules(
        mode=reordering.Mode(desk.settings["order_rule"]),
        review_days=desk.settings["review_days"],
        vital_ppm=targets["vital"],
        essential_ppm=targets["essential"],
        normal_ppm=targets["normal"],
        fee_share_ppm=desk.settings["fee_share_ppm"],
        holding_ppm=desk.settings["holding_ppm"],
        months=handbook.Months(
            _months(simple["lead_months"]),
            _months(simple["safety_months"]),
            Fraction(str(simple["interval_months"])),
            handbook.Review(simple["review"]),
        ),
    )


def _months(number: float | None) -> Fraction | None:
    return None if number is None else Fraction(str(number))


def supplies(desk: Desk, items: Mapping[int, Item]) -> dict[int, supply.Supply]:
    """How each item is bought today: its preferred supply."""
    bought = planning.preferred_supplies(desk.session, desk.today)
    leads = on_order.lead_times(desk)
    return {number: _supply(one, items, leads[one.supplier_id]) for number, one in bought.items() if number in items}
