"""What is on record of a building, and how it came about, in words."""

from ..models import Premise, PremiseChange
from ..models.places import PLUMBINGS, TREATMENTS, PremiseKind

_WORDS = {
    "kind": ("building", dict(PremiseKind.choices)),
    "building_year": ("built", {}),
    "plumbing": ("plumbing inside", dict(PLUMBINGS)),
    "plumbing_year": ("plumbing laid", {}),
    "treatment": ("treatment", dict(TREATMENTS)),
}


def building_facts(premise: Premise) -> list[tuple[str, str]]:
    """Return (name, words) of what is known of a building."""
    return [(label, _said(name, getattr(premise, name))) for name, (label, _) in _WORDS.items()]


def _said(name: str, value) -> str:
    if value in ("", None):
        return "not on record"
    return _WORDS[name][1].get(value, str(value))


def building_changes(premise: Premise) -> list[dict]:
    """Return the changes of a building's facts, the latest first, each with its words.

    The latest change that no later one has moved on from can be put back.
    """
    rows = PremiseChange.objects.filter(premise=premise).order_by("-id")
    found = []
    for row in rows:
        names = [name for name in _WORDS if name in row.after]
        if names:
            found.append(
                {
                    "row": row,
                    "says": [
                        (_WORDS[n][0], _said(n, row.before.get(n)), _said(n, row.after[n]))
                        for n in names
                    ],
                    "may_put_back": not row.batch_id
                    and all(getattr(premise, name) == row.after[name] for name in row.after),
                }
            )
    for entry in found[1:]:
        entry["may_put_back"] = False
    return found
