"""Public pages: found by address however it is spelled, true, and without anything private.

Constructed cases.
"""

from datetime import date, timedelta

import pytest
import shapely
from django.core.cache import cache
from django.test import Client
from django.urls import reverse

from program.models import NoticeSlot, Plan, PlanArea, PlanAreaLine, PlanDocument, Utility
from services_inventory.domain.addresses import normalize
from services_inventory.models import Premise, PremiseChange
from services_inventory.operations.evidence import evidence_record
from tests.replacements.factories import user
from tests.services_inventory.factories import MORNING, line_of, neighborhood

pytestmark = pytest.mark.django_db


@pytest.fixture(autouse=True)
def _fresh_cache():
    cache.clear()


@pytest.fixture
def utility():
    return Utility.objects.create(
        name="Quillwater Water", pwsid="ZZ0000001", phone="555-0100", state="ZZ",
        clock_stands_at=date(2028, 3, 10),
    )  # fmt: skip


def at_address(system, customer, address, **values):
    line = line_of(system, customer, address=address, **values)
    read = normalize(address)
    Premise.objects.filter(pk=line.premise_id).update(
        address_key=read.key, street_key=read.street_key, house_number=int(read.number)
    )
    return line


def url(name, language="en", **kwargs):
    return reverse(f"public:{name}", kwargs={"language": language, **kwargs})


@pytest.mark.parametrize(
    "typed", ["12 Mill St", "12 mill street", "12  MILL  Street,  Quillwater", "12 Mill St."]
)
def test_an_address_is_found_however_it_is_spelled(client, utility, typed):
    line = at_address("LEAD", "COPPER", "12 Mill Street")
    answer = client.get(url("start"), {"q": typed})
    assert answer.status_code == 302
    assert answer.url == url("line", location_id=line.location_id)


@pytest.mark.parametrize(
    "typed",
    ["12 Mil", "12 Mil Street", "12 Spindel St", "12 Spindle", "12 mill st quillwater zz 69011",
     "12 Mil Stret", "12 spindel stret"],
)  # fmt: skip
def test_suggestions_forgive_unfinished_and_misspelled_streets(client, utility, typed):
    at_address("LEAD", "COPPER", "12 Mill Street")
    at_address("LEAD", "COPPER", "12 Spindle Street")
    at_address("LEAD", "COPPER", "14 Mill Street")
    found = client.get(reverse("public:suggest"), {"q": typed}).json()["places"]
    wanted = "12 Spindle Street" if "sp" in typed.lower() else "12 Mill Street"
    assert found[0]["label"] == wanted
    assert all(place["label"].startswith("12 ") for place in found)


def test_a_line_is_found_by_one_question(client, utility, django_assert_num_queries):
    line = at_address("LEAD", "COPPER", "12 Mill Street")
    named = at_address("LEAD", "COPPER", "14 Mill Street", location_id="12 Mill St")
    for typed, found in (("12 MILL STREET", line), ("12 Mill St", named)):
        with django_assert_num_queries(1):
            answer = client.get(url("start"), {"q": typed})
        assert answer.url == url("line", location_id=found.location_id)  # its identifier first
        assert "no-cache" in answer.headers["Cache-Control"]


def test_no_line_there_says_what_to_do(client, utility):
    page = client.get(url("start"), {"q": "9999 Nowhere <script>"})
    assert "We found no line" in page.text and "<script>" not in page.text


def test_the_answer_is_in_plain_words_with_its_day(client, utility):
    line = at_address("LEAD", "COPPER", "12 Mill Street")
    page = client.get(url("line", location_id=line.location_id))
    assert page.status_code == 200
    for words in ("Some part of this pipe is made of lead", "Mar 10, 2028", "My line is wrong"):
        assert words in page.text
    spanish = client.get(url("line", "es", location_id=line.location_id))
    assert 'lang="es"' in spanish.text and "Some part of this pipe" not in spanish.text
    assert spanish.headers["Content-Language"] == "es"


