"""What a file says of a place once more, though another source has corrected it since.

Two lists that name a building differently would else change each other's lines at every feed. So
the later word stands, and what was left out is told. A list that says what it had not said before
is followed, and so is one that corrects itself.
"""

import json
from collections import defaultdict
from collections.abc import Iterable, Iterator, Mapping

from .. import bulk
from ..models import Batch
from .recording import SAID_ALONE
from .unchanged import CORRECTION

# What is said together, by its first column. An address is none of it: a row that gives a known
# identifier to another address is held.
SAID = {
    "latitude": ("latitude", "longitude", "neighborhood_id"),
    "use": ("use", "line"),
    **{name: (name,) for name in SAID_ALONE},
}
Correction = tuple[int, int, int, dict, dict]


def without_old_words(
    found: Iterable[Correction], source: str, left_out: dict[str, list[int]]
) -> Iterator[Correction]:
    """Yield corrections without what another source has corrected since it was said.

    Parameters
    ----------
    found : (row, line, premise, before, after) where rows say otherwise than the record
    source : by which the file's source is known in the results of batches
    left_out : filled with the rows in which something was left out, by column
    """
    found = list(found)
    history = _history({premise for _, _, premise, *_ in found}, source) if found else {}
    for row, line, premise, before, after in found:
        changes = history.get(premise, ())
        for name in [one for one in SAID if changes and one in after]:
            if _is_old(changes, SAID[name], after):
                left_out.setdefault(name, []).append(row)
                gone = {*SAID[name]} - ({"line"} if "location_id" in after else set())
                before, after = ({k: v for k, v in said.items() if k not in gone}
                                 for said in (before, after))  # fmt: skip
        if after:
            yield row, line, premise, before, after


def _is_old(changes: Iterable[tuple[dict, bool]], names: tuple[str, ...], after: Mapping) -> bool:
    """Whether another source replaced this very word since the file's own had its last say."""
    for replaced, own in changes:
        if names[0] in replaced:
            if own:
                return False
            if all(replaced.get(name) == after.get(name) for name in names):
                return True
    return False


def _history(premises: set[int], source: str) -> dict[int, list[tuple[dict, bool]]]:
    """Return what each change of these places replaced, the latest first, and whose it was.

    True: of this source, or of a file of which nobody knows; a person's is never.
    """
    rows = bulk.stream(
        f"SELECT premise_id, batch_id, CAST(before AS text) FROM {CORRECTION} "
        "WHERE premise_id IN (SELECT premise_id FROM intake_match) ORDER BY id DESC"
    )
    rows = [row for row in rows if row[0] in premises]
    files = Batch.objects.filter(pk__in={batch for _, batch, _ in rows}, kind="INTAKE")
    sources = dict(files.values_list("pk", "result__source"))
    found = defaultdict(list)
    for premise, batch, before in rows:
        own = batch is not None and sources.get(batch) in (None, source)
        found[premise].append((json.loads(before), own))
    return found
