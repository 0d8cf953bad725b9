"""Draw a plan from the record: which area in which program year by which crew."""

import json
import tomllib
from datetime import date
from pathlib import Path

from django.core.management.base import BaseCommand, CommandError

from program.clock import now, today
from program.domain.shares import percent
from program.models import Plan
from program.operations.plans import PlanError, plan_draw
from program.planning.solver.case import CannotPlan
from services_inventory.command_words import COMMAND_LINE, at_most


class Command(BaseCommand):
    """Print the plan year by year, with its gap and what the solver says."""

    help = "Draws a plan, keeps it as a scenario, and prints it year by year."

    def add_arguments(self, parser):
        parser.add_argument("--json", action="store_true", help="print the plan as JSON only")
        parser.add_argument("--crews", type=int, metavar="NUMBER", help="crews in every year")
        parser.add_argument(
            "--budget-per-year",
            type=float,
            metavar="NUMBER",
            help="US dollars for each program year",
        )
        parser.add_argument(
            "--name",
            default="",
            type=at_most(Plan._meta.get_field("name").max_length),
            metavar="NAME",
            help="name of the scenario",
        )
        parser.add_argument(
            "--settings-file", metavar="FILE", help="further settings, a TOML or JSON file"
        )

    def handle(self, *args, **options):
        settings = _settings(options["settings_file"])
        for name in ("crews", "budget_per_year"):
            if options[name] is not None:
                settings[name] = options[name]
        try:
            plan = plan_draw(
                settings=settings, name=options["name"], by=COMMAND_LINE, at=now(), as_of=today()
            )
        except (PlanError, CannotPlan) as error:
            raise CommandError(str(error)) from error
        if options["json"]:
            self.stdout.write(json.dumps(as_json(plan)))
        else:
            self._tell(plan)
        if not plan.areas.filter(program_year__isnull=False).exists():
            raise CommandError(plan.result["clash"])

    def _tell(self, plan: Plan) -> None:
        write, result = self.stdout.write, plan.result
        gap = "none" if plan.gap is None else f"{plan.gap:.2%}"
        write(f"{plan.name} (plan {plan.pk}), as of {result['as_of']}: {plan.status}, gap {gap}.")
        if result["years"]:
            write(f"{'year':>4}{'areas':>7}{'jobs':>7}{'cost':>14}{'annual':>10}{'average':>10}")
        for row in result["years"]:
            write(
                f"{row['year']:>4}{row['areas']:>7}{row['jobs']:>7}{row['cost']:>14,.0f}"
                f"{percent(row['annual_rate']):>10}{percent(row['cumulative_rate']):>10}"
            )
        write(f"Required average: {percent(result['required_rate'])}.")
        for sentence in _sentences(plan):
            write(sentence)
        for why, lines in result["left_out"].items():
            if lines:
                write(f"{why.replace('_', ' ').capitalize()}: {', '.join(lines)}")


def _sentences(plan: Plan) -> list[str]:
    result = plan.result
    relaxations = [one["sentence"] for one in result["relaxations"]]
    changes = [
        f"{row['kind']}: {row['sentence']} Tried: ${row['cost']:,.0f}"
        + (f", the rate is kept in {row['odds']} of the runs." if row["odds"] else ".")
        for row in result["advice"].get("rows", ())
    ]
    return [
        *filter(None, [result["unplaced"]]),
        *result["notes"],
        *result["unknowns"]["sentences"],
        *relaxations,
        *changes,
        *plan.forecast.get("sentences", []),
        *filter(None, [plan.forecast.get("crews_sentence")]),
    ]


def as_json(plan: Plan) -> dict:
    """Return the plan as the command prints it."""
    result = plan.result
    years = result["years"]
    wanted = (
        "year", "areas", "jobs", "cost", "crews", "capacity", "budget", "annual_rate",
        "cumulative_rate", "pool", "replacements", "assessed", "meets",
    )  # fmt: skip
    odds = (
        "complies", "complies_throughout", "finishes", "finished_by", "short_of_money", "due_year",
        "crews_needed", "crews_sentence",
    )  # fmt: skip
    return {
        "plan": plan.pk,
        "name": plan.name,
        "as_of": result["as_of"],
        "status": plan.status,
        "gap": plan.gap,
        "areas": sum(row["areas"] for row in years),
        "jobs": sum(row["jobs"] for row in years),
        "cost": sum(row["cost"] for row in years),
        "crews": result["crews"],
        "required_rate": result["required_rate"],
        "years": [{key: row.get(key) for key in wanted} for row in years],
        "clash": result["clash"],
        "notes": result["notes"],
        "relaxations": result["relaxations"],
        "advice": result["advice"],
        "verdict": result["verdict"],
        "unplaced": result["unplaced"],
        "left_out": result["left_out"],
        "forecast": {key: plan.forecast.get(key) for key in odds},
        "unknowns": result["unknowns"],
    }


def _settings(name: str | None) -> dict:
    if not name:
        return {}
    path = Path(name)
    try:
        text = path.read_text(encoding="utf-8")
        found = json.loads(text) if path.suffix.lower() == ".json" else tomllib.loads(text)
    except OSError as error:
        raise CommandError(f"{name} can't be read ({error.strerror}).") from error
    except ValueError as error:
        raise CommandError(f"{name} is neither TOML nor JSON: {error}.") from error
    if not isinstance(found, dict):
        raise CommandError(f"{name} must hold settings by name, such as crews = 2.")
    return _without_dates(found)


def _without_dates(value):
    """The settings with TOML's own dates as text, as JSON keeps them."""
    if isinstance(value, dict):
        return {key: _without_dates(one) for key, one in value.items()}
    if isinstance(value, list):
        return [_without_dates(one) for one in value]
    return value.isoformat() if isinstance(value, date) else value
