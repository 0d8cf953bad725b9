"""What this system may rely on when evidence is weighed.

The State's and the utility's own values live with the project. It names, in the setting
`RULES_IN_FORCE`, the callable that returns the rules with them; alone, this app works by the
federal values.
"""

from datetime import date

from django.conf import settings
from django.utils.module_loading import import_string

from .domain.classification import Policy
from .domain.evidence import EvidencePolicy
from .domain.regulation import Rules, inventory_rules


def rules_in_force() -> Rules:
    """Return the rule's values with the State's and the utility's own."""
    named = getattr(settings, "RULES_IN_FORCE", "")
    return import_string(named)() if named else inventory_rules()


def never_had_lead(as_of: date) -> bool:
    """Tell whether the records show, on a day, that this system never had lead lines."""
    named = getattr(settings, "NEVER_HAD_LEAD", "")
    return import_string(named)(as_of) if named else False


def evidence_policy(as_of: date) -> EvidencePolicy:
    """Return what evidence is weighed by on a day."""
    return EvidencePolicy.from_rules(as_of, rules_in_force(), never_had_lead(as_of))


def classification_policy(as_of: date) -> Policy:
    """Return the switches that the category is derived under on a day."""
    connectors = bool(rules_in_force().value("CONNECTORS_MAKE_GRR", as_of))
    return Policy(never_had_lead=never_had_lead(as_of), connectors_make_grr=connectors)
