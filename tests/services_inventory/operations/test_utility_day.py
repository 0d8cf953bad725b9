"""A record made late in the evening belongs to the utility's day, not to that of Greenwich."""

from datetime import UTC, date, datetime

import pytest

from services_inventory.models import Evidence
from services_inventory.operations.evidence import EvidenceRefused, evidence_record
from services_inventory.operations.standings import standings_compare
from services_inventory.queries.evidence_rows import COLUMNS, record_of
from tests.services_inventory.factories import bare_line

pytestmark = pytest.mark.django_db
EVENING = datetime(2028, 3, 2, 3, 30, tzinfo=UTC)  # half past ten of the day before, New York
UTILITY_DAY = date(2028, 3, 1)


def card(line, **said):
    values = {"portion": "SYSTEM", "material": "LEAD", "basis": "RECORD_TAP_CARD", **said}
    return evidence_record(line=line, by="clerk", recorded_at=EVENING, **values)


def test_evidence_and_standing_name_the_same_day():
    line = bare_line()
    row = card(line)
    record = record_of(Evidence.objects.filter(pk=row.pk).values_list(*COLUMNS).get())
    assert record.speaks_of == UTILITY_DAY == line.category_since


def test_what_is_seen_on_the_day_after_the_utility_day_is_refused():
    line = bare_line()
    with pytest.raises(EvidenceRefused, match="after it was recorded on Mar 1, 2028"):
        card(line, basis="EXCAVATION", observed_on=date(2028, 3, 2))
    assert not Evidence.objects.exists()


def test_equal_days_are_equal_in_the_weighing_of_one_and_of_many():
    """A card recorded in the evening and a replacement of that day: neither is the later.

    By Greenwich the card would be a day later than the replacement and so speak of the new pipe.
    """
    line = bare_line()
    card(line)
    evidence_record(
        line=line, portion="SYSTEM", material="COPPER", basis="REPLACEMENT", by="clerk",
        observed_on=UTILITY_DAY, recorded_at=EVENING,
    )  # fmt: skip
    card(line, portion="CUSTOMER", material="COPPER", basis="EXCAVATION", observed_on=UTILITY_DAY)
    assert (line.system_material, line.category) == ("COPPER", "NON_LEAD")
    assert standings_compare(recorded_at=EVENING)["differences"] == 0
