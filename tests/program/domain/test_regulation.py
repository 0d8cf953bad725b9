"""The program's own values: sound, used, explained, and at peace with the inventory's."""

import re
from datetime import date, timedelta
from pathlib import Path

import pytest

from program.domain.regulation import FOLDER, RULES, exact
from services_inventory.domain.regulation import inventory_rules, load

ROOT = Path(__file__).resolve().parents[3]
PAGE = (ROOT / "docs" / "rules" / "program.md").read_text(encoding="utf-8")
CODE = {
    path: path.read_text(encoding="utf-8") for path in (ROOT / "program" / "domain").rglob("*.py")
}
OWN = load(FOLDER)


def sections():
    """The page's text by rule id."""
    parts = re.split(r"^### ([A-Z0-9_]+)$", PAGE, flags=re.MULTILINE)[1:]
    return dict(zip(parts[::2], parts[1::2], strict=True))


def test_no_row_has_a_fault():
    assert OWN.check() == []
    assert RULES.check() == []


def test_no_id_is_kept_in_two_places():
    assert set(OWN.ids()) & set(inventory_rules().ids()) == set()


def test_every_id_is_explained_and_every_explanation_has_an_id():
    assert set(sections()) == set(OWN.ids())


def test_every_id_is_used():
    code = "\n".join(CODE.values())
    by_metal = {
        f"{metal}_{what}_UG_PER_L"
        for metal in ("LEAD", "COPPER")
        for what in ("ACTION_LEVEL", "DETECTION_UP_TO")
    }
    assert {rule_id for rule_id in OWN.ids() if f'"{rule_id}"' not in code} == by_metal
    assert 'f"{metal}_ACTION_LEVEL_UG_PER_L"' in code
    assert 'f"{metal}_DETECTION_UP_TO_UG_PER_L"' in code


def test_every_id_that_the_code_asks_for_exists():
    asked = set()
    for text in CODE.values():
        asked |= set(re.findall(r'(?:latest|get|value)\(\s*"([A-Z0-9_]+)"', text))
        asked |= set(re.findall(r'(?:after|on_day)\(\s*rules,\s*"([A-Z0-9_]+)"', text))
    assert len(asked) > 30
    assert asked <= set(RULES.ids())


@pytest.mark.parametrize("rule_id", OWN.ids())
def test_the_page_gives_the_value_its_citation_and_its_mark(rule_id):
    text = sections()[rule_id]
    for row in OWN.all(rule_id):
        assert row.summary in text
        assert f"{row.citation} ({row.mark}" in text
        if isinstance(row.value, int | str | date) and not isinstance(row.value, bool):
            assert f"`{row.value}`" in text


def test_the_lead_action_level_changes_on_the_compliance_date():
    change = RULES.latest("COMPLIANCE_DATE").value
    rule_id = "LEAD_ACTION_LEVEL_UG_PER_L"
    assert RULES.value(rule_id, change - timedelta(days=1)) == 15
    assert RULES.value(rule_id, change) == 10


def test_no_number_of_the_rule_stands_in_the_code():
    """Days, rates and levels that would be tempting to write down."""
    tempting = re.compile(r"\b(?:45|180|60|39|0\.10?|1300|2027|2028|2034|2037|100000|3300)\b")
    for path, text in CODE.items():
        bare = re.sub(r'"""[\s\S]*?"""', "", text)
        assert not tempting.search(re.sub(r"#.*", "", bare)), path.name


def test_a_number_is_taken_as_it_is_written():
    assert exact(0.1) * 10 == 1
    with pytest.raises(ValueError, match="counted"):
        exact("a tenth")
