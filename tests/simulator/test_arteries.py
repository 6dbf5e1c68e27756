"""The simulated arteries: scaling, peak, and the classical features of an oscillogram that each family gives."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

import quietlimb.simulator
from quietlimb.simulator.arteries import FAMILIES
from quietlimb.simulator.arteries.arctangent import Arctangent
from quietlimb.simulator.arteries.artery import Artery
from quietlimb.simulator.arteries.double_exponential import DoubleExponential
from quietlimb.simulator.arteries.log_sigmoid import LogSigmoid
from quietlimb.simulator.arteries.logistic import Logistic

DIASTOLIC = 80.0
CUFF = np.arange(20.0, 220.0, 0.01)


def _features(artery: Artery, shift: float, pulse_pressure: float) -> tuple[float, float, float, float, float]:
    """Weight of systolic in the peak, height ratios at systolic and diastolic, errors of the steepest flanks there."""
    systolic = DIASTOLIC + pulse_pressure

    def height(cuff: np.ndarray) -> np.ndarray:
        return artery.volume(systolic - cuff - shift) - artery.volume(DIASTOLIC - cuff - shift)

    envelope = height(CUFF)
    peak = envelope.max()
    slope = np.diff(envelope)
    middle = 0.5 * (CUFF[1:] + CUFF[:-1])
    at_systolic, at_diastolic = height(np.array([systolic, DIASTOLIC])) / peak
    return (
        float((CUFF[envelope.argmax()] - DIASTOLIC) / pulse_pressure),
        float(at_systolic),
        float(at_diastolic),
        float(middle[slope.argmin()] - systolic),
        float(middle[slope.argmax()] - DIASTOLIC),
    )


def _log_sigmoid() -> LogSigmoid:
    return LogSigmoid(distension=0.03, opening=0.1)


# family, shift of its peak, pulse pressure, weight, ratio at systolic, at diastolic, steepest fall - Ps, rise - Pd
TABLE = [
    (DoubleExponential(collapse=0.11, distension=0.03), 0.0, 25, 0.21, 0.45, 0.93, 0.0, 0.0),
    (DoubleExponential(collapse=0.11, distension=0.03), 0.0, 40, 0.21, 0.35, 0.90, 0.0, 0.0),
    (DoubleExponential(collapse=0.11, distension=0.03), 0.0, 60, 0.21, 0.28, 0.87, 0.0, 0.0),
    (DoubleExponential(collapse=0.076, distension=0.021), 0.0, 25, 0.22, 0.55, 0.95, 0.0, 0.0),
    (DoubleExponential(collapse=0.076, distension=0.021), 0.0, 40, 0.22, 0.43, 0.92, 0.0, 0.0),
    (DoubleExponential(collapse=0.076, distension=0.021), 0.0, 60, 0.22, 0.34, 0.90, 0.0, 0.0),
    (DoubleExponential(collapse=0.11, distension=0.0453), 0.0, 25, 0.29, 0.50, 0.87, 0.0, 0.0),
    (DoubleExponential(collapse=0.11, distension=0.0453), 0.0, 40, 0.29, 0.40, 0.82, 0.0, 0.0),
    (DoubleExponential(collapse=0.11, distension=0.0453), 0.0, 60, 0.29, 0.34, 0.78, 0.0, 0.0),
    (Arctangent(half_width=15.0), 5.0, 25, 0.30, 0.57, 0.90, -3.4, -6.6),
    (Arctangent(half_width=15.0), 5.0, 40, 0.38, 0.50, 0.80, -4.4, -5.6),
    (Arctangent(half_width=15.0), 5.0, 60, 0.42, 0.46, 0.73, -4.8, -5.2),
    (_log_sigmoid(), _log_sigmoid().peak_mmhg, 25, None, 0.67, 0.89, 1.5, -6.3),
    (_log_sigmoid(), _log_sigmoid().peak_mmhg, 40, None, 0.53, 0.80, -1.4, -4.0),
    (_log_sigmoid(), _log_sigmoid().peak_mmhg, 60, None, 0.44, 0.76, -2.5, -3.0),
    (Logistic(scale=9.0), 2.0, 25, 0.42, 0.66, 0.80, 0.8, -4.8),
    (Logistic(scale=9.0), 2.0, 40, None, 0.54, 0.67, -1.3, -2.7),
    (Logistic(scale=9.0), 2.0, 60, 0.47, 0.48, 0.60, -1.9, -2.1),
]


@pytest.mark.parametrize(("artery", "shift", "pulse_pressure", "weight", "rs", "rd", "fall", "rise"), TABLE)
def test_classical_features_of_each_family(
    artery: Artery,
    shift: float,
    pulse_pressure: float,
    weight: float | None,
    rs: float,
    rd: float,
    fall: float,
    rise: float,
):
    """Weight, height ratios and slope errors are those worked out beforehand from the printed formulas.

    Oracle: by construction. The table was computed from the formulas of Babbs, Langewouters, Drzewiecki and a logistic,
    diastolic 80 mmHg, apart from this code and before it.
    Tolerance: half of the last digit noted, and 0.001 or 0.01 mmHg for the grid on which the peak was sought.
    """
    found = _features(artery, shift, pulse_pressure)
    if weight is not None:
        assert found[0] == pytest.approx(weight, abs=0.0051)
    assert found[1:3] == pytest.approx((rs, rd), abs=0.006)
    assert found[3:] == pytest.approx((fall, rise), abs=0.061)


def test_log_sigmoid_weight_lies_where_it_was_computed():
    """With the recalled constants the weight of systolic runs from 0.37 to 0.39 over pulse pressures 25, 40, 60.

    Oracle: by construction, as above; only the range was noted. Tolerance: half of the last digit.
    """
    artery = _log_sigmoid()
    weights = [_features(artery, artery.peak_mmhg, pulse_pressure)[0] for pulse_pressure in (25.0, 40.0, 60.0)]
    assert min(weights) == pytest.approx(0.37, abs=0.0051)
    assert max(weights) == pytest.approx(0.39, abs=0.0051)


@pytest.mark.parametrize("constants", [(0.11, 0.03), (0.11, 0.0453)])
def test_double_exponential_peak_weight_has_a_closed_form(constants: tuple[float, float]):
    """The peak pressure weighs the systolic by b / (a + b).

    Oracle: by construction: at the peak g(Ps - Pe) = g(Pd - Pe), so b*(Ps - Pe) = a*(Pe - Pd).
    Tolerance: the grid of 0.01 mmHg over 40 mmHg.
    """
    a, b = constants
    weight = _features(DoubleExponential(collapse=a, distension=b), 0.0, 40.0)[0]
    assert weight == pytest.approx(b / (a + b), abs=0.0005)


@pytest.mark.parametrize("family", FAMILIES)
def test_compliance_is_greatest_and_one_at_zero(family: str):
    """Every drawn artery has compliance 1 at transmural pressure 0 and less everywhere else.

    Oracle: by construction, by central differences of 0.01 mmHg. Tolerance: 1e-3 at the cusp of the double exponential,
    whose difference quotient misses half a step on each side.
    """
    rng = np.random.default_rng(11)
    pressure = np.linspace(-150.0, 200.0, 3501)
    for _ in range(20):
        artery = FAMILIES[family].draw(rng)
        compliance = (artery.volume(pressure + 0.005) - artery.volume(pressure - 0.005)) / 0.01
        zero = int(np.abs(pressure).argmin())
        assert compliance[zero] == pytest.approx(1.0, abs=1e-3)
        assert compliance.max() <= 1.0 + 1e-6
        assert abs(pressure[compliance.argmax()]) <= 0.1


@pytest.mark.parametrize("family", FAMILIES)
def test_volume_is_finite_however_far_it_is_pressed(family: str):
    """Volumes stay finite from 350 mmHg of collapse to 350 mmHg of distension.

    Oracle: by construction.
    """
    rng = np.random.default_rng(12)
    for _ in range(20):
        assert np.isfinite(FAMILIES[family].draw(rng).volume(np.linspace(-350.0, 350.0, 701))).all()


def test_simulator_shares_no_artery_and_no_method_with_the_engine():
    """No file of the simulator imports the engine's arteries, methods, pulses, deflation or reading.

    Oracle: by construction: a test of a reader with the reader's own model would flatter it.
    """
    room = Path(quietlimb.simulator.__file__).parent
    text = "\n".join(path.read_text(encoding="utf-8") for path in room.rglob("*.py"))
    for stage in ("arteries", "methods", "oscillogram", "pulses", "deflation", "reading", "session"):
        assert f"engine.{stage}" not in text
    assert len(list(room.rglob("*.py"))) > 10
