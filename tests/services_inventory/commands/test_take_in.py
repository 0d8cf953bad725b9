"""The commands as a person types them: what they print, and what they end with."""

import csv
import io
import json

import pytest
from django.core.management import CommandError, call_command

from services_inventory.models import Batch, Evidence, KnownFact, ServiceLine
from tests.services_inventory.operations.takes import ELM, HEADER, MILL, OAK, counted

pytestmark = pytest.mark.django_db
BAD = ("L9", "1 Pine St", "0", "0", "see card", "copper", "20255", "tap card")


@pytest.fixture
def file(tmp_path):
    """A CSV file of three good rows and a bad one."""
    path = tmp_path / "billing list.csv"
    with path.open("w", newline="", encoding="utf-8") as out:
        csv.writer(out).writerows([HEADER, MILL, OAK, ELM, BAD])
    return path


def said(*words, **options) -> str:
    """Run a command and return what it printed."""
    out = io.StringIO()
    call_command(*words, stdout=out, stderr=io.StringIO(), **options)
    return out.getvalue()


def test_json_is_the_counts_and_nothing_else(file):
    text = said("take_in", str(file), "--json")
    assert json.loads(text) == counted(new=3, held=1)
    assert list(json.loads(text)) == ["new", "changed", "unchanged", "held", "total"]
    assert text.count("\n") == 1
    assert json.loads(said("take_in", str(file), "--json")) == counted(unchanged=3, held=1)


def test_a_dry_run_counts_and_leaves_the_record_alone(file):
    assert json.loads(said("take_in", str(file), "--dry-run", "--json")) == counted(new=3, held=1)
    assert not ServiceLine.objects.exists() and not Evidence.objects.exists()
    assert not Batch.objects.exists()


def test_held_rows_come_back_as_a_file_that_can_be_mended_and_taken_in(file, tmp_path):
    text = said("take_in", str(file))
    path = text.rsplit(": ", 1)[1].strip()
    assert path.startswith(str(tmp_path / "held"))
    with open(path, newline="", encoding="utf-8") as held:
        header, row = csv.reader(held)
    assert tuple(header[:8]) == HEADER and tuple(row[:8]) == BAD
    assert "see card" in row[-1]
    mended = ("L9", "1 Pine St", "41.5", "-100.2", "lead", "copper", "1925", "tap card")
    with open(path, "w", newline="", encoding="utf-8") as held:
        csv.writer(held).writerows([header, (*mended, *row[8:])])
    assert json.loads(said("take_in", path, "--json")) == counted(new=1)


def test_a_column_map_from_a_file_is_used(file, tmp_path):
    columns = tmp_path / "columns.toml"
    columns.write_text(
        '[columns]\nlocation_id = "location id"\naddress = "address"\n'
        'customer_material = "system side material"\n',
        encoding="utf-8",
    )
    said("take_in", str(file), "--columns", str(columns), "--source", "tap card", "--json")
    line = ServiceLine.objects.get(location_id="L1")
    assert (line.system_material, line.customer_material) == ("UNKNOWN", "LEAD")
    assert line.evidence.get().basis == "RECORD_TAP_CARD"


@pytest.mark.parametrize(
    ("content", "words"),
    [
        (b"", "empty"),
        (b"location id,address\n", "no rows"),
        (b"\x00\x01\x02" * 900, "NUL byte"),
        (b"a,b\n1,2\n", "column"),
    ],
)
def test_a_file_that_cannot_be_used_ends_with_a_sentence(tmp_path, content, words):
    path = tmp_path / "odd.csv"
    path.write_bytes(content)
    with pytest.raises(CommandError, match=words):
        said("take_in", str(path), "--json")
    assert not ServiceLine.objects.exists()


def test_a_file_that_is_not_there(tmp_path):
    with pytest.raises(CommandError, match="can't be opened"):
        said("take_in", str(tmp_path / "none.csv"))


def test_restate_and_check_record_find_nothing_and_then_what_was_spoilt(file):
    said("take_in", str(file))
    assert json.loads(said("restate", "--json")) == {"lines": 3, "differences": 0, "changed": 0}
    assert "breach" not in said("check_record")
    ServiceLine.objects.filter(location_id="L1").update(category="NON_LEAD")
    with pytest.raises(SystemExit) as ended:
        said("check_record")
    assert ended.value.code == 1
    assert json.loads(said("restate", "--write", "--json"))["changed"] == 1
    assert json.loads(said("restate", "--json"))["differences"] == 0


def test_restate_afresh_trusts_no_code(file):
    said("take_in", str(file))
    lead, other = Evidence.objects.exclude(fact_code=None).order_by("id")[:2]
    assert lead.fact_code != other.fact_code
    Evidence.objects.filter(pk=lead.pk).update(fact_code=other.fact_code)
    out = io.StringIO()
    with pytest.raises(SystemExit) as ended:
        call_command("restate", "--json", "--afresh", stdout=out)
    assert ended.value.code == 1
    assert json.loads(out.getvalue()) == {
        "lines": 3, "differences": 1, "changed": 0, "codes": 1, "codes_wrong": 1,
    }  # fmt: skip
    lead.refresh_from_db()
    assert lead.fact_code not in (None, other.fact_code)
    assert "0 statements reduced anew" in said("restate", "--afresh")


def test_a_code_of_an_earlier_rule_is_replaced_and_is_no_difference(file):
    said("take_in", str(file))
    row = Evidence.objects.exclude(fact_code=None).first()
    KnownFact.objects.create(code=7, rule="of last year", statement=[])
    Evidence.objects.filter(pk=row.pk).update(fact_code=7)
    found = json.loads(said("restate", "--json", "--afresh"))
    assert (found["differences"], found["codes"], found["codes_wrong"]) == (0, 1, 0)
    assert json.loads(said("restate", "--json", "--afresh"))["codes"] == 0
