"""The shipped rules of separation and cover, each with its source."""

from replacements.domain.parameters import Parameter, load_parameters
from replacements.domain.reference_tables import cited


def ground_rule(code: str) -> Parameter:
    """Return one of the shipped rules of separation and cover, with its source."""
    return load_parameters("ground_rules")[code]


def value_of(code: str) -> float:
    """Return the figure of a rule."""
    return ground_rule(code).default


def source_of(code: str) -> str:
    """Return the source of a rule with its mark."""
    rule = ground_rule(code)
    return cited(rule.source, rule.mark)
