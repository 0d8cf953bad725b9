"""Tap samples as they stand: periods, their 90th percentile, results and what does not count."""

from collections import defaultdict
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from datetime import date
from fractions import Fraction

from django.db.models import Count, Exists, Max, Min, OuterRef, Prefetch, Q, QuerySet
from django.utils.timezone import localtime

from program.domain.deadlines import CopperExceedance, LeadExceedance, MonitoringPeriod
from program.domain.deadlines.sampling import is_repeated
from program.domain.sampling_tiers import Ninetieth, Sample, counted, deciding, exceeds, ninetieth
from program.models import Exceedance, Invalidation, ResultFile, SamplingPeriod, TapResult
from services_inventory.domain.regulation import Rules

METALS = {"LEAD": "Lead", "COPPER": "Copper"}


@dataclass(frozen=True)
class SiteSample:
    """What was found at one site on one day: of several bottles the highest."""

    results: tuple[TapResult, ...]
    value: Fraction

    @property
    def first(self) -> TapResult:
        """The bottle that decides."""
        return self.results[0]


@dataclass(frozen=True)
class Ranked:
    """The samples of a period and metal that decide, with the rank of each and the level."""

    metal: str
    samples: tuple[tuple[int, SiteSample], ...]
    aside: tuple[SiteSample, ...]
    found: Ninetieth | None
    level: int
    exceeded: bool
    required: int

    @property
    def label(self) -> str:
        """The metal in words."""
        return METALS[self.metal]

    @property
    def missing(self) -> int:
        """How many samples of sites with a tier the period still asks for."""
        tiered = sum(one.first.tier is not None for one in self.aside)
        return max(0, self.required - len(self.samples) - tiered)

    @property
    def aside_above(self) -> int:
        """How many of the samples that don't decide are above the action level all the same."""
        return sum(one.value > self.level for one in self.aside)

    @property
    def value(self) -> float | None:
        """The 90th percentile in micrograms per liter."""
        return float(self.found.value) if self.found else None


def standing_results() -> QuerySet:
    """Return the results of files that stand; those set aside are among them."""
    return TapResult.objects.filter(file__withdrawn_at__isnull=True)


def counting_results() -> QuerySet:
    """Return the results that count: neither taken back nor invalidated."""
    aside = Invalidation.objects.standing().values("result")
    return standing_results().exclude(pk__in=aside)


def ranked(period: SamplingPeriod, metal: str, rules: Rules, rows=None) -> Ranked:
    """Return the 90th percentile of a period as its results stand, with the way to it.

    rows : the results to take it of, if they were read before; see `compliance_results`
    """
    rows = compliance_results([period]) if rows is None else rows
    kept = [
        row
        for row in rows
        if row.metal == metal and period.first_day <= row.sampled_on <= period.last_day
    ]
    samples = site_samples(kept, rules)
    judged = [Sample(one.first.tier, one.value, one) for one in samples]
    decide = [sample.key for sample in deciding(judged, period.required, rules)]
    chosen = {id(one) for one in decide}
    found = ninetieth([one.value for one in decide], rules=rules) if decide else None
    level = rules.value(f"{metal}_ACTION_LEVEL_UG_PER_L", period.last_day)
    return Ranked(
        metal,
        tuple(enumerate(decide, 1)),
        tuple(one for one in samples if id(one) not in chosen),
        found,
        level,
        found is not None and exceeds(found.value, period.last_day, metal=metal, rules=rules),
        period.required,
    )


def compliance_results(periods: Sequence[SamplingPeriod]) -> list[TapResult]:
    """Return the results that count toward the 90th percentile of some periods."""
    days = Q(pk__in=[])
    for period in periods:
        days |= Q(sampled_on__range=(period.first_day, period.last_day))
    rows = counting_results().filter(days, purpose=TapResult.Purpose.COMPLIANCE)
    return list(rows.select_related("line__premise", "file"))


def site_samples(rows: Iterable[TapResult], rules: Rules) -> list[SiteSample]:
    """Return what each site held on each day, the highest bottle first."""
    bottles = defaultdict(list)
    for row in rows:
        value = counted(row.metal, Fraction(row.micrograms), row.below, rules)
        bottles[row.line_id, row.sampled_on].append((value, row.pk, row))
    return [
        SiteSample(tuple(row for *_, row in found), found[0][0])
        for found in (sorted(some, reverse=True) for some in bottles.values())
    ]


def period_of(day: date) -> SamplingPeriod | None:
    """Return the period that a day falls in."""
    found = SamplingPeriod.objects.standing().filter(first_day__lte=day, last_day__gte=day)
    return found.first()


