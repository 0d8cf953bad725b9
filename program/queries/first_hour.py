"""The first hour of a utility with the program: five steps, and what is next for each role."""

from dataclasses import dataclass, field

from django.contrib.auth import get_user_model
from django.db.models import Exists, Model

from program.models import FirstHourSkip, Plan, PlanAdoption
from program.roles import ADMINISTRATOR, COMPLIANCE, CONTRACTOR, PROGRAM_MANAGER, ROLES, role_of
from program.utility import the_utility
from replacements.models import Contractor, WorkOrder
from services_inventory.models import Batch, MatchQuestion, Neighborhood, ServiceLine
from services_inventory.queries.counts_now import category_counts_now

STEPS = {
    "system": "Your system",
    "people": "People",
    "boundaries": "Boundaries of neighborhoods",
    "file": "The first file",
    "counts": "The first counts",
}
UNFINISHED = ("RECEIVED", "QUEUED", "CHECKING", "CHECKED", "APPLYING")
MOST_SHOWN = 3


@dataclass
class Step:
    """One of the five: whether it is done, was passed over, and what is known of it."""

    key: str
    done: bool
    told: str = ""
    doubts: list[str] = field(default_factory=list)
    skipped: FirstHourSkip | None = None
    here: bool = False
    batches: list[Batch] = field(default_factory=list)

    @property
    def title(self) -> str:
        """What pages call it."""
        return STEPS[self.key]


def first_hour() -> list[Step]:
    """Return the steps in order; `here` is the first that is neither done nor passed over."""
    steps = [_system(), _people(), _boundaries(), _file(), _counts()]
    skips = {skip.step: skip for skip in FirstHourSkip.objects.all()}
    for step in steps:
        step.skipped = None if step.done else skips.get(step.key)
    current = next((step for step in steps if not step.done and not step.skipped), None)
    if current:
        current.here = True
    return steps


def _system() -> Step:
    utility = the_utility()
    if utility is None or not utility.name:
        return Step("system", False)
    doubts = []
    if not utility.pwsid:
        doubts.append("No PWSID yet; every paper to the State carries it.")
    if not utility.state:
        doubts.append("No State yet; its own rule values and codes depend on it.")
    if not utility.connections:
        doubts.append("No number of service connections yet; counts are held against it.")
    known = [utility.name, utility.pwsid, utility.state]
    if utility.connections:
        known.append(f"{utility.connections:,} service connections")
    done = bool(utility.pwsid and utility.state and utility.connections)
    return Step("system", done, ", ".join(filter(None, known)), doubts)


def _people() -> Step:
    users = get_user_model().objects.filter(is_active=True).prefetch_related("groups")
    roles = [role_of(user) for user in users]
    told = ", ".join(f"{role}: {roles.count(role)}" for role in ROLES if role in roles)
    lacking = [role for role in (PROGRAM_MANAGER, COMPLIANCE) if role not in roles]
    doubts = [f"Nobody is {role.lower()} yet." for role in lacking]
    return Step("people", not lacking, told, doubts)


def _boundaries() -> Step:
    number = Neighborhood.objects.exclude(boundary_wkb=None).count()
    told = f"{number:,} neighborhood{'' if number == 1 else 's'} with a boundary" if number else ""
    return Step("boundaries", bool(number), told, batches=_unfinished("BOUNDARIES"))


def _file() -> Step:
    taken = Batch.objects.filter(kind="INTAKE", state="APPLIED").count()
    told = f"{taken:,} file{'' if taken == 1 else 's'} taken in" if taken else ""
    return Step("file", bool(taken), told, batches=_unfinished("INTAKE"))


def _unfinished(kind: str) -> list[Batch]:
    return list(Batch.objects.filter(kind=kind, state__in=UNFINISHED).order_by("-id")[:5])


