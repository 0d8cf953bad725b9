"""A record that was given back opens as it was handed in, and what is to be mended is marked."""

import pytest
from django.urls import reverse

from replacements.forms.completions import CompletionForm, ReviewForm
from replacements.models import CompletionRecord
from replacements.operations.completions import CompletionError, completion_take_back
from tests.replacements.factories import (
    REVIEW,
    contractor,
    good_quality,
    handed_in,
    order,
    pull,
    started,
    user,
)

pytestmark = pytest.mark.django_db
WHOLE = {
    "points_seen": {"SYSTEM": 2, "CUSTOMER": 0}, "found_in": {"CUSTOMER": 0.75},
    "returned_to_service_on": "2028-04-10",
}  # fmt: skip


def moment():
    """Return the moment of everything that is posted."""
    return REVIEW


@pytest.fixture(autouse=True)
def clock(settings):
    settings.NOW, settings.TODAY = f"{__name__}.moment", ""


@pytest.fixture
def company():
    return contractor()


@pytest.fixture
def record(company):
    work = started(order(company))
    made = pull(work)
    return handed_in(work, pull=made, quality=good_quality() | WHOLE, note="Two taps.")


@pytest.fixture
def crew(client, company):
    client.force_login(user("crew", "Contractor", company))
    return client


def untouched(form) -> dict:
    """Return what a browser sends of a form as it opens; nothing of a box that is not ticked."""
    sent = {field.html_name: field.value() for field in form}
    return {
        name: getattr(value, "pk", value)
        for name, value in sent.items()
        if value is not None and value is not False and not name.startswith("photo_")
    }


def given_back(client, record, **more):
    client.force_login(user("reviewer", "Compliance staff"))
    client.post(reverse("review", args=[record.pk]), {"return": "1", **more})


def test_a_returned_record_handed_in_untouched_says_the_same_again(client, company, record):
    given_back(client, record, reasons="Look again.")
    client.force_login(user("crew", "Contractor", company))
    address = reverse("work_order_completion", args=[record.work_order_id])
    sent = untouched(client.get(address).context["form"])
    client.post(address, sent | {"kept": [p.pk for p in record.photos.all()], "despite": "1"})
    again = CompletionRecord.objects.get(revision=2)
    same = "outcome finished_on note system_found customer_found system_replaced length_ft pull"
    for name in [*same.split(), "customer_replaced", "method_used", "system_material_after"]:
        assert getattr(again, name) == getattr(record, name), name
    assert again.quality == record.quality
    assert set(again.photos.all()) == set(record.photos.all())


def test_the_reviewers_words_stand_beside_what_is_to_be_mended(client, company, record):
    fields = ReviewForm().beside
    parts = {
        fields["New pipe at the house"].name: "Another house number.",
        fields["Test and depth"].name: "Which gauge?",
    }
    given_back(client, record, **parts)
    record.refresh_from_db()
    assert record.review.mend == {
        "New pipe at the house": "Another house number.", "Test and depth": "Which gauge?"
    }  # fmt: skip
    assert "Another house number." in record.review.reasons
    client.force_login(user("crew", "Contractor", company))
    page = client.get(reverse("work_order_completion", args=[record.work_order_id])).content
    group = page.decode().split("<summary>")
    folded = page.decode().split("<details class=")
    opened = [part.split("<summary>")[1].split("<")[0] for part in folded if "open>" in part[:20]]
    assert opened == ["Test and depth", "Photos"]
    assert "Which gauge?" in next(part for part in group if part.startswith("Test and depth"))
    photo = next(part for part in group if part.startswith("Photos")).split('<div class="field')
    (marked,) = [part for part in photo if "Another house number." in part]
    assert "New pipe at the house" in marked


def test_a_crew_takes_its_record_back_until_the_review_begins(crew, record):
    work = record.work_order
    where = reverse("completion_take_back", args=[work.pk])
    assert "Take it back" in crew.get(reverse("work_order", args=[work.pk])).content.decode()
    opened = crew.post(where, follow=True)
    work.refresh_from_db()
    assert work.state == "RELEASED"
    assert opened.context["form"].initial["note"] == "Two taps."
    assert "Nothing is handed in" not in opened.content.decode()
    again = crew.post(where, follow=True).content.decode()  # twice
    assert "released to the contractor" in again
    sent = untouched(opened.context["form"])
    crew.post(reverse("work_order_completion", args=[work.pk]), sent | {"despite": "1"})
    assert work.completions.get(revision=2).note == "Two taps."


def test_what_somebody_looks_at_is_not_taken_back(client, company, record):
    client.force_login(user("reviewer", "Compliance staff"))
    client.get(reverse("review", args=[record.pk]))
    with pytest.raises(CompletionError, match="reviewer has begun the review"):
        completion_take_back(completion=record, by="crew", at=REVIEW)
    client.force_login(user("crew", "Contractor", company))
    page = client.post(reverse("completion_take_back", args=[record.work_order_id]), follow=True)
    assert "reviewer has begun the review" in page.content.decode()
    record.work_order.refresh_from_db()
    assert record.work_order.state == "HANDED_IN"


def test_another_company_takes_nothing_back(client, record):
    client.force_login(user("others", "Contractor", contractor()))
    where = reverse("completion_take_back", args=[record.work_order_id])
    assert client.post(where).status_code == 404


def test_a_record_without_stops_is_handed_in_at_once(crew, company):
    work = started(order(company))
    made = pull(work)
    record = handed_in(work, pull=made)
    crew.post(reverse("completion_take_back", args=[work.pk]))
    address = reverse("work_order_completion", args=[work.pk])
    sent = untouched(crew.get(address).context["form"])
    kept = [p.pk for p in record.photos.all()]
    assert crew.post(address, sent | {"kept": kept}).status_code == 302
    assert work.completions.count() == 2


def test_a_photo_of_another_company_is_not_kept_by_its_number(crew, company, record):
    strange = handed_in(order(contractor())).photos.first()
    crew.post(reverse("completion_take_back", args=[record.work_order_id]))
    address = reverse("work_order_completion", args=[record.work_order_id])
    sent = untouched(crew.get(address).context["form"])
    crew.post(address, sent | {"kept": [strange.pk], "despite": "1"})
    assert strange not in record.work_order.completions.get(revision=2).photos.all()


def test_of_several_pulls_the_accepted_one_is_offered_and_each_is_told_in_words(company):
    work = started(order(company))
    good = pull(work)
    over = pull(work, "Time (s),Force (lbf),Distance (ft)\n" + "".join(
        f"{n},5000,{n / 2}\n" for n in range(70)
    ))  # fmt: skip
    assert (good.verdict, over.verdict) == ("ACCEPT", "REJECT")
    form = CompletionForm.of(work, None, over.pulled_on)
    assert form.initial["pull"] == good
    told = [label for _, label in form.fields["pull"].choices]
    assert told == [
        "none",
        "Apr 10, 2028, pull.csv, 5,000 lb at most: rejected",
        f"Apr 10, 2028, pull.csv, {good.peak_lbf:,.0f} lb at most: accepted by its figures",
    ]
