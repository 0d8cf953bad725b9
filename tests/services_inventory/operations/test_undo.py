"""A whole file can be taken back; the standing is as before, history shows both, redo works."""

import pytest

from services_inventory.models import CategoryChange, Premise, ServiceLine
from services_inventory.operations.evidence import evidence_withdraw
from services_inventory.operations.restate import standings_compare
from services_inventory.operations.undo import intake_undo
from services_inventory.queries.checks import checks
from services_inventory.queries.counts import category_counts
from services_inventory.refused import Refused
from tests.services_inventory.operations.takes import (
    APRIL,
    ELM,
    MILL,
    OAK,
    counted,
    open_file,
    run,
    take_in,
)

pytestmark = pytest.mark.django_db
MAY = APRIL.replace(month=5)
JUNE = APRIL.replace(month=6)


def breaches() -> list[str]:
    """Return what the record's own checks complain of."""
    return [sentence for check in checks() for sentence in check()]


def standing() -> list[tuple]:
    """Return what stands of every line, and where its premise lies."""
    names = ("location_id", "category", "system_material", "customer_material", "use",
             "installed_year", "system_nominal_in", "in_conflict", "premise__latitude")  # fmt: skip
    return list(ServiceLine.objects.order_by("location_id").values_list(*names))


def test_lines_of_a_withdrawn_first_file_leave_the_inventory_and_come_back_with_it(tmp_path):
    rows = [MILL, OAK, ELM]
    batch = open_file(tmp_path, rows)
    run(batch)
    before = standing()
    undo = intake_undo(batch=batch, by="manager", at=MAY)
    assert undo.withdraws == batch and undo.counts == {"lines": 3, "changed": 3}
    assert batch.state == "WITHDRAWN"
    assert category_counts()["total"] == 0
    assert breaches() == []
    assert take_in(tmp_path, rows, at=JUNE) == counted(new=3)
    assert standing() == before
    assert breaches() == []
    assert take_in(tmp_path, rows, at=JUNE) == counted(unchanged=3)
    with pytest.raises(Refused, match="already"):
        intake_undo(batch=batch, by="manager", at=JUNE)


def test_a_second_file_is_taken_back_and_the_first_stands_as_it_was(tmp_path):
    take_in(tmp_path, [MILL, OAK])
    before = standing()
    header = ("location id", "address", "latitude", "longitude", "system side material",
              "system side diameter", "line use", "source")  # fmt: skip
    rows = [
        ("L2", OAK[1], "41.7", "-100.5", "lead", "0.75", "fire", "excavation"),
        (*ELM[:4], "", "", "", ""),
    ]
    second = open_file(tmp_path, rows, header=header, at=MAY)
    assert run(second) == counted(new=1, changed=1)
    oak = ServiceLine.objects.get(location_id="L2")
    assert (oak.category, oak.use, oak.system_nominal_in) == ("LEAD", "FIRE", 0.75)
    assert breaches() == []
    intake_undo(batch=second, by="manager", at=JUNE)
    assert standing()[:2] == before
    assert ServiceLine.objects.get(location_id="L3").category is None
    oak_premise = Premise.objects.get(lines__location_id="L2")
    assert [change.after.get("latitude") for change in oak_premise.changes.order_by("id")] == [
        41.7,
        41.51,
    ]
    steps = CategoryChange.objects.filter(line=oak).order_by("id").values_list("to_category")
    assert [to for (to,) in steps] == ["NON_LEAD", "LEAD", "NON_LEAD"]
    assert breaches() == []
    assert standings_compare(recorded_at=JUNE)["differences"] == 0


def test_what_a_person_took_back_is_not_brought_back_by_the_same_file(tmp_path):
    take_in(tmp_path, [MILL])
    line = ServiceLine.objects.get()
    lead = line.evidence.get(portion="SYSTEM")
    evidence_withdraw(evidence=lead, by="clerk", recorded_at=MAY, reason="card of another house")
    line.refresh_from_db()
    assert line.category == "UNKNOWN"
    assert take_in(tmp_path, [MILL], at=JUNE) == counted(unchanged=1)
    line.refresh_from_db()
    assert line.category == "UNKNOWN"


def test_only_an_applied_intake_file_can_be_withdrawn(tmp_path):
    batch = open_file(tmp_path, [MILL])
    run(batch, "CHECK")
    with pytest.raises(Refused, match="applied"):
        intake_undo(batch=batch, by="manager", at=MAY)