def _counts() -> Step:
    counts, utility = category_counts_now(), the_utility()
    total = counts["total"]
    doubts = []
    if total and utility and utility.connections and total < utility.connections:
        doubts.append(
            f"The record has {total:,} lines, and you stated {utility.connections:,} service "
            f"connections: {utility.connections - total:,} are in no file yet, or counted "
            "otherwise."
        )
    if total and utility and utility.connections and total > utility.connections:
        doubts.append(
            f"The record has {total:,} lines, more than the {utility.connections:,} service "
            "connections that you stated. Look for lines that are in it twice."
        )
    return Step("counts", bool(total), f"{total:,} lines counted" if total else "", doubts)


def next_things(user) -> list[tuple[str, str]]:
    """Return what is next for a user's role, the most pressing first: (sentence, page)."""
    known = _known(user)
    if known is None:
        return []
    found = [
        (sentence, page) for roles, wanted, sentence, page in _NEXT
        if role_of(user) in roles and wanted(known)
    ]  # fmt: skip
    return found[:MOST_SHOWN]


def _known(user) -> dict | None:
    """Ask all that the table below needs at once."""
    asked: dict[str, type[Model] | object] = {
        "lines": ServiceLine.objects.filter(category__isnull=False),
        "areas": Neighborhood.objects.all(),
        "plan": Plan.objects.all(),
        "adopted": PlanAdoption.objects.all(),
        "company": Contractor.objects.filter(active=True),
        "orders": WorkOrder.objects.all(),
        "own": WorkOrder.objects.visible_to(user).filter(state__in=("RELEASED", "RETURNED")),
        "checked": Batch.objects.filter(kind="INTAKE", state="CHECKED"),
        "matches": MatchQuestion.objects.waiting(),
        "manager": get_user_model().objects.filter(is_active=True, groups__name=PROGRAM_MANAGER),
        "compliance": get_user_model().objects.filter(is_active=True, groups__name=COMPLIANCE),
    }
    rows = get_user_model().objects.filter(pk=user.pk)
    known = rows.values(**{name: Exists(query) for name, query in asked.items()}).first()
    return known and {**known, "utility": the_utility()}


_STAFF = (PROGRAM_MANAGER, COMPLIANCE, ADMINISTRATOR)
_NEXT = (
    (_STAFF, lambda known: not known["utility"] or not known["lines"],
     "Go through the first hour: your system, people, boundaries, first file, first counts.",
     "first_hour"),
    ((ADMINISTRATOR,), lambda known: not known["manager"] or not known["compliance"],
     "Let a program manager and compliance staff in.", "people"),
    ((PROGRAM_MANAGER, COMPLIANCE), lambda known: known["checked"],
     "A file was checked and waits: see what it would change, then take it in.", "batch_list"),
    ((PROGRAM_MANAGER, COMPLIANCE), lambda known: known["matches"],
     "Rows of files wait for you to say which line they mean.", "match_list"),
    ((PROGRAM_MANAGER,), lambda known: known["lines"] and not known["areas"],
     "Take in the boundaries of your neighborhoods; the plan is drawn by them.", "batch_list"),
    ((PROGRAM_MANAGER,), lambda known: known["lines"] and known["areas"] and not known["plan"],
     "Draw the first plan.", "plan_new"),
    ((PROGRAM_MANAGER,), lambda known: known["plan"] and not known["adopted"],
     "Look at the plans drawn, and adopt one.", "plan_list"),
    ((ADMINISTRATOR,), lambda known: known["adopted"] and not known["company"],
     "A plan is adopted: let the company in that replaces lines.", "people"),
    ((PROGRAM_MANAGER,), lambda known: known["adopted"] and known["company"]
     and not known["orders"],
     "Put the first lines of the plan into a package for a company.", "package_list"),
    ((CONTRACTOR,), lambda known: not known["own"],
     "No order is released to your company yet. Enter your tools and their papers meanwhile.",
     "component_list"),
)  # fmt: skip
