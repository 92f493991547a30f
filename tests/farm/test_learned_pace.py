"""The pace of machines out of reported visits, against the conjugate normal posterior and SciPy's Huber loss."""

from __future__ import annotations

from math import exp, log, sqrt

import numpy as np
import pytest
from scipy.optimize import minimize_scalar
from scipy.special import huber

from scheduler.farm.learned_pace import FAR, PRIOR_SD, VISIT_SD, Visit, learned_pace


def visit(factor: float, hours: float = 3.0) -> Visit:
    """Return a visit that took so many times the time it was to take."""
    return Visit(factor * hours * 60, hours * 60)


def test_one_usual_visit_is_weighed_with_what_machines_of_the_kind_do() -> None:
    """The mean of a normal prior and one observation, weighted by their precisions (Gelman et al., Bayesian Data Analysis, 2.5)."""
    found = learned_pace([visit(1.2)])
    assert found is not None
    weight = (1 / VISIT_SD**2) / (1 / VISIT_SD**2 + 1 / PRIOR_SD**2)
    assert found.factor == pytest.approx(exp(weight * log(1.2)))
    assert found.sd == pytest.approx(sqrt(1 / (1 / VISIT_SD**2 + 1 / PRIOR_SD**2)))
    assert (found.visits, found.reported) == (1, pytest.approx(1.2))


@pytest.mark.parametrize("seed", range(6))
def test_many_visits_are_the_least_loss_of_huber(seed: int) -> None:
    rng = np.random.default_rng(seed)
    visits = [
        visit(float(f), float(h))
        for f, h in zip(rng.uniform(0.6, 2.2, 9), rng.uniform(0.5, 9, 9), strict=True)
    ]

    def loss(mean: float) -> float:
        return mean**2 / (2 * PRIOR_SD**2) + sum(
            float(huber(FAR, (one.off - mean) / one.sd)) for one in visits
        )

    best = minimize_scalar(loss, bounds=(-2, 2), method="bounded", options={"xatol": 1e-9}).x
    found = learned_pace(visits)
    assert found is not None and log(found.factor) == pytest.approx(best, abs=2e-3)


def test_many_alike_are_believed_and_one_wrong_report_moves_less_than_half_of_the_plain_mean() -> None:
    alike, slip = [visit(1.25)] * 12, visit(2.4, 6.0)
    found, with_slip = learned_pace(alike), learned_pace([*alike, slip])
    assert found is not None and with_slip is not None
    assert found.factor == pytest.approx(1.25, abs=0.03)

    def plain(visits: list[Visit]) -> float:
        weights = [1 / one.sd**2 for one in visits]
        return sum(w * one.off for w, one in zip(weights, visits, strict=True)) / (
            sum(weights) + 1 / PRIOR_SD**2
        )

    moved = log(with_slip.factor / found.factor)
    assert 0 < moved < 0.5 * (plain([*alike, slip]) - plain(alike))


@pytest.mark.parametrize("one", [visit(9.0), visit(0.1), Visit(30.0, 5.0), Visit(-10.0, 60.0)])
def test_what_is_no_measure_of_a_pace_is_left_out(one: Visit) -> None:
    assert learned_pace([one]) is None
