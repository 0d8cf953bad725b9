"""How far each neighborhood is: what is left to find out or replace, what is done, what is planned.

The table says it in words; the map beside it is shaded from the same rows.
"""

from collections import Counter
from fractions import Fraction
from typing import NamedTuple

from django.db.models import Max, Min
from django.utils.translation import gettext_lazy as _

from program.domain.calendar import program_year_bounds
from program.domain.shares import percent
from program.models import PlanArea
from program.public.known import published_plan
from program.queries.replacements import full_by_neighborhood
from program.rules import rules_in_force
from services_inventory.domain.classification import Category
from services_inventory.queries.counts_now import neighborhood_counts_now

ORDER = ("LEAD", "GRR", "UNKNOWN", "NON_LEAD")  # in which the public pages show them
TO_REPLACE = (Category.LEAD, Category.GRR)
BOUNDS = tuple(Fraction(part, 100) for part in (0, 5, 20, 50, 80))
SHADES = tuple(range(1, len(BOUNDS) + 1))
LEGEND = tuple(  # of a share, from the lightest shade to the darkest
    zip(
        SHADES,
        (
            _("Under 5%"), _("5% to under 20%"), _("20% to under 50%"), _("50% to under 80%"),
            _("80% or more"),
        ),
        strict=True,
    )
)  # fmt: skip


class Part(NamedTuple):
    """A part of a whole; no share where the whole is nothing."""

    part: int
    whole: int

    @property
    def percent(self) -> str:
        """Return the share in percent, cut to whole ones; empty where there is none."""
        return percent(Fraction(self.part, self.whole), 0) if self.whole else ""

    @property
    def shade(self) -> int:
        """Return which of `LEGEND` it is; 0 where there is no share."""
        return sum(Fraction(self.part, self.whole) >= low for low in BOUNDS) if self.whole else 0


class Progress(NamedTuple):
    """One neighborhood; `id` is None for the lines that lie in none, `years` (first, last)."""

    id: int | None
    name: str
    counts: dict[str, int]
    replaced: int
    years: tuple[int, int] | None
    year_shade: int

    @property
    def by_category(self) -> list[int]:
        """Return the lines of each category, in the order that the pages show them in."""
        return [self.counts[code] for code in ORDER]

    @property
    def left(self) -> Part:
        """Lines that are lead, must be replaced or are not known yet, of all."""
        number = sum(self.counts[code] for code in (*TO_REPLACE, Category.UNKNOWN))
        return Part(number, self.counts["total"])

    @property
    def done(self) -> Part:
        """Lines replaced, of those and the ones known to be left to replace."""
        waiting = sum(self.counts[code] for code in TO_REPLACE)
        return Part(self.replaced, self.replaced + waiting)


def progress() -> list[Progress]:
    """Return every neighborhood that has lines, by name, then what lies in none."""
    replaced, years = Counter(full_by_neighborhood()), _planned_years()
    firsts = sorted({first for first, _last in years.values()})
    shades = {first: 1 + at * len(SHADES) // len(firsts) for at, first in enumerate(firsts)}
    rows, nowhere = [], Counter[str]()
    for counts in neighborhood_counts_now():
        pk, name = counts.pop("id"), counts.pop("name")
        if not pk:
            nowhere.update(counts)
        elif counts["total"]:
            planned = years.get(pk)
            shade = shades[planned[0]] if planned else 0
            rows.append(Progress(pk, name, counts, replaced[pk], planned, shade))
    if nowhere["total"]:
        name = str(_("In no neighborhood"))
        rows.append(Progress(None, name, dict(nowhere), replaced[None], None, 0))
    return rows


def in_all(rows: list[Progress]) -> Progress:
    """Return the whole of them."""
    counts: Counter[str] = Counter()
    for row in rows:
        counts.update(row.counts)
    whole = {code: counts[code] for code in (*Category, "total")}
    return Progress(None, "", whole, sum(row.replaced for row in rows), None, 0)


def year_legend(rows: list[Progress]) -> list[tuple[int, int, int]]:
    """Return (shade, earliest first year, latest) of the shades that the plan's years have."""
    firsts: dict[int, list[int]] = {}
    for row in rows:
        if row.years:
            firsts.setdefault(row.year_shade, []).append(row.years[0])
    return [(shade, min(found), max(found)) for shade, found in sorted(firsts.items())]


def _planned_years() -> dict[int, tuple[int, int]]:
    """Return {neighborhood: first and last calendar year of work}, by the public plan."""
    plan, rules = published_plan(), rules_in_force()
    if plan is None:
        return {}
    areas = PlanArea.objects.filter(plan=plan, program_year__gt=0, neighborhood__isnull=False)
    years = areas.values("neighborhood").annotate(Min("program_year"), Max("program_year"))

    def calendar(number: int) -> int:
        return program_year_bounds(number, rules)[1].year

    return {
        row["neighborhood"]: (
            calendar(row["program_year__min"]),
            calendar(row["program_year__max"]),
        )
        for row in years.order_by()
    }
