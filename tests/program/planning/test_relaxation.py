"""What a plan that can't be is told: by how much each kind of rule falls short, in which words.

Three areas of 30, 20 and 10 jobs, at 1,000 dollars a job, in two program years; constructed.
"""

from dataclasses import replace
from fractions import Fraction

import pytest

from program.planning.solver import PlanArea, PlanCase, PlanYear, Quota
from program.planning.solver.relaxation import _listed, clash, relaxations

from .cases import settings

AREAS = tuple(
    PlanArea(name, jobs, jobs * 1000.0, 1.0, "H", quota_group=group)
    for name, jobs, group in (("A", 30, "NORTH"), ("B", 20, "SOUTH"), ("C", 10, "SOUTH"))
)
YEARS = tuple(PlanYear(number, 60, 60_000.0, ((60,),)) for number in (1, 2))
EASY = PlanCase(AREAS, YEARS, settings(required_rate=Fraction(0), first_assessed_year=1, gap=0.0))


def of_years(case=EASY, **changes) -> PlanCase:
    return replace(case, years=tuple(replace(year, **changes) for year in case.years))


def told(case: PlanCase) -> dict[str, tuple]:
    return {one.kind: (one.alone, one.amounts, one.sentence) for one in relaxations(case)}


SHORT = of_years(crew_jobs=((25,),))
POOR = of_years(budget=25_000.0)
PINNED = replace(SHORT, areas=tuple(replace(a, locked_year=1) for a in AREAS))
CLOSED = replace(
    of_years(crew_jobs=((40,),)),
    areas=tuple(replace(area, allowed_years=frozenset({2})) for area in AREAS),
)
FAST = replace(
    of_years(crew_jobs=((30,),)), settings=replace(EASY.settings, required_rate=Fraction(3, 5))
)
PROMISED = replace(
    EASY, quotas=(Quota("NORTH", 0.6, (1,)),),
    areas=tuple(replace(area, locked_year=2 if area.id == "A" else 1) for area in AREAS),
)  # fmt: skip


@pytest.mark.parametrize(
    ("case", "kind", "amounts", "sentence"),
    [
        (SHORT, "CREWS", (("program year 1", 5), ("program year 2", 5)),
         "Crews: short in program year 1 by 5 jobs (they can do 25) and program year 2 by 5 jobs "
         "(they can do 25)."),
        (SHORT, "DEADLINE", (("A", 30.0),),
         "Deadline: 1 work area with 30 jobs would stay undone after program year 2 (A). Only a "
         "deferred deadline can allow this."),
        (POOR, "BUDGET", (("program year 1", 5000.0), ("program year 2", 5000.0)),
         "Budget: short in program year 1 by $5,000 (of $25,000) and program year 2 by $5,000 (of "
         "$25,000)."),
        (CLOSED, "WINDOWS", (("B, program year 1", 1.0),),
         "Moratoria and consent dates: they close program year 1 to work area B."),
        (PINNED, "LOCKS", None, None),
        (FAST, "RATE", (("program year 1", 0.1), ("program year 2", 0.1)),
         "Replacement rate: the cumulative average can reach no more than 50.000% at the end of "
         "program year 1 and 50.000% at the end of program year 2, where 60.000% is required. "
         "Only the primacy agency can allow less: a plan that needs this is a plan that fails the "
         "rule."),
        (PROMISED, "QUOTA", (("NORTH, program year 1", 18.0),),
         "Area quotas: the shares can't all be reached: NORTH in program year 1 by 18 jobs."),
    ],
)  # fmt: skip
def test_a_kind_that_suffices_alone_is_told_with_what_it_lacks(case, kind, amounts, sentence):
    found = told(case)
    if amounts is None:
        assert kind not in found
        return
    alone, given, said = found[kind]
    assert alone and said == sentence
    assert [name for name, _ in given] == [name for name, _ in amounts]
    assert [value for _, value in given] == pytest.approx([value for _, value in amounts], abs=1e-3)


def test_what_a_case_does_not_have_takes_no_part():
    assert set(told(of_years(crew_jobs=((10,),)))) <= {"CREWS", "DEADLINE"}


def test_kinds_that_only_suffice_together_say_so():
    half = replace(EASY.settings, required_rate=Fraction(1, 2))
    both = of_years(replace(EASY, settings=half), crew_jobs=((25,),), budget=25_000.0)
    found = relaxations(both)
    assert [one.kind for one in found] == ["CREWS", "BUDGET"]
    assert not any(one.alone for one in found)
    assert clash(found).startswith("No plan keeps all rules: crews and budget clash, ")
    assert clash(found).endswith("and no single one of them is what stands in the way.")


def test_the_clash_names_its_kinds():
    crews, deadline = relaxations(SHORT)
    assert clash((crews, deadline)) == "No plan keeps all rules: crews and deadline clash."
    assert clash((crews,)) == (
        "No plan keeps all rules: the limits on crews can't be kept together with the others."
    )
    assert clash(()) == "No plan keeps all rules, and none keeps all but one kind of them."


def test_a_long_list_is_cut_with_the_number_of_the_rest():
    names = [f"A{number}" for number in range(14)]
    assert _listed(names[:1]) == "A0" and _listed(names[:3]) == "A0, A1 and A2"
    assert _listed(names[:12]).endswith("A10 and A11")
    assert _listed(names[:13]).endswith("A11 and 1 more") and _listed(names).endswith("2 more")