def in_no_period() -> dict:
    """Return {number, first, last}: results meant for a period whose day lies in none on record."""
    day = OuterRef("sampled_on")
    covering = SamplingPeriod.objects.standing().filter(first_day__lte=day, last_day__gte=day)
    results = counting_results().filter(purpose=TapResult.Purpose.COMPLIANCE)
    return results.filter(~Exists(covering)).aggregate(
        number=Count("*"), first=Min("sampled_on"), last=Max("sampled_on")
    )


def periods_shown() -> list[SamplingPeriod]:
    """Return every period with what was learned of it, latest first."""
    learned = Prefetch("exceedances", Exceedance.objects.standing(), to_attr="learned")
    return list(SamplingPeriod.objects.prefetch_related(learned).order_by("-first_day", "-id"))


def files_shown(limit: int = 50) -> list[ResultFile]:
    """Return the latest files, taken back ones too."""
    return list(ResultFile.objects.select_related("document").order_by("-id")[:limit])


def results_of(period: SamplingPeriod) -> list[TapResult]:
    """Return all results of a period's days, with how each was set aside, by day and site."""
    aside = Prefetch("invalidations", Invalidation.objects.order_by("id"), to_attr="set_aside")
    rows = standing_results().filter(sampled_on__range=(period.first_day, period.last_day))
    rows = rows.select_related("line__premise", "file").prefetch_related(aside)
    return list(rows.order_by("sampled_on", "line_id", "metal", "liter", "id"))


def exceedance_fact(exceedance: Exceedance) -> LeadExceedance:
    """Return the clocks that an exceedance started."""
    return next(fact for fact in exceedance_facts() if fact.period_id == str(exceedance.period_id))


def exceedance_facts() -> list[LeadExceedance]:
    """Return the clocks of every exceedance of lead that stands, by when it was learned."""
    rows = Exceedance.objects.standing().filter(metal="LEAD").select_related("period")
    rows = rows.order_by("learned_at", "id")
    ends = {row.period_id: row.period.last_day for row in rows}
    return [
        LeadExceedance(
            str(row.period_id),
            localtime(row.learned_at),
            row.period.last_day,
            tuple(day for period, day in ends.items() if period != row.period_id),
        )
        for row in rows
    ]


def repeated(exceedance: Exceedance, rules: Rules) -> bool:
    """Tell whether it is one of so many that filters are asked for."""
    fact = exceedance_fact(exceedance)
    return is_repeated(fact.period_ends_on, fact.earlier, rules)


def period_facts(period: SamplingPeriod) -> list:
    """Return what starts clocks about a period: its beginning, and what was learned of it."""
    first: list = [MonitoringPeriod(str(period.pk), period.first_day)]
    if period.exceedances.standing().filter(metal="COPPER").exists():
        first.append(CopperExceedance(str(period.pk), period.last_day))
    return [*first, *(fact for fact in exceedance_facts() if fact.period_id == str(period.pk))]


def high_sites(rules: Rules, since: date, kept: Q) -> Iterator[tuple]:
    """Yield (line id, location id, learned on, key, sampled again on) of sites above the level.

    since : only results learned from this day on
    kept : a condition that keeps lines, of the results
    """
    rows = list(
        counting_results()
        .filter(kept, metal="LEAD", file__received_on__gte=since)
        .order_by("sampled_on", "id")
        .values_list("line", "line__location_id", "sampled_on", "file__received_on", "micrograms",
                     "below")
    )  # fmt: skip
    days = defaultdict(set)
    for row in rows:
        days[row[0]].add(row[2])
    told = set()
    for line, place, day, learned, micrograms, below in rows:
        value = counted("LEAD", Fraction(micrograms), below, rules)
        if (line, day) in told or not exceeds(value, day, rules=rules):
            continue
        told.add((line, day))
        again = min((later for later in days[line] if later > day), default=None)
        yield line, place, learned, f"{line}-{day}", again


RESULT_COLUMNS = (
    "location_id", "address", "sampled_on", "purpose", "tier", "liter", "metal", "as_written",
    "micrograms_per_liter", "below_the_limit", "laboratory_number", "file", "received_on",
    "set_aside_because", "decision",
)  # fmt: skip


def result_rows(period: SamplingPeriod) -> Iterator[Sequence]:
    """Yield a period's results for a file, those set aside with the reason."""
    for row in results_of(period):
        aside = next((one for one in row.set_aside if one.withdrawn_at is None), None)
        yield (
            row.line.location_id, row.line.premise.address, row.sampled_on, row.purpose, row.tier,
            row.liter, row.metal, row.written, f"{row.micrograms.normalize():f}",
            "yes" if row.below else "no", row.number, row.file_id, row.file.received_on,
            aside.get_ground_display() if aside else "", aside.decision if aside else "",
        )  # fmt: skip
