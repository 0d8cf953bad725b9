"""The neighborhoods as the program manager plans by them."""

from __future__ import annotations

from collections import Counter
from datetime import date

from django.db.models import Count, Exists, OuterRef, Q

from program.domain.deferral import deadline_in_force
from program.models import Plan
from program.queries.planning.pool import CHUNK, OPEN, SENSITIVE
from program.rules import rules_in_force
from replacements.models import Consent, Replacement, WorkOrder
from services_inventory.models import ServiceLine
from services_inventory.models.places import COMMON_KIND
from services_inventory.queries.counts import place_of
from services_inventory.queries.counts_now import neighborhood_counts_now
from services_inventory.queries.kept_counts import Cells, facts_mark, kept_cells
from services_inventory.queries.neighborhoods import boundaries_geojson

COLUMNS = (
    ("name", "Neighborhood"),
    ("LEAD", "Lead"),
    ("GRR", "GRR"),
    ("UNKNOWN", "Unknown"),
    ("unknown_share", "Unknown share"),
    ("expected", "Expected"),
    ("consent_rate", "Consent"),
    ("planned", "Ordered"),
    ("done", "Done"),
    ("remaining", "Remaining"),
    ("pace", "Pace a year"),
    ("sensitive", "Schools"),
    ("cost", "Cost, $1,000"),
    ("overdue", "Orders overdue"),
    ("points", "Priority"),
)
ORDERS = (
    ("name", "Neighborhood, A to Z"),
    ("-name", "Neighborhood, Z to A"),
    *(
        (way, f"{label}, {word}")
        for key, label in COLUMNS[1:]
        for way, word in ((f"-{key}", "highest first"), (key, "lowest first"))
    ),
)
# Headings that a file must spell out, as no sentence stands beside it.
LONG = {
    "expected": "Expected lead or GRR lines among unknown ones",
    "consent_rate": "Share of known lines with consent",
    "planned": "Lines with an open order",
    "done": "Lines replaced",
    "remaining": "Known and expected lines remaining",
    "pace": "Remaining lines for each year to the deadline",
    "sensitive": "Schools and child care with open lines",
    "cost": "Cost, US dollars",
    "overdue": "Open orders past their day",
    "points": "Priority points of 1,000",
}
_KNOWN = ("LEAD", "GRR")


def adopted_plan() -> Plan | None:
    """Return the plan in force."""
    return Plan.objects.filter(state=Plan.State.ADOPTED).first()


def latest_plan() -> Plan | None:
    """Return the adopted plan, or else the one drawn last."""
    return adopted_plan() or Plan.objects.order_by("-id").first()


def planning_board(as_of: date, plan: Plan | None) -> list[dict]:
    """Return one dict a neighborhood; expected lead, cost and priority are those of the plan."""
    deadline = deadline_in_force(rules_in_force()).last_day
    years = max(0.0, (deadline - as_of).days / 365.25)
    planned = {row["name"]: row for row in plan.result.get("neighborhoods", ())} if plan else {}
    found = _counts(as_of)
    rows = []
    for counts in neighborhood_counts_now():
        row = {key: counts[key] for key in ("id", "name", "LEAD", "GRR", "UNKNOWN", "total")}
        row |= {name: column[counts["id"]] for name, column in found.items()}
        row |= _expected(row, planned.get(row["name"]))
        known = row["LEAD"] + row["GRR"]
        row["known"] = known
        row["unknown_share"] = row["UNKNOWN"] / row["total"] if row["total"] else 0
        row["consent_rate"] = row["consented"] / known if known else None
        # Where no share is known, every unknown line may have to be replaced.
        row["remaining"] = known + (row["UNKNOWN"] if row["expected"] is None else row["expected"])
        row["thousands"] = None if row["cost"] is None else row["cost"] / 1000
        row["pace"] = row["remaining"] / years if years else None
        rows.append(row)
    return rows


