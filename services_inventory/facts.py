"""What statements reduce to under the rule in force, as codes that the database can add up.

The sum of the codes of a line's evidence tells which facts the line has, so lines with equal
sums share one weighing. A code is a number of 52 bits made of the fact and of the rule that it
was found under: with another rule, or a program that reduces otherwise, every code is another.
"""

import json
from collections.abc import Iterable
from datetime import UTC, date, datetime
from functools import cache
from hashlib import blake2b
from importlib.util import find_spec
from pathlib import Path

from . import bulk
from .domain.evidence import Basis, EvidencePolicy, EvidenceRecord, Portion, signature
from .domain.evidence.records import Era
from .domain.evidence.reducing import Fact
from .domain.materials import Material
from .domain.words import FOLDER
from .models import KnownFact
from .statements import Alike

_ANY_DAY = datetime(2000, 1, 1, tzinfo=UTC)  # when it was recorded bears on no single statement
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
    """The codes of facts under one policy, each with a statement that reduces to it."""

    def __init__(self, policy: EvidencePolicy):
        self.policy = policy
        self.rule = rule_key(policy)
        self._alike = Alike(policy)
        self._codes: dict[tuple, int | None] = {}
        self._fresh: dict[int, tuple] = {}

    def code(self, *statement) -> int | None:
        """Return the code of the fact that a statement reduces to, given as `TELLING` has it.

        None for a replacement, which takes effect on its own day, and for what says nothing.
        """
        key = self._alike.key(*statement)
        if key not in self._codes:
            self._codes[key] = self._found(statement)
        return self._codes[key]

    def _found(self, statement: tuple) -> int | None:
        return self.code_of(signature([record(statement)], self.policy).facts, statement)

    def code_of(self, facts: tuple[Fact, ...], statement: tuple) -> int | None:
        """Return the code of what a statement was found to reduce to."""
        if not facts or facts[0].replacement:
            return None
        digest = blake2b(repr((self.rule, facts[0])).encode(), digest_size=8).digest()
        code = int.from_bytes(digest, "big") >> (64 - BITS)
        self._fresh.setdefault(code, statement)
        return code

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


def record(statement) -> EvidenceRecord:
    """Return a statement, given as `TELLING` has it, as the domain weighs it."""
    portion, era, material, basis, points, installed_on, year, diameter = statement
    return EvidenceRecord(
        id=0,
        portion=Portion(portion),
        material=Material(material),
        basis=Basis(basis),
        recorded_at=_ANY_DAY,
        era=Era(era),
        points_seen=points,
        installed_on=date.fromisoformat(installed_on)
        if isinstance(installed_on, str)
        else installed_on,
        installed_year=year,
        diameter_in=diameter,
    )
