"""The likelihood of correlated, rounded residuals, against the joint normal density of scipy."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.stats import multivariate_normal

from route3d.field.noise import Noise, log_likelihood


@pytest.mark.parametrize("reach", [0.01, 3.0, 200.0])
def test_log_likelihood_is_that_of_the_joint_normal(reach: float) -> None:
    """Covariance sigma² exp(-|d| / reach) plus step²/12 on the diagonal, by scipy."""
    random = np.random.default_rng(7)
    at = np.sort(random.uniform(0.0, 50.0, 12))
    noise = Noise(sigma=110.0, reach=reach, step=222.0)
    covariance = noise.sigma**2 * np.exp(-np.abs(at[:, None] - at) / reach)
    covariance += np.eye(len(at)) * noise.step**2 / 12.0
    residual = random.normal(0.0, 150.0, (len(at), 3))
    joint = multivariate_normal(np.zeros(len(at)), covariance).logpdf(residual.T)
    assert log_likelihood(noise, at, residual) == pytest.approx(joint, rel=1e-10)
