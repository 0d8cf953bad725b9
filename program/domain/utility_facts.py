"""The utility's own facts: what each may be, and what they must be to each other."""

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache

from services_inventory.domain.allowed import Allowed, Kind, bounds
from services_inventory.domain.reference import rows_of, toml_of

INVENTED = "ZZ"


@dataclass(frozen=True)
class UtilityFact:
    """One fact of the utility: the column it is kept in, what a page calls it, its range."""

    id: str
    label: str
    help: str
    allowed: Allowed


@cache
def utility_facts() -> dict[str, UtilityFact]:
    """Return the facts by id, in the order of the page."""
    content = toml_of("program", "utility_facts.toml")
    return {fact_id: _fact(fact_id, dict(row)) for fact_id, row in content.items()}


def _fact(fact_id: str, row: dict) -> UtilityFact:
    label, words = row.pop("label"), row.pop("help", "")
    kind = Kind(row.pop("kind"))
    states = ("", *_codes("STATE", "INVENTED")) if row.pop("choices", "") else ()
    least, most = bounds(kind, (row.pop("least", None), row.pop("most", None)))
    one_of = (*states, *row.pop("one_of", ()))
    return UtilityFact(
        fact_id, label, words, Allowed(kind=kind, least=least, most=most, one_of=one_of, **row)
    )


@cache
def primacy_codes() -> dict[str, tuple[str, str]]:
    """Return {code: (name, kind)} of the States, EPA regions and others a PWSID begins with."""
    rows = rows_of("program", "primacy_codes.csv")
    return {row["code"]: (row["name"], row["kind"]) for row in rows}


def _codes(*kinds: str) -> tuple[str, ...]:
    return tuple(code for code, (_, kind) in primacy_codes().items() if kind in kinds)


def contradictions(facts: Mapping[str, object], *, invented: bool = False) -> dict[str, str]:
    """Return {fact: sentence} of what can't be true of facts that each could be right alone.

    invented : the utility is a scenario's, whose State no State is
    """
    found = {}
    pwsid, state = str(facts.get("pwsid") or ""), facts.get("state") or ""
    begins = pwsid[:2]
    name, kind = primacy_codes().get(begins, ("", ""))
    if pwsid and not name:
        found["pwsid"] = (
            f"“{pwsid}” begins with {begins}, which is neither a State nor an EPA region "
            "(01 to 10). Copy it from a paper of your primacy agency."
        )
    elif pwsid and state and kind == "STATE" and begins != state:
        found["pwsid"] = (
            f"“{pwsid}” is a system of {name}, and the State is {state}. Correct one of them."
        )
    if not invented and INVENTED in (begins, state):
        found["state" if state == INVENTED else "pwsid"] = (
            f"{INVENTED} is the code of an invented place; give the State's own."
        )
    return found
