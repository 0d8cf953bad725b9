"""The card at the pit as data: its steps with their questions, and the gates that judge them.

The steps are `reference/card_steps.toml`; the questions are those of the page's own forms and of
the assembly checklist, so that page, API and phone ask and judge alike.
"""

from collections.abc import Callable, Mapping
from dataclasses import asdict

from django import forms

from services_inventory.domain.reference import toml_of
from services_inventory.policy import rules_in_force
from services_inventory.today import today

from ..domain.completion import AfterRules, flushing_values, shipped_requirements
from ..domain.safety import safety_rules
from ..domain.start_gates import start_gates
from ..domain.tool_strings import places, side_view
from ..forms.safety import PITS
from ..models import ToolStringRecord, WorkOrder
from ..queries.planned_pull import new_pipe_of, old_pipe_of, string_of

STATEMENTS, CHOICES = "so", "choose"


def card_steps() -> list[dict]:
    """Return the steps in the order of work."""
    return toml_of("replacements", "card_steps.toml")["step"]


def rules_described() -> dict:
    """Return the gates of a start and their limits, as `phone/rules.js` reads them."""
    return {
        "gates": [asdict(gate) for gate in start_gates()],
        "limits": {key: rule.value for key, rule in safety_rules().items()},
        "pits": [list(pit) for pit in PITS],
    }


def card_described(start: forms.Form, record: forms.Form, field: Callable) -> dict:
    """Return the steps, the questions that they ask, and the figures that the utility asks for.

    field : describes a bound field of a form
    """
    form_of = {"start": start, "record": record}
    names = {
        (step["of"], name)
        for step in card_steps()
        for name in _names(step)
        if step["of"] in form_of
    }
    return {
        "steps": card_steps(),
        "fields": {name: field(form_of[of][name]) for of, name in sorted(names)},
        "asked": asked_figures(),
        "dosed": sorted(
            method
            for (kind, method), values in flushing_values().items()
            if kind == "DISINFECTION" and "dose_mg_l" in values
        ),
    }


def _names(step: Mapping) -> list[str]:
    asked = [name for each in step.get("ask", ()) for name in each.split("+")]
    return asked + [name for said in step.get(STATEMENTS, ()) for name in said["sets"]]


def asked_figures() -> dict[str, float]:
    """Return the figures of safety and of the utility's requirements that statements name."""
    test = shipped_requirements()["PRESSURE_TEST"].values
    flushing = flushing_values()
    return {
        **{key: rule.value for key, rule in safety_rules().items()},
        "test_minutes": test["minutes"],
        "test_settle_minutes": test["settle_minutes"],
        "crew_minutes": flushing["CREW_FLUSH", ""]["minutes"],
        "house_minutes": flushing["PREMISE_FLUSH", ""]["minutes"],
        "cartridge_months": AfterRules.on(rules_in_force(), today()).cartridge_months,
    }


def drawing_kept(order: WorkOrder, record: ToolStringRecord) -> dict | None:
    """Return the drawing of a string and where its parts stand in it; None if it can't be drawn."""
    try:
        drawn = string_of(record), old_pipe_of(order), new_pipe_of(order)
        return {"svg": side_view(*drawn), "parts": places(*drawn)}
    except ValueError:
        return None
