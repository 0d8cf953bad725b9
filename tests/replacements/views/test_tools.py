"""A tool's form by kind, its label and photo, and how it goes out of use and back."""

from io import BytesIO

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.urls import reverse
from pypdf import PdfReader

from replacements.domain.tool_strings import MEASURES, NEEDED, Kind
from replacements.forms.tools import ComponentForm, measures_of
from replacements.models import Component, ToolStringRecord
from replacements.operations.tools import component_add
from tests.replacements.api.test_api import jpeg
from tests.replacements.factories import AT, contractor, order, string, user
from tests.services_inventory.factories import line_of

pytestmark = pytest.mark.django_db


@pytest.fixture
def company():
    return contractor("Quarry Lane Underground")


@pytest.fixture
def crew(client, company):
    client.force_login(user("crew", "Contractor", company))
    return client


def page(answer) -> str:
    return " ".join(answer.content.decode().split())


def asked(form) -> set[str]:
    return {field.name for field, _, shown in form.parts if shown}


def blade(company, mark="B-7", **dimensions) -> Component:
    return component_add(
        contractor=company, kind="BLADE", mark=mark, dimensions=dimensions, by="crew", at=AT
    )


@pytest.mark.parametrize("kind", list(Kind))
def test_a_kind_is_asked_for_what_its_checks_need_and_for_no_other_kinds_measures(kind):
    form = ComponentForm(initial={"kind": kind.value})
    assert set(NEEDED[kind]) <= set(MEASURES[kind]) <= asked(form)
    assert ("breaking_force_lbf" in asked(form)) == (kind is Kind.CABLE)
    assert ("grip" in asked(form)) == (kind is Kind.PIPE_PULLER)
    assert len(asked(form)) <= 16


def test_sizes_are_typed_as_people_write_them_and_what_another_kind_has_is_refused(crew, company):
    typed = {"kind": "BLADE", "mark": "B-1", "outside_in": "1 3/8", "pilot_in": "17.5 mm",
             "length_in": '3"', "fits_old_in": "5/8, 3/4 in, 1"}  # fmt: skip
    refused = page(crew.post(reverse("component_new"), typed | {"breaking_force_lbf": "14400"}))
    assert "A blade has none" in refused
    assert 'value="1 3/8"' in refused and 'value="14400"' in refused
    assert "no length" in page(crew.post(reverse("component_new"), typed | {"pilot_in": "big"}))
    assert crew.post(reverse("component_new"), typed).status_code == 302
    made = Component.objects.get()
    assert made.dimensions == {"outside_in": 1.375, "pilot_in": 0.689, "length_in": 3.0,
                               "fits_old_in": [0.625, 0.75, 1.0]}  # fmt: skip
    told = dict(measures_of(made))
    assert told["Outside diameter"] == "1-3/8 in."
    assert told["Fits old pipe"] == "5/8 in., 3/4 in., 1 in."


def test_without_a_script_another_kinds_fields_are_shown_and_what_was_typed_stays(crew, company):
    typed = {"kind": "CABLE", "mark": "C-1", "length_ft": "100", "swap": "yes"}
    shown = page(crew.post(reverse("component_new"), typed))
    assert 'value="C-1"' in shown and "Component" not in shown
    assert '<fieldset class="bare" data-kinds="CABLE ROD">' in shown
    assert "7x19 galvanized" in shown and "Swaged socket on IWRC rope" in shown
    assert not Component.objects.exists()


def test_a_correction_shows_what_is_stored_though_its_kind_has_it_not(crew, company):
    odd = blade(company, outside_in=1.375, length_ft=3)
    assert "length_ft" in asked(ComponentForm.of(odd))


def test_a_tool_goes_out_of_use_with_a_reason_and_comes_back_with_one(crew, company):
    tool = blade(company, outside_in=1.375)
    address = reverse("component", args=[tool.pk])
    crew.post(address, {"reason": " "})
    tool.refresh_from_db()
    assert tool.retired_on is None
    crew.post(address, {"reason": "cracked at the weld"})
    shown = page(crew.get(address))
    assert "Put B-7 back into use" in shown and "cracked at the weld" in shown
    crew.post(address, {"reason": "it was B-8 that cracked"})
    tool.refresh_from_db()
    assert tool.retired_on is None
    shown = page(crew.get(address))
    assert "Retired: cracked at the weld" in shown
    assert "Put back into use: it was B-8 that cracked" in shown


def test_a_photo_is_kept_and_shown_and_no_paper_passes_for_one(crew, company):
    tool = blade(company)
    act = reverse("component_act", args=[tool.pk, "photo"])
    crew.post(act, {"photo": SimpleUploadedFile("a.pdf", b"%PDF-1.4 x")})
    tool.refresh_from_db()
    assert tool.photo_id is None
    crew.post(act, {"photo": SimpleUploadedFile("a.jpg", jpeg())})
    tool.refresh_from_db()
    assert f'src="{reverse("work_document", args=[tool.photo_id])}"' in page(
        crew.get(reverse("component", args=[tool.pk]))
    )


def test_labels_are_printed_of_ones_own_tools_in_use(crew, company):
    own, theirs = blade(company), blade(contractor(), mark="THEIRS-1")
    for number in range(31):
        blade(company, mark=f"S-{number}")
    read = PdfReader(BytesIO(crew.get(reverse("component_labels")).content))
    words = " ".join(sheet.extract_text() for sheet in read.pages)
    assert len(read.pages) == 2
    assert own.code in words and theirs.code not in words
    one = crew.get(reverse("component_labels"), {"tool": own.pk}).content
    assert own.code in PdfReader(BytesIO(one)).pages[0].extract_text()
    none = crew.get(reverse("component_labels"), {"tool": theirs.pk}).content
    assert "no tool in use" in PdfReader(BytesIO(none)).pages[0].extract_text()


def test_codes_fill_the_rows_of_their_kinds(crew, company):
    other = string(order(company, joints=[]))
    parts = [part.component for part in other.parts.order_by("position")]
    second = order(company, line_of("LEAD", "LEAD"), joints=[])
    address = reverse("work_order_string", args=[second.pk])
    shown = crew.get(address)
    assert "camera=(self)" in shown["Permissions-Policy"]
    assert "camera=()" in crew.get(reverse("component_list"))["Permissions-Policy"]
    spare = next(tool for tool in parts if tool.kind == "BLADE")
    twin = component_add(contractor=company, kind="BLADE", mark="B-9", by="crew", at=AT,
                         dimensions=spare.dimensions)  # fmt: skip
    chosen = {f"part_{row}": tool.pk for row, tool in enumerate(parts, start=1)}
    seen = {"pulled_end": "THICK", "blade_facing": "FLAT_TO_OLD_PIPE"}
    wrong = page(crew.post(address, chosen | seen | {"codes": f"{twin.code[:-1]}?"}))
    assert "no code of a tool" in wrong
    made = ToolStringRecord.objects.count()
    crew.post(address, chosen | seen | {"codes": twin.code.lower().replace("-", "")})
    assert ToolStringRecord.objects.count() == made + 1
    recorded = [
        p.component for p in ToolStringRecord.objects.latest("pk").parts.order_by("position")
    ]
    assert recorded == [twin if tool == spare else tool for tool in parts]
