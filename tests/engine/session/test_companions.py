"""Mean and diastolic pressure beside the systolic one."""

from __future__ import annotations

import numpy as np
import pytest

from engine.session.examples import series_of
from quietlimb.engine.session.charting import chart
from quietlimb.engine.session.companions import DIASTOLIC_SLOPE, companion_of, suspicion_by_shape
from quietlimb.simulator.series import simulate_series


def test_exact_line_is_found() -> None:
    """Diastolic values on a line through the systolic ones are charted on that line at the level asked for.

    Oracle: by construction: 90 + 0.45 (systolic - 150). Tolerance: the prior of the slope moves it by less than 1 mmHg
    at 12 mmHg from the middle of the readings.
    """
    systolic = np.array([182.0, 171.0, 163.0, 158.0, 155.0, 152.0])
    found = companion_of(
        90.0 + 0.45 * (systolic - 150.0),
        systolic,
        reference_mmhg=152.0,
        slope=DIASTOLIC_SLOPE,
        own_sd=np.zeros(6),
        suspicion=np.ones(6),
        widening=np.ones(6),
    )
    assert found.posterior.summary[2] == pytest.approx(90.9, abs=1.0)
    assert found.slope == pytest.approx(0.45, abs=0.08)


def test_slope_is_learned() -> None:
    """Readings that move together fully raise the slope over the prior, readings that do not lower it.

    Oracle: by construction.
    """
    systolic = np.array([130.0, 170.0, 140.0, 165.0, 135.0, 160.0])
    found = [
        companion_of(
            80.0 + slope * (systolic - 150.0),
            systolic,
            reference_mmhg=150.0,
            slope=DIASTOLIC_SLOPE,
            own_sd=np.zeros(6),
            suspicion=np.ones(6),
            widening=np.ones(6),
        ).slope
        for slope in (0.2, 0.75)
    ]
    assert found[0] < DIASTOLIC_SLOPE - 0.1
    assert found[1] > DIASTOLIC_SLOPE + 0.1


def test_odd_shape_is_suspected_and_usual_shape_proves_nothing() -> None:
    """A systolic value alone off by 40 raises the odds of its display; others stay near 1, and all move alike: near 1.

    Oracle: by construction.
    """
    systolic = np.array([150.0, 152.0, 190.0, 151.0, 148.0])
    diastolic = np.array([86.0, 88.0, 86.0, 87.0, 85.0])
    found = suspicion_by_shape(diastolic, systolic, DIASTOLIC_SLOPE)
    assert found[2] > 5.0
    assert (found[[0, 1, 3, 4]] < 1.5).all()
    together = suspicion_by_shape(diastolic + DIASTOLIC_SLOPE * (systolic - 150.0), systolic, DIASTOLIC_SLOPE)
    assert (together >= 1.0).all()
    assert (together < 1.5).all()


def test_correlation_is_that_of_the_errors() -> None:
    """Over simulated level series the errors of the charted systolic and diastolic pressure correlate as is said.

    Oracle: by construction, 150 simulated series of six readings. Tolerance: 0.2; the Monte Carlo error is 0.04 and the
    simulated diastolic follows by 0.6 where the prior expects less.
    """
    errors, said = [], []
    for k in range(150):
        simulated = simulate_series([8, k], kind="level", readings=6)
        charted = chart(
            series_of(
                simulated.systolic.tolist(),
                mean=simulated.mean.tolist(),
                diastolic=simulated.diastolic.tolist(),
                minute=simulated.minute.tolist(),
            )
        )
        assert charted.systolic is not None
        assert charted.diastolic is not None
        truth = simulated.truth
        errors.append((charted.systolic.value - truth.systolic, charted.diastolic.value - truth.diastolic))
        said.append(charted.correlation["diastolic"])
    found = float(np.corrcoef(np.array(errors).T)[0, 1])
    assert found == pytest.approx(float(np.mean(said)), abs=0.2)
    assert all(0.0 < each < 1.0 for each in said)
