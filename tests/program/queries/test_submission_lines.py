"""The line list weighs each line by the utility's days, also where it weighs equal lines once."""

from datetime import UTC, date, datetime

import pytest

from program.queries.submission_lines import known_on, line_rows
from program.rules import rules_in_force
from services_inventory.operations.evidence import evidence_record
from tests.services_inventory.factories import bare_line

pytestmark = pytest.mark.django_db
THE_DAY, NEXT_DAY = date(2028, 3, 1), date(2028, 3, 2)
# Both on 2 March by Greenwich; in New York the first still belongs to 1 March.
EVENING, NEXT_NOON = datetime(2028, 3, 2, 3, 30, tzinfo=UTC), datetime(2028, 3, 2, 17, tzinfo=UTC)


def line_with_a_card(card_at: datetime):
    """Return a line whose new pipe was laid on the day, and an undated card on lead besides."""
    line = bare_line()
    said = {"line": line, "portion": "SYSTEM", "by": "clerk"}
    evidence_record(
        material="COPPER", basis="REPLACEMENT", observed_on=THE_DAY, recorded_at=EVENING, **said
    )
    evidence_record(material="LEAD", basis="RECORD_TAP_CARD", recorded_at=card_at, **said)
    return line


def test_two_records_of_one_greenwich_day_are_not_taken_for_the_same():
    first, second = line_with_a_card(EVENING), line_with_a_card(NEXT_NOON)
    assert (first.system_material, second.system_material) == ("COPPER", "LEAD")
    known = known_on(NEXT_DAY, datetime(2028, 3, 9, tzinfo=UTC), rules_in_force(), False, None)
    rows = {row.location_id: row for row in line_rows(known)}
    listed = [rows[line.location_id].system_basis for line in (first, second)]
    assert listed == ["accepted replacement", "tap card"]
