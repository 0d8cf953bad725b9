"""Views of lists that people keep by name."""

import pytest
from django.urls import reverse

from program.models import KeptView
from program.operations.kept_views import view_keep, view_let_go
from services_inventory.refused import Refused

LINES = reverse("line_list")


@pytest.fixture
def clerk(django_user_model):
    return django_user_model.objects.create_superuser("clerk")


def test_a_view_is_kept_opened_marked_and_let_go(client, clerk):
    client.force_login(clerk)
    asked = {"path": LINES, "query": "category=LEAD&q=&after=12", "name": " Lead  only "}
    opened = client.post(reverse("kept_view_new"), asked)
    assert opened.url == f"{LINES}?category=LEAD"
    page = client.get(opened.url).content.decode()
    assert 'aria-current="true">Lead only</a>' in page
    assert "Keep this view" not in client.get(LINES).content.decode()
    kept = KeptView.objects.get()
    gone = client.post(reverse("kept_view_end", args=[kept.pk]), follow=True)
    assert not KeptView.objects.exists()
    assert gone.request["QUERY_STRING"] == "category=LEAD"  # so that it can be kept again
    assert "Lead only is no longer kept." in gone.text and "Keep this view" in gone.text


def test_one_of_the_same_name_takes_its_place(clerk):
    view_keep(user=clerk, path=LINES, query="category=LEAD", name="Mine")
    assert not view_keep(user=clerk, path=LINES, query="category=GRR", name="Mine")[1]
    assert KeptView.objects.get().query == "category=GRR"


def test_nobody_lets_anothers_view_go(clerk, django_user_model):
    other = django_user_model.objects.create_user("other")
    kept, _ = view_keep(user=clerk, path=LINES, query="category=LEAD", name="Mine")
    assert view_let_go(user=other, pk=kept.pk) is None
    assert KeptView.objects.exists()


def test_a_name_given_twice_is_said_and_a_refusal_leads_back_to_the_list_alone(client, clerk):
    client.force_login(clerk)
    for query, said in (("category=LEAD", "Kept as Mine."), ("category=GRR", "was kept before")):
        asked = {"path": LINES, "query": query, "name": "Mine"}
        assert said in client.post(reverse("kept_view_new"), asked, follow=True).text
    nameless = {"path": LINES, "query": "category=LEAD", "name": " "}
    assert client.post(reverse("kept_view_new"), nameless).url == f"{LINES}?category=LEAD"
    away = {"path": "//elsewhere.example/", "query": "q=1", "name": "Mine"}
    assert client.post(reverse("kept_view_new"), away).url == reverse("board")


@pytest.mark.parametrize(
    ("path", "query", "name", "said"),
    [
        (LINES, "category=LEAD", "  ", "Name the view"),
        (LINES, "category=LEAD", "x" * 61, "1 to 60"),
        (LINES, "q=&after=9", "All", "whole list"),
        (LINES, "q=" + "x" * 2000, "Long", "too long"),
        ("//elsewhere.example/", "q=1", "Away", "lists with filters"),
        (reverse("own_account"), "q=1", "Mine", "lists with filters"),
    ],
)
def test_what_is_no_view_is_refused_in_a_sentence(path, query, name, said, clerk):
    with pytest.raises(Refused, match=said):
        view_keep(user=clerk, path=path, query=query, name=name)
    assert not KeptView.objects.exists()
