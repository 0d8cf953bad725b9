"""How many queries the main pages make, against what they made when it was last written down."""

import json
import os
from pathlib import Path

from django.db import connection
from django.test.utils import CaptureQueriesContext

from tests.access_walk import addresses, filled

KEPT = Path(__file__).with_name("page_queries.json")
AT_MOST = 30
# Who opens which of the main pages: the letters of `access_table`.
MAIN = (
    *("M board", "P board", "A board", "C board", "M line", "M line_list", "M neighborhood_list"),
    *("M conflict_list", "M batch_list", "M work_order", "C work_order_list", "M review_queue"),
    *("M learning_list", "M payments", "C phone_orders", "M rate", "M plan_list", "M plan"),
    *("M plan_document", "M deadline_list", "P notice_list", "P submission_list", "N public:start"),
)


class PageCosts:
    """A test of the town's pages."""

    def test_the_main_pages_ask_no_more_than_was_written_down(self):
        """Open each page twice, as the first opening fills caches; UPDATE_QUERY_COUNTS=1 writes."""
        patterns, asked = dict(addresses()), {}
        for page in MAIN:
            letter, name = page.split()
            path = filled(patterns[name], self.found)
            self.assertIn(self.clients[letter].get(path, follow=True).status_code, {200}, page)
            with CaptureQueriesContext(connection) as queries:
                self.clients[letter].get(path, follow=True)
            asked[page] = len(queries)
        if os.environ.get("UPDATE_QUERY_COUNTS"):
            KEPT.write_text(json.dumps(asked, indent=2) + "\n", encoding="utf-8")
        kept = json.loads(KEPT.read_text(encoding="utf-8"))
        more = {page: (kept.get(page), number) for page, number in asked.items()
                if number > kept.get(page, 0)}  # fmt: skip
        assert not more, f"more queries than written down (kept, now): {more}"
        assert max(kept.values()) <= AT_MOST
