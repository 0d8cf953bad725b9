"""The replacement plan that the public reads: only a published one, in both languages' pages."""

import pytest
from django.urls import reverse

from program.operations.plan_documents import plan_document_freeze, plan_document_publish
from tests.program.operations.factories import NOW, TODAY, standing_town

pytestmark = pytest.mark.django_db
FACTS = "program.operations.plan_documents.plan_document_facts"


@pytest.fixture(autouse=True)
def _town():
    standing_town()


def frozen(monkeypatch):
    from program.queries.plan_document import plan_document_facts

    monkeypatch.setattr(FACTS, lambda *of: plan_document_facts(*of) | {"missing": []})
    return plan_document_freeze(as_of=TODAY, what_changed="", by="compliance", at=NOW)


@pytest.mark.parametrize(("language", "words"), [("en", "The replacement plan"), ("es", "El plan")])
def test_it_is_offered_once_it_is_published_and_not_before(client, monkeypatch, language, words):
    page = reverse("public:download", args=[language])
    document = frozen(monkeypatch)
    assert client.get(reverse("public:plan")).status_code == 404
    assert words not in client.get(page).content.decode()
    plan_document_publish(document=document, by="compliance", at=NOW)
    assert words in client.get(page).content.decode()
    answer = client.get(reverse("public:plan"))
    assert answer.status_code == 200
    assert b"".join(answer.streaming_content).startswith(b"%PDF")