def test_an_unknown_identifier_is_not_found(client, utility):
    assert client.get(url("line", location_id="T-0/../x")).status_code == 404


def test_with_identifiers_instead_of_addresses_no_address_is_anywhere(client, utility):
    Utility.objects.update(publish_addresses=False)
    line = at_address("LEAD", "COPPER", "12 Mill Street")
    Premise.objects.update(latitude=41.123456, longitude=-100.654321)
    shown = [
        client.get(url("line", location_id=line.location_id)).text,
        client.get(url("start"), {"q": "12 Mill Street"}).text.replace('value="12 Mill', ""),
        b"".join(client.get(reverse("public:csv")).streaming_content).decode(),
        b"".join(client.get(reverse("public:geojson")).streaming_content).decode(),
        client.get(reverse("public:points"), {"box": "-101,41,-100,42"}).text,
        client.get(reverse("public:suggest"), {"q": "12 Mill"}).text,
        client.get(reverse("ogc:items", args=["service_lines"])).text,
    ]
    assert not [text for text in shown if "Mill Street<" in text or '"12 Mill' in text]
    assert not [text for text in shown if "41.1234" in text]
    assert line.location_id in shown[2] and "41.123" in shown[2]


def test_points_in_view_are_those_of_the_box(client, utility):
    at_address("LEAD", "COPPER", "12 Mill Street", in_neighborhood=neighborhood())
    found = client.get(reverse("public:points"), {"box": "-101,41,-100,42"}).json()
    assert [f["properties"]["category"] for f in found["features"]] == ["LEAD"]
    assert client.get(reverse("public:points"), {"box": "1,1,2,2"}).json()["features"] == []
    assert client.get(reverse("public:points"), {"box": "x"}).status_code == 400


def test_pages_may_be_kept_by_caches_and_forms_may_not(client, utility):
    assert "public" in client.get(url("start")).headers["Cache-Control"]
    assert "no-store" in client.get(url("tell_us")).headers["Cache-Control"]


def test_a_page_is_kept_until_the_record_changes_and_is_the_same_for_staff(
    client, utility, django_assert_num_queries
):
    line = at_address("LEAD", "COPPER", "12 Mill Street")
    page = url("line", location_id=line.location_id)
    first = client.get(page)
    with django_assert_num_queries(1):
        again = client.get(page)
    assert again.content == first.content
    asked = {"Vary": "", "X-Request-ID": ""}  # of the question, not of the page
    assert {**again.headers, **asked} == {**first.headers, **asked}
    assert "Accept-Language" in again.headers["Vary"]
    staff = Client()
    staff.force_login(user("pat", "Program manager"))
    cache.clear()
    assert staff.get(page).content == first.content
    evidence_record(line=line, portion="CUSTOMER", material="PLASTIC", basis="EXCAVATION", by="m",
                    points_seen=1, observed_on=MORNING.date(), recorded_at=MORNING)  # fmt: skip
    assert "lastic" in client.get(page).text and "lastic" not in first.text
    Utility.objects.update(phone="555-0199")
    assert "555-0199" in client.get(page).text


def test_what_is_recorded_of_one_line_drops_no_page_of_another(
    client, utility, django_assert_num_queries
):
    line = at_address("UNKNOWN", "UNKNOWN", "12 Mill Street")
    other = at_address("UNKNOWN", "UNKNOWN", "14 Mill Street")
    its, anothers = (url("line", location_id=one.location_id) for one in (line, other))
    suggested = f"{reverse('public:suggest')}?q=12+Mill"
    before = {page: client.get(page) for page in (its, anothers, suggested)}
    seen = {"basis": "EXCAVATION", "by": "m", "points_seen": 1, "observed_on": MORNING.date(),
            "recorded_at": MORNING}  # fmt: skip
    evidence_record(line=line, portion="SYSTEM", material="LEAD", **seen)
    for page in (anothers, suggested):
        with django_assert_num_queries(1):
            assert client.get(page).content == before[page].content
    assert "cat-UNKNOWN" in before[its].text and "cat-LEAD" in client.get(its).text


