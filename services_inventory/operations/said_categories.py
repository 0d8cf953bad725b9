"""What files said of categories, where a row means another line now, or its word was withdrawn."""

from collections.abc import Collection, Iterable

from ..models import Batch, MatchUse, SaidCategory

AT_ONCE = 5_000


def said_take_back(batch: Batch, rows: Collection[int]) -> None:
    """Let what rows of a file said of their lines' categories count no longer."""
    _take_back(_said(batch, rows))


def _take_back(said: list[SaidCategory]) -> None:
    for one in said:
        one.taken_back = True
    SaidCategory.objects.bulk_update(said, ["taken_back"], batch_size=500)


def said_follow(uses: Iterable[MatchUse], lines: Collection[int]) -> None:
    """Let what rows said count for these lines, whatever line they meant before; none: for none."""
    rows_of: dict[Batch, set[int]] = {}
    for use in uses:
        rows_of.setdefault(use.batch, set()).add(use.row_number)
    for batch, rows in rows_of.items():
        said = _said(batch, rows)
        there = {(one.row_number, one.line_id) for one in said}
        words = {(one.row_number, one.said, one.label) for one in said}
        _take_back([one for one in said if one.line_id not in lines])
        SaidCategory.objects.bulk_create(
            [
                SaidCategory(line_id=line, said=word, label=label, batch=batch, row_number=row)
                for row, word, label in sorted(words)
                for line in lines
                if (row, line) not in there
            ],
            batch_size=2000,
        )


def _said(batch: Batch, rows: Collection[int]) -> list[SaidCategory]:
    found: list[SaidCategory] = []
    numbers = sorted(rows)
    for start in range(0, len(numbers), AT_ONCE):
        some = numbers[start : start + AT_ONCE]
        found += SaidCategory.objects.filter(batch=batch, row_number__in=some, taken_back=False)
    return found
