"""Every address, visited as every role and as nobody: open to whom it should be, to nobody else.

The list of addresses comes from the program itself. An address that is not in the table, or a
row whose address is gone, fails the test, so nothing is added without saying who may open it.
Things of one contractor are also asked for by the other, who must not learn that they exist.
"""

import re
from collections.abc import Iterable

from program.queries.row_digests import rows_are_as_written
from program.queries.seals import seals_hold
from tests.access_table import TABLE
from tests.access_walk import TownTest, addresses, filled
from tests.api_sent import ApiSent
from tests.custody_shown import CustodyShown
from tests.forms_twice import FormsTwice
from tests.forms_typed import FormsTyped
from tests.junk_sent import JunkSent
from tests.links_followed import LinksFollowed
from tests.names_signed import NamesSigned
from tests.page_costs import PageCosts

REFUSALS = {401, 403, 404}


def who_opens(test: TownTest, path: str, asked: Iterable[str]) -> str:
    """Return the letters of those asked whom a GET lets in (N for nobody signed in)."""
    letters = ""
    for letter in asked:
        page = test.page(letter, path)
        letters += "!" if page.status >= 500 else ""
        to_sign_in = page.status == 302 and "/sign-in/" in page.led_to and path != "/sign-out/"
        if page.status not in REFUSALS and not to_sign_in:
            letters += letter
    return letters


class EveryAddressTest(
    ApiSent,
    NamesSigned,
    CustodyShown,
    JunkSent,
    PageCosts,
    LinksFollowed,
    FormsTyped,
    FormsTwice,
    TownTest,
):
    """The whole address list against the table, and every form of every page."""

    def test_every_address_is_open_to_whom_the_table_says_and_to_nobody_else(self):
        """Visit everything as everybody; what a visit writes is none of what is sealed."""
        self.pages.clear()  # so that what every visit writes is there for the seals to meet
        wrong = []
        for name, pattern in addresses():
            said = TABLE.get(name)
            asked = self.asked(said or "")
            opens = who_opens(self, filled(pattern, self.found), asked)
            if said is None or set(said) & asked != set(opens):
                wrong.append(f'    "{name}": "{opens}",  # said {said}')
        assert not wrong, "\n" + "\n".join(wrong)
        assert [*seals_hold(), *rows_are_as_written()] == []

    def test_the_table_names_no_address_that_is_gone(self):
        """Keep the table in step."""
        assert set(TABLE) <= {name for name, _ in addresses()}

    def test_no_list_of_a_contractor_shows_the_other_ones_work(self):
        """Read each list as one contractor and look for the other's numbers."""
        from replacements.models import WorkOrder

        others = set(
            WorkOrder.objects.filter(contractor__members__user__username="kestrel").values_list(
                "number", flat=True
            )
        )
        for name, pattern in addresses():
            if "C" in TABLE.get(name, "") and "<" not in pattern:
                answer = self.clients["C"].get("/" + pattern)
                body = b"".join(answer.streaming_content) if answer.streaming else answer.content
                numbers = set(re.findall(rb"(?<![A-Z])W-\d{6}(?!_)", body))
                seen = [number for number in others if number.encode() in numbers]
                assert not seen, f"/{pattern} shows {seen[0]} of another contractor"