def test_nobody_reads_what_is_no_longer_recorded(client, utility):
    here = neighborhood(boundary_wkb=shapely.box(-101, 41, -100, 42).wkb)
    line = at_address("UNKNOWN", "UNKNOWN", "12 Mill Street", in_neighborhood=here)
    pages = [url("line", location_id=line.location_id), url("start"), url("map")]
    pages += [reverse("public:areas"), f"{reverse('public:points')}?box=-180,-90,180,90"]
    before = [client.get(page).text for page in pages]
    evidence_record(line=line, portion="SYSTEM", material="LEAD", basis="EXCAVATION", by="m",
                    points_seen=1, observed_on=MORNING.date(), recorded_at=MORNING)  # fmt: skip
    told = [client.get(page).text for page in pages]
    cache.clear()
    assert told == [client.get(page).text for page in pages]
    assert [
        page for page, one, other in zip(pages, before, told, strict=True) if one == other
    ] == []
    Premise.objects.filter(pk=line.premise_id).update(address="12 Mill Lane")
    PremiseChange.objects.create(premise=line.premise, recorded_at=MORNING, recorded_by="m")
    assert "Mill Lane" in client.get(pages[0]).text
    for page in pages[:2]:  # a browser asks each time; of the rest it may be five minutes behind
        assert "no-cache" in client.get(page).headers["Cache-Control"]
    assert "max-age=300" in client.get(pages[2]).headers["Cache-Control"]


def test_too_many_requests_are_refused_with_a_sentence(client, utility, monkeypatch):
    monkeypatch.setattr("services_inventory.asked_often.time", lambda: 1_000_000.0)
    answers = [client.get(url("start")).status_code for _ in range(61)]
    assert answers[:60] == [200] * 60 and answers[60] == 429
    refused = client.get(url("start"))
    assert refused.headers["Retry-After"] == "60" and "try again" in refused.text


def test_the_home_leads_to_the_readers_language(client, utility):
    answer = client.get(reverse("public:home"), headers={"accept-language": "es-MX,es;q=0.9"})
    assert answer.url == url("start", "es")
    assert client.get(reverse("public:home")).url == url("start")


@pytest.mark.parametrize("name", ["start", "map", "categories", "download", "tell_us", "thanks"])
@pytest.mark.parametrize("language", ["en", "es"])
def test_every_page_opens_for_anybody(client, utility, name, language):
    page = client.get(url(name, language))
    assert page.status_code == 200 and page.text.count("<h1>") == 1
    assert f'<html lang="{language}">' in page.text


def test_a_misspelled_street_offers_no_street_that_is_unlike_it(client, utility):
    for street in ("Weaver", "Plover", "Alder", "Otter"):
        at_address("LEAD", "COPPER", f"197 {street} St")
    found = client.get(reverse("public:suggest"), {"q": "197 Weever Street"}).json()["places"]
    assert [place["label"] for place in found] == ["197 Weaver St"]


def test_a_number_that_is_not_there_offers_its_neighbors(client, utility):
    for number in (8, 10, 300):
        at_address("LEAD", "COPPER", f"{number} Mill St")
    found = client.get(reverse("public:suggest"), {"q": "11 mill street"}).json()["places"]
    assert [place["label"] for place in found] == ["10 Mill St", "8 Mill St"]


def test_a_number_far_off_offers_the_nearest_on_the_street(client, utility):
    for number in (300, 310):
        at_address("LEAD", "COPPER", f"{number} Mill St")
    found = client.get(reverse("public:suggest"), {"q": "11 mill street"}).json()["places"]
    assert [place["label"] for place in found] == ["300 Mill St", "310 Mill St"]


def test_a_street_alone_lists_its_first_houses(client, utility):
    for number in (8, 10):
        at_address("LEAD", "COPPER", f"{number} N Mill St")
    found = client.get(reverse("public:suggest"), {"q": "mill"}).json()["places"]
    assert [place["label"] for place in found] == ["8 N Mill St", "10 N Mill St"]


