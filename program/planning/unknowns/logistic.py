"""A logistic model of lead with a quadratic penalty, fitted by scipy's L-BFGS-B.

The loss is the sum of log losses plus half the penalty times the squared coefficients (the constant
is not penalised), so a penalty of 1 equals scikit-learn's C = 1. scipy is used and not scikit-learn
because the latter takes seconds to import; the tests hold the two together.
"""

from __future__ import annotations

from dataclasses import dataclass

from program.planning.unknowns.features import BadUnknowns, Encoding, nearby_share

NEIGHBORS = 12


@dataclass(frozen=True)
class LeadModel:
    """A fitted model; `probabilities` ranks lines, it settles none."""

    encoding: Encoding
    coefficients: tuple[float, ...]
    verified: tuple
    prior: float

    def probabilities(self, lines) -> list[float]:
        """Probability of lead of each line, in the order given."""
        import numpy as np
        from scipy.special import expit

        lines = list(lines)
        if not lines:
            return []
        near = nearby_share(lines, self.verified, neighbors=NEIGHBORS, prior=self.prior)
        table = self.encoding.table(lines, near)
        return [float(p) for p in expit(table @ np.array(self.coefficients))]


def fit(verified, penalty: float = 1.0) -> LeadModel:
    """Fit the model to verified lines.

    Raises
    ------
    BadUnknowns : fewer than twenty lines are verified, or all of them say the same.
    """
    import numpy as np

    verified = [line for line in verified if line.is_lead is not None]
    lead = np.array([float(line.is_lead) for line in verified])
    if len(verified) < 20 or lead.min() == lead.max():
        raise BadUnknowns(
            f"{len(verified)} verified lines, {int(lead.sum())} of them lead, are too few to learn "
            "from: at least 20 are needed, lead and non-lead among them."
        )
    prior = float((lead.sum() + 0.5) / (len(lead) + 1))
    near = nearby_share(verified, verified, neighbors=NEIGHBORS, prior=prior)
    encoding = Encoding.of(verified)
    found = coefficients(encoding.table(verified, near), lead, penalty)
    return LeadModel(encoding, tuple(float(c) for c in found), tuple(verified), prior)


def coefficients(table, lead, penalty: float):
    """Coefficients of least penalised loss; the table's first column is the constant."""
    import numpy as np
    from scipy.optimize import minimize
    from scipy.special import expit

    def loss(beta):
        z = table @ beta
        value = np.logaddexp(0, z).sum() - lead @ z + penalty / 2 * (beta[1:] @ beta[1:])
        slope = table.T @ (expit(z) - lead)
        slope[1:] += penalty * beta[1:]
        return value, slope

    start = np.zeros(table.shape[1])
    options = {"maxiter": 1000, "gtol": 1e-7, "ftol": 1e-13}
    # The stubs know arrays of one dimension by their type only.
    found = minimize(loss, start, jac=True, method="L-BFGS-B", options=options)  # type: ignore[call-overload]
    return found.x