def _expected(row: dict, planned: dict | None) -> dict:
    """The plan's figures, its share of lead applied to the lines unknown today."""
    if planned is None:
        nothing = None if row["UNKNOWN"] else 0
        return {
            "expected": nothing, "expected_low": nothing, "expected_high": nothing,
            "cost": None, "points": None,
        }  # fmt: skip
    then = planned["unknown"]
    scale = row["UNKNOWN"] / then if then else 0
    return {
        **{key: planned[key] * scale for key in ("expected", "expected_low", "expected_high")},
        "cost": planned["cost"],
        "points": planned["points"],
    }


def _counts(as_of: date) -> dict[str, Counter]:
    orders = WorkOrder.objects.filter(state__in=WorkOrder.OPEN_STATES)
    return {
        "planned": _by_hood(orders),
        "overdue": _by_hood(orders.filter(due_on__lt=as_of)),
        "done": _by_hood(Replacement.objects.standing(as_of).filter(category_after="NON_LEAD")),
        "sensitive": _sensitive(),
        "consented": _consented(),
    }


def _by_hood(rows) -> Counter:
    """Count lines, each once; asked so that databases begin with the rows, not with all lines."""
    lines = ServiceLine.objects.filter(pk__in=rows.order_by().values("line_id")).order_by()
    return Counter(dict(lines.values_list(place_of()).annotate(n=Count("id"))))


def _sensitive() -> Counter:
    """Count the open lines of schools and child care, from counts that are kept."""
    cells = kept_cells("sensitive-lines", facts_mark(), _sensitive_cells)
    return Counter({place: sum(cell.values()) for place, cell in cells.items()})


def _sensitive_cells(kept: Q) -> Cells:
    cells: Cells = {}
    lines = ServiceLine.objects.filter(
        kept,
        # Said again as the index of the rarer kinds says it, so that it is used.
        ~Q(premise__kind=""),
        ~Q(premise__kind=COMMON_KIND),
        category__in=OPEN,
        premise__kind__in=SENSITIVE,
    )
    rows = lines.order_by().values_list(place_of(), "premise__kind")
    for place, kind, number in rows.annotate(n=Count("id")):
        cells.setdefault(place, {})[kind] = number
    return cells


def _consented() -> Counter:
    """Count the known lines whose owner's last answer is yes."""
    known = ServiceLine.objects.filter(pk=OuterRef("line"), category__in=_KNOWN)
    rows = (
        Consent.objects.filter(Exists(known))
        .order_by("answered_on", "id")
        .values_list("line_id", "answer", place_of("line__"))
    )
    last = {line: (answer, hood) for line, answer, hood in rows.iterator(CHUNK)}
    return Counter(hood for answer, hood in last.values() if answer == "GIVEN")


def board_shapes(rows: list[dict]) -> dict:
    """Return the boundaries as GeoJSON with every figure of the board, as numbers and in words."""
    figures = {
        row["id"]: {
            **{key: row[key] for key, _ in COLUMNS},
            "NON_LEAD": row["total"] - row["known"] - row["UNKNOWN"],
            "told": {key: _told(key, row) for key, _ in COLUMNS if key != "name"},
        }
        for row in rows
        if row["id"]
    }
    return boundaries_geojson(figures)


def _told(key: str, row: dict) -> str:
    value = row[key]
    if value is None:
        return "not known"
    if key in ("unknown_share", "consent_rate"):
        return f"{int(100 * value + 1e-9)}%"
    if key == "expected" and row["UNKNOWN"]:
        return f"{value:.1f} ({row['expected_low']:.0f} to {row['expected_high']:.0f})"
    if key == "cost":
        return f"${value:,.0f}"
    return f"{value:,.1f}" if key == "pace" else f"{value:,.0f}"


def sorted_board(rows: list[dict], order: str) -> tuple[list[dict], str]:
    """Return the rows in the order asked for, what is missing last, and that order."""
    key = order.lstrip("-")
    if key not in dict(COLUMNS):
        order, key = "-remaining", "remaining"
    here = [row for row in rows if row[key] is not None]
    here.sort(key=lambda row: row["name"])
    here.sort(key=lambda row: row[key], reverse=order.startswith("-"))
    return here + [row for row in rows if row[key] is None], order
