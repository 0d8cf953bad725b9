"""What can stand against an estimate, a start or a log."""

from services_inventory.refused import Refused

from ...domain.findings import Finding, Level


class EstimateRefused(Refused):
    """The estimate cannot be made; the message says what is missing."""


class StartRefused(Refused):
    """The pull may not start; `findings` say what stands against it and what to do."""

    def __init__(self, findings: list[Finding]):
        self.findings = findings
        said = " ".join(f.message for f in findings if f.level is Level.STOP)
        super().__init__(f"The pull may not start: {said}")


class PullRefused(Refused):
    """The log cannot be recorded; the message says where and what to do. Nothing was kept."""