@pytest.mark.parametrize(
    ("system", "customer", "words"),
    [
        ("COPPER", "UNKNOWN", "what our side of this pipe is made of: copper"),
        ("UNKNOWN", "PLASTIC", "what your side of this pipe is made of: plastic"),
        ("UNKNOWN", "UNKNOWN", "No good record says what all of this pipe is made of"),
    ],
)
def test_an_unknown_line_agrees_with_what_is_known_of_each_side(
    client, utility, system, customer, words
):
    line = at_address(system, customer, "12 Elm St")
    page = client.get(url("line", location_id=line.location_id)).content.decode()
    assert words in page and "Nobody has seen" not in page
    for kind in ("PIPE_PHOTO", "OWNER_PLANS", "WATER_TEST"):
        assert f"kind={kind}" in page
    assert "Do not dig" in page


@pytest.mark.parametrize(
    ("language", "words"), [("en", "This link leads nowhere"), ("es", "no lleva a ninguna parte")]
)
def test_a_stale_link_gets_a_public_page_in_its_language(client, utility, language, words):
    answer = client.get(url("line", language, location_id="GONE-1"))
    page = answer.content.decode()
    assert answer.status_code == 404
    assert words in page and "board" not in page
    assert url("start", language) in page


def test_the_page_tells_for_each_side_how_we_know_and_on_which_day(client, utility):
    line = at_address("LEAD", "UNKNOWN", "12 Mill Street")
    page = client.get(url("line", location_id=line.location_id)).text
    assert "We looked at it" in page and "Feb 1, 2028" in page
    evidence_record(
        line=line, portion="CUSTOMER", material="COPPER", basis="RECORD_PERMIT",
        by="clerk", recorded_at=MORNING,
    )  # fmt: skip
    cache.clear()
    assert "From a record of the water system" in client.get(page_of(line)).text


def page_of(line):
    return url("line", location_id=line.location_id)


def test_streets_and_lines_tell_their_planned_year_only_by_the_public_plan(client, utility):
    line = at_address("LEAD", "COPPER", "12 Mill Street")
    Premise.objects.update(street_key="MILL ST")
    plan = Plan.objects.create(
        name="P", state="ADOPTED", drawn_on=date(2028, 3, 1), drawn_by="m", drawn_at=MORNING,
        adopted_by="m", adopted_at=MORNING,
    )  # fmt: skip
    area = PlanArea.objects.create(plan=plan, key="a", name="Mill", jobs=1, program_year=3)
    PlanAreaLine.objects.create(plan=plan, area=area, line=line)
    assert client.get(url("streets")).status_code == 404
    assert "Planned to be replaced by" not in client.get(page_of(line)).text
    document = PlanDocument.objects.create(
        number=1, as_of=date(2028, 3, 2), facts={}, path="p.pdf", sha256="0" * 64, bytes=1,
        pages=1, frozen_by="m", frozen_at=MORNING, published_by="m", published_at=MORNING,
    )  # fmt: skip
    cache.clear()
    shown = client.get(url("streets"), {"q": "mill street"}).text
    assert "Mill St" in shown and "2030" in shown  # program year 3 ends with 2030
    assert "Dec 31, 2030" in client.get(page_of(line)).text
    Plan.objects.update(adopted_at=document.frozen_at + timedelta(days=1))
    assert client.get(url("streets")).status_code == 404  # another plan than the one published


def test_the_agencys_own_steps_stand_under_ours_where_staff_filled_them_in(client, utility):
    line = at_address("LEAD", "COPPER", "12 Mill Street")
    NoticeSlot.objects.create(
        kind="ALL", slot="reduce_exposure", language="en", text="Agency steps.",
        taken_from="Handbook, p. 4", filled_by="clerk", filled_at=MORNING,
    )  # fmt: skip
    page = client.get(page_of(line)).text
    assert "Agency steps." in page and "Handbook, p. 4" in page and "U.S. EPA" in page
