"""What is put into use of the force model, and why."""

from collections import defaultdict
from dataclasses import fields

from django import forms

from ..domain.pull_force import ParameterSet
from ..domain.reference_tables import rows
from ..domain.tool_strings import StringLimits
from .fields import figure

PARTS = ("low", "default", "high")


class ReasonForm(forms.Form):
    """Why a factor goes into or out of use."""

    reason = forms.CharField(label="Why", max_length=200)


class ConstantsForm(forms.Form):
    """Every constant of the force model with its range, as it stands in use."""

    reason = forms.CharField(
        label="Why", max_length=200, help_text="Such as: blades measured, 0.16 in."
    )

    def __init__(self, *args, in_use: ParameterSet, limits: StringLimits, **kwargs):
        super().__init__(*args, **kwargs)
        for item in fields(StringLimits):
            self.fields[f"limit_{item.name}"] = figure(
                StringLimits.label(item.name), required=True, initial=getattr(limits, item.name)
            )
        for code, parameter in in_use.parameters.items():
            for part in PARTS:
                label = f"{parameter.name}, {'value' if part == 'default' else part}"
                self.fields[f"{code}_{part}"] = figure(
                    label, required=True, initial=getattr(parameter, part)
                )

    @property
    def parts(self) -> dict[str, list[tuple]]:
        """Each shipped constant with its three fields (low, value, high), by what it is about."""
        shipped, found = ParameterSet().parameters, defaultdict(list)
        for row in rows("force_parameters"):
            fields = [self[f"{row['code']}_{part}"] for part in PARTS]
            found[row["part"]].append((shipped[row["code"]], fields))
        return dict(found)

    @property
    def limit_rows(self) -> list[tuple]:
        """Each limit of a tool string: its shipped value and its field."""
        return [(item.default, self[f"limit_{item.name}"]) for item in fields(StringLimits)]

    def string_limits(self) -> dict[str, float]:
        """Return the limits of tool strings that differ from the shipped ones."""
        given = {item: self.cleaned_data[f"limit_{item.name}"] for item in fields(StringLimits)}
        return {item.name: value for item, value in given.items() if value != item.default}

    def values(self) -> dict[str, tuple[float, float, float]]:
        """Return the constants that differ from the shipped ones."""
        found = {}
        for code, parameter in ParameterSet().parameters.items():
            given = tuple(self.cleaned_data[f"{code}_{part}"] for part in PARTS)
            if given != (parameter.low, parameter.default, parameter.high):
                found[code] = given
        return found
