"""What statements reduce to under the rule in force, as codes that the database can add up.

The sum of the codes of a line's evidence tells which facts the line has, so lines with equal
sums share one weighing. A code is a number of 52 bits made of the fact and of the rule that it
was found under: with another rule, or a program that reduces otherwise, every code is another.
"""

import json
from collections.abc import Iterable, Sequence
from datetime import date
from functools import cache
from hashlib import blake2b
from importlib.util import find_spec
from pathlib import Path

from . import bulk
from .domain.evidence import EvidencePolicy, EvidenceRecord, Fact, signature
from .domain.words import FOLDER
from .models import KnownFact
from .statements import Statement

BITS = 52  # a thousand statements a line add up to less than 63 bits
TELLING = (
    "portion", "era", "material", "basis", "points_seen", "installed_on", "installed_year",
    "diameter_in",
)  # fmt: skip
_REDUCING = ("domain.evidence.bases", "domain.evidence.records", "domain.evidence.reducing",
             "domain.materials")  # fmt: skip
_TABLES = (FOLDER / "bases.toml",)


def rule_key(policy: EvidencePolicy) -> str:
    """Return a short name for how statements are reduced: by these values, by this program."""
    values = sorted(
        (name, sorted(value) if isinstance(value, frozenset) else value)
        for name, value in vars(policy).items()
    )
    return blake2b(repr((values, _program())).encode(), digest_size=8).hexdigest()


@cache
def _program() -> str:
    """Return a digest of the modules and tables that reduce a statement to a fact."""
    modules = (Path(find_spec(f"{__package__}.{name}").origin) for name in _REDUCING)
    digest = blake2b(digest_size=8)
    for path in (*modules, *_TABLES):
        digest.update(path.read_bytes())
    return digest.hexdigest()


class Facts:
    """What statements reduce to under one policy: each fact once, with a number and a code.

    Statements that reduce to the same fact are told without reducing each: when something was
    seen plays no part, and when it was laid only by lying before or after a day of the policy.
    """

    def __init__(self, policy: EvidencePolicy):
        self.policy = policy
        self.rule = rule_key(policy)
        self.found: list[Fact | None] = [None]  # 0 says nothing
        self.codes: list[int | None] = [None]
        self._days = sorted(day for day in vars(policy).values() if isinstance(day, date))
        self._alike: dict[tuple, int] = {}
        self._numbers: dict[Fact, int] = {}
        self._fresh: dict[int, tuple] = {}

    def number(self, *statement) -> int:
        """Return the number of the fact that a statement reduces to, given as `TELLING` has it."""
        *said, installed_on, installed_year, diameter_in = statement
        laid = installed_on or (installed_year and date(installed_year, 1, 1))
        laid = date.fromisoformat(laid) if isinstance(laid, str) else laid
        key = (*said, laid and tuple(laid >= day for day in self._days), diameter_in)
        if key not in self._alike:
            self._alike[key] = self._number(statement)
        return self._alike[key]

    def _number(self, statement: tuple) -> int:
        (fact,) = signature([record(statement)], self.policy).facts
        if fact not in self._numbers:
            self._numbers[fact] = len(self.found)
            self.found.append(fact)
            self.codes.append(self._code(fact))
        number = self._numbers[fact]
        if self.codes[number] is not None:
            self._fresh.setdefault(self.codes[number], statement)
        return number

    def code(self, *statement) -> int | None:
        """Return the code of the fact that a statement reduces to, given as `TELLING` has it.

        None for a replacement, which takes effect on its own day.
        """
        return self.codes[self.number(*statement)]

    def _code(self, fact: Fact) -> int | None:
        if fact.replacement:
            return None
        digest = blake2b(repr((self.rule, fact)).encode(), digest_size=8).digest()
        return int.from_bytes(digest, "big") >> (64 - BITS)

    def keep(self) -> None:
        """Write the facts met so far, so that their codes can be read again later."""
        KnownFact.objects.bulk_create(
            [
                KnownFact(code=code, rule=self.rule, statement=[_written(x) for x in statement])
                for code, statement in self._fresh.items()
            ],
            ignore_conflicts=True,
        )
        self._fresh = {}

    def examples(self) -> dict[int, EvidenceRecord]:
        """Return for each known code of this rule a record that reduces to its fact."""
        found = KnownFact.objects.filter(rule=self.rule).values_list("code", "statement")
        return {code: record(statement) for code, statement in found}


def sums_keep(sums: Iterable[tuple[int, list[int]]]) -> None:
    """Write sums, each with the codes that it is made of, so that they are known the next time."""
    rows = ((total, json.dumps(codes)) for total, codes in sums)
    bulk.fill_lacking("services_inventory_knownsum", ("total", "codes"), rows)


def _written(value):
    return value.isoformat() if isinstance(value, date) else value


def record(statement: Sequence) -> EvidenceRecord:
    """Return a statement, given as `TELLING` has it, as the domain weighs it."""
    *said, installed_on, installed_year, diameter = statement
    laid = date.fromisoformat(installed_on) if isinstance(installed_on, str) else installed_on
    return Statement(*said, None, laid, installed_year, diameter).record()
