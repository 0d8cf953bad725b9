"""The categories that a file gives its lines, beside those that their evidence gives: set-wise."""

from collections.abc import Iterator

from .. import bulk
from ..models import Batch
from .matching import LINE, OPEN

SAID = "services_inventory_saidcategory"
# Which line a row means: one that is known, or the one that was made for it.
MEANT = "(SELECT m.row, m.line_id FROM intake_match m{new})"


def stage_before() -> None:
    """Stage the category of each line that will be derived anew, as `intake_before`."""
    bulk.stage("intake_before", [("line_id", "KEY"), ("category", "TEXT")], ())
    bulk.execute(
        f"INSERT INTO intake_before (line_id, category) SELECT l.id, l.category FROM {LINE} l "
        "WHERE l.id IN (SELECT line_id FROM intake_fresh UNION SELECT line_id FROM intake_back)"
    )


def moved() -> Iterator[tuple[str, str, int]]:
    """Yield (category before, category now, lines) of the lines staged before."""
    rows = bulk.stream(
        "SELECT COALESCE(b.category, ''), COALESCE(l.category, ''), count(*) "
        f"FROM intake_before b CROSS JOIN {LINE} l WHERE l.id = b.line_id GROUP BY 1, 2"
    )
    yield from rows


def said_of_known() -> Iterator[tuple]:
    """Yield (said, label, category, reason, rows) of the rows that mean known lines."""
    yield from bulk.stream(
        "SELECT y.said, y.label, l.category, COALESCE(d.reason, ''), count(*) "
        f"FROM intake_says y CROSS JOIN intake_match m CROSS JOIN {LINE} l "
        "LEFT JOIN services_inventory_decision d ON d.id = l.decision_id "
        "WHERE m.row = y.row AND l.id = m.line_id AND l.category IS NOT NULL GROUP BY 1, 2, 3, 4"
    )


def write_said(batch: Batch, first_line: int | None) -> None:
    """Keep what the file says of a line and the record doesn't, or what it says anew."""
    new = (
        f" UNION ALL SELECT s.row, {int(first_line)} + s.row FROM intake_stage s WHERE {OPEN}"
        if first_line is not None
        else ""
    )
    told = f"EXISTS (SELECT 1 FROM {SAID} o WHERE o.line_id = t.line_id AND NOT o.taken_back"
    later = (  # the same word of a later file need not be kept twice
        f"SELECT 1 FROM {SAID} n WHERE n.line_id = o.line_id AND NOT n.taken_back "
        "AND (n.batch_id, n.id) > (o.batch_id, o.id)"
    )
    decided = (  # what such a row said moves with it where it is decided otherwise
        f"SELECT u.row_number FROM services_inventory_matchuse u WHERE u.batch_id = {int(batch.pk)}"
    )
    bulk.execute(
        f"INSERT INTO {SAID} (line_id, said, label, batch_id, row_number) "
        f"SELECT t.line_id, y.said, y.label, {int(batch.pk)}, y.row "
        f"FROM intake_says y JOIN {MEANT.format(new=new)} t ON t.row = y.row "
        f"JOIN {LINE} l ON l.id = t.line_id WHERE y.row IN ({decided}) "
        f"OR ((y.label <> '' OR (y.said <> '' AND y.said <> l.category) OR {told})) "
        f"AND NOT {told} AND o.said = y.said AND o.label = y.label AND NOT EXISTS ({later}))) "
        "ORDER BY y.row"
    )
