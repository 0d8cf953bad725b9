"""An order that ended without a result is planned again, with what is known of its ground."""

import pytest

from replacements.domain.ground import OtherLine, UtilityKind
from replacements.operations.ground import nearby_line_record, nearby_line_withdraw
from replacements.operations.replanning import work_order_again
from replacements.operations.work_orders import WorkOrderError, work_order_call_off
from tests.replacements.factories import AT, DAY, contractor, order, user

pytestmark = pytest.mark.django_db


def called_off(**particulars):
    work = order(released=False, other_lines_looked_for_on=DAY, **particulars)
    sewer = OtherLine(UtilityKind.SEWER, 30.0, exposed=True, at_ft=9.0)
    nearby_line_record(work_order=work, line=sewer, by="crew", at=AT, note="clay")
    wrong = nearby_line_record(work_order=work, line=sewer, by="crew", at=AT)
    nearby_line_withdraw(nearby=wrong, by="crew", at=AT, reason="twice")
    work_order_call_off(work_order=work, by="p", at=AT, reason="cable slipped")
    return work


def test_the_lines_near_the_run_come_along_and_the_history_names_the_earlier_order():
    earlier = called_off()
    made = work_order_again(earlier=earlier, contractor=contractor(), by="p", at=AT)
    assert (made.state, made.line_id) == ("PLANNED", earlier.line_id)
    (kept,) = made.nearby_lines.standing()
    assert (kept.kind, kept.at_ft, kept.recorded_by, kept.note) == ("SEWER", 9.0, "crew", "clay")
    assert earlier.nearby_lines.standing().count() == 1
    assert made.changes.last().reason == f"Planned again: {earlier.number}"


def test_only_an_order_that_ended_without_a_result_is_planned_again():
    work = order()
    with pytest.raises(WorkOrderError, match="only an order that was called off"):
        work_order_again(earlier=work, contractor=contractor(), by="p", at=AT)


def test_the_form_takes_over_the_run_and_asks_anew_what_changes_with_time(client):
    earlier = called_off(length_ft=41.0)
    earlier.line.system_nominal_in = earlier.line.customer_nominal_in = 0.625
    earlier.line.save()
    client.force_login(user("manager", "Program manager"))
    assert "Plan it again" in client.get(f"/work/orders/{earlier.pk}/").content.decode()
    form = client.get(f"/work/orders/{earlier.pk}/again/").context["form"]
    assert form.initial["length_ft"] == 41.0
    assert form.initial["old_nominal_in"] == 0.625, "what was found counts, not the old order"
    assert "other_lines_looked_for_on" not in form.initial

    sent = {n: v for n, v in form.initial.items() if v not in (None, "", [])}
    sent["contractor"] = earlier.contractor_id
    answer = client.post(f"/work/orders/{earlier.pk}/again/", sent)
    again = earlier.line.work_orders.latest("pk")
    assert answer.url == f"/work/orders/{again.pk}/"
    assert again.nearby_lines.count() == 1
    page = client.get(f"/work/orders/{earlier.pk}/").content.decode()
    assert "Plan it again" not in page, "the line has an open order now"
