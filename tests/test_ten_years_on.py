"""What stands after ten years of use: every page, the record, every filing, the days to come."""

from io import StringIO

from django.core.management import call_command
from django.test import override_settings

from fixtures.plan import PLAN_SETTINGS
from program.clock import now, today
from program.models import OwnValue, Submission
from program.operations.plans import plan_draw
from program.operations.submission_verify import submission_verify
from program.queries.deadlines import deadlines_on
from services_inventory.models import Batch, Evidence, ServiceLine
from services_inventory.operations.standings import standings_compare
from tests import lived_town
from tests.access_table import TABLE
from tests.access_walk import PEOPLE, TownTest, addresses, filled
from tests.conftest import LAST_ID_BEFORE
from tests.test_access import who_opens

CLOSED = "K"
NO_YEAR = {"plan_ics"}  # in the last year this plan's rules clash, so no crew has a calendar


@override_settings(RATELIMIT_ENABLE=False)
def _holds(command: str, told: StringIO) -> bool:
    """Run a command and tell whether it ended well."""
    try:
        call_command(command, stdout=told)
    except SystemExit:
        return False
    return True


class TenYearsOnTest(TownTest):
    """The town that has lived."""

    people = {letter: name for letter, name in PEOPLE.items() if letter != CLOSED}

    @classmethod
    def build(cls):
        """Let the town live."""
        lived_town.build_lived_town(lines=360)
        # Before the crawl stages what its pages need: a value, a conflict that no evidence shows.
        cls.values = OwnValue.objects.filter(jurisdiction="STATE").count()
        cls.checked = StringIO()
        cls.sound = _holds("check_record", cls.checked)

    def test_it_has_lived(self):
        """The town is what its name says, so that the other tests mean something."""
        assert ServiceLine.objects.order_by("id").first().pk > LAST_ID_BEFORE
        assert Submission.objects.filter(revision=1).count() == 9
        assert Submission.objects.filter(revision=2).count() == 2
        assert self.values == 3
        assert Evidence.objects.exclude(withdraws=None).count() >= 30
        assert Batch.objects.filter(state="WITHDRAWN").count() == 1

    def test_every_page_opens(self):
        """To the first of those whom the table names, and to the contractor that is still there."""
        wrong = []
        for name, pattern in addresses():
            asked = {*TABLE[name][:1], *{"C"} & {*TABLE[name]}} - {CLOSED}
            opens = who_opens(self, filled(pattern, self.found), asked)
            if name not in NO_YEAR and set(opens) != asked:
                wrong.append(f"{name}: {opens}, said {TABLE[name]}")
        assert not wrong, "\n".join(wrong)

    def test_the_record_is_sound_and_follows_from_its_evidence(self):
        """No rule is broken, and no standing is another than its evidence gives."""
        assert self.sound, self.checked.getvalue()
        told = StringIO()
        assert _holds("restate", told), told.getvalue()
        found = standings_compare(recorded_at=now())
        assert found["differences"] == 0, found["examples"]

    def test_every_revision_can_be_rebuilt_as_it_was_filed(self):
        """Each of the eleven, from the record as it was known when it was frozen."""
        wrong = [
            f"{one.year} r{one.revision}: {' '.join(found.differences)}"
            for one in Submission.objects.order_by("year", "revision")
            if not (found := submission_verify(submission=one, at=now())).agrees
        ]
        assert not wrong, "\n".join(wrong)

    def test_the_calendar_and_a_new_plan_look_ahead(self):
        """Days come for the years left, each once; a plan is drawn from what is left."""
        dues = deadlines_on(today()).dues
        assert len({due.key for due in dues}) == len(dues)
        assert any(due.due_on.year >= 2037 for due in dues)
        plan = plan_draw(settings={**PLAN_SETTINGS, "runs": 100}, by="manager", at=now(),
                         as_of=today())  # fmt: skip
        assert plan.result["years"] or plan.result["clash"]  # or it says what can't be kept
