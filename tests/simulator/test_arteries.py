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
from quietlimb.simulator.arteries.exponential_linear import ExponentialLinear
from quietlimb.simulator.arteries.log_sigmoid import LogSigmoid
from quietlimb.simulator.arteries.logistic import Logistic
from quietlimb.simulator.arteries.skewed_arctangent import SkewedArctangent
from quietlimb.simulator.arteries.tube_law import TubeLaw

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
    (ExponentialLinear(collapsed=8.0, distended=9.8), 0.0, 25, 0.45, 0.69, 0.78, 1.1, -2.1),
    (ExponentialLinear(collapsed=8.0, distended=9.8), 0.0, 60, 0.45, 0.49, 0.60, 0.0, -0.1),
    (ExponentialLinear(collapsed=11.0, distended=13.4), 0.0, 25, 0.45, 0.77, 0.84, 2.9, -4.6),
    (ExponentialLinear(collapsed=11.0, distended=13.4), 0.0, 40, 0.45, 0.65, 0.74, 1.1, -2.1),
    (ExponentialLinear(collapsed=11.0, distended=13.4), 0.0, 60, 0.45, 0.55, 0.65, 0.3, -0.7),
    (ExponentialLinear(collapsed=14.0, distended=17.0), 0.0, 40, 0.45, 0.71, 0.80, 2.4, -4.2),
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

    Oracle: by construction. The table was computed from the formulas of Babbs, Langewouters, Drzewiecki, a
    logistic and the exponential-linear one, diastolic 80 mmHg, apart from this code and before it.
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
def test_volume_grows_with_pressure(family: str):
    """No artery holds less at a higher pressure.

    Oracle: by construction: compliance is positive. Tolerance: none where compliance is above rounding, -60..100 mmHg.
    """
    rng = np.random.default_rng(13)
    for _ in range(20):
        assert (np.diff(FAMILIES[family].draw(rng).volume(np.linspace(-60.0, 100.0, 1601))) > 0.0).all()


def _compliance(artery: Artery, pressure: np.ndarray, step: float) -> np.ndarray:
    return (artery.volume(pressure + step) - artery.volume(pressure - step)) / (2.0 * step)


@pytest.mark.parametrize("skew", [0.1, 0.4, 0.7])
def test_skewed_arctangent_has_the_compliance_printed_above_it(skew: float):
    """The derivative of the volume is the skewed compliance, moved and scaled to 1 at its peak.

    Oracle: by construction: central differences against the formula, its peak sought on a grid of 0.0001 widths.
    Tolerance: 1e-6, the differences' own error.
    """
    artery = SkewedArctangent(width=12.0, skew=skew)

    def printed(x: np.ndarray) -> np.ndarray:
        return (1.0 + skew * x / np.sqrt(1.0 + x**2)) / (1.0 + x**2)

    grid = np.linspace(-1.0, 1.0, 20001)
    peak = grid[printed(grid).argmax()]
    pressure = np.linspace(-90.0, 120.0, 211)
    expected = printed(pressure / 12.0 + peak) / printed(grid).max()
    # the grid misses the peak by up to 0.00005 widths, which moves compliance by as much at most
    assert _compliance(artery, pressure, 0.01) == pytest.approx(expected, abs=6e-5)


def test_skew_makes_the_distended_tail_the_heavier_one():
    """Far out, compliance above over compliance below is (1 + s) / (1 - s).

    Oracle: by construction, the limit of the formula. Tolerance: 5 %: at 3000 mmHg the peak's own place still counts.
    """
    artery = SkewedArctangent(width=12.0, skew=0.5)
    below, above = _compliance(artery, np.array([-3000.0, 3000.0]), 5.0)
    assert above / below == pytest.approx(3.0, rel=0.05)


@pytest.mark.parametrize(("stiffness", "distension"), [(8.0, 10.0), (12.0, 15.0), (20.0, 20.0)])
def test_tube_law_gives_back_the_pressure_of_its_area(stiffness: float, distension: float):
    """The area at each pressure, put into the law, gives this pressure, less that of the peak.

    Oracle: by construction: the law itself, which is not what the volume is computed by; its peak sought on a grid.
    Tolerance: 0.01 mmHg, of the grid, the table being finer.
    """
    artery = TubeLaw(stiffness=stiffness, distension=distension)

    def law(area: np.ndarray) -> np.ndarray:
        return stiffness * (area**distension - area**-1.5)

    pressure = np.linspace(-150.0, 200.0, 701)
    area = artery.volume(pressure) * artery.compliance
    grid = np.linspace(0.5, 1.0, 200_001)
    peak = grid[np.gradient(law(grid), grid).argmin()]
    assert law(area) - law(np.array([peak])) == pytest.approx(pressure, abs=0.01)


def test_tube_law_closes_slowly():
    """Collapsed, compliance falls as the power -5/3 of the pressure.

    Oracle: by construction: A^-1.5 alone is left of the law, so A goes as |P|^(-2/3). Tolerance: 2 % of the power: the
    law's zero lies beside the peak.
    """
    artery = TubeLaw(stiffness=10.0, distension=15.0)
    near, far = _compliance(artery, np.array([-2000.0, -4000.0]), 10.0)
    assert np.log(far / near) / np.log(2.0) == pytest.approx(-5.0 / 3.0, rel=0.02)


def test_exponential_linear_has_the_compliance_printed_above_it():
    """The derivative of the volume is the exponential-linear compliance, and the whole volume is 2 (wn + wp).

    Oracle: by construction: central differences against the formula. Tolerance: 1e-6, the differences' own error.
    """
    artery = ExponentialLinear(collapsed=11.0, distended=15.0)
    pressure = np.linspace(-100.0, 150.0, 251)
    x = np.where(pressure < 0.0, -pressure / 11.0, pressure / 15.0)
    assert _compliance(artery, pressure, 0.01) == pytest.approx((1.0 + x) * np.exp(-x), abs=1e-6)
    assert np.diff(artery.volume(np.array([-1000.0, 1000.0])))[0] == pytest.approx(2.0 * (11.0 + 15.0))


def test_new_families_are_drawn_from_their_ranges():
    """Over 400 draws the parameters fill their ranges and do not leave them; the widths of the fit's family follow
    their law.

    Oracle: invented ranges, frozen; of the fit's family and of n1 from memory. Tolerance: a twentieth of each range at
    its ends; four standard errors of 400 logarithms.
    """
    rng = np.random.default_rng(14)
    skewed = [SkewedArctangent.draw(rng) for _ in range(400)]
    tubes = [TubeLaw.draw(rng) for _ in range(400)]
    own = [ExponentialLinear.draw(rng) for _ in range(400)]
    for values, low, high in (
        ([artery.width for artery in skewed], 8.0, 20.0),
        ([artery.skew for artery in skewed], 0.1, 0.7),
        ([artery.stiffness for artery in tubes], 8.0, 20.0),
        ([artery.distension for artery in tubes], 10.0, 20.0),
    ):
        assert low <= min(values) <= low + 0.05 * (high - low)
        assert high - 0.05 * (high - low) <= max(values) <= high
    width = np.log([artery.collapsed for artery in own])
    ratio = np.log([artery.distended / artery.collapsed for artery in own])
    assert width.mean() == pytest.approx(np.log(11.0), abs=4 * 0.35 / 20)
    assert width.std() == pytest.approx(0.35, abs=4 * 0.35 / np.sqrt(800))
    assert ratio.mean() == pytest.approx(0.3, abs=4 * 0.4 / 20)
    assert ratio.std() == pytest.approx(0.4, abs=4 * 0.4 / np.sqrt(800))


def test_tube_law_halves_where_its_docstring_says():
    """Compliance is one half 7 to 24 mmHg below the peak and 3 to 19 mmHg above it.

    Oracle: by construction, the first and last of a grid with half of the compliance. Tolerance: rounding of the text.
    """
    pressure = np.linspace(-60.0, 60.0, 12001)
    ends = []
    for stiffness in (8.0, 20.0):
        for distension in (10.0, 20.0):
            compliance = _compliance(TubeLaw(stiffness=stiffness, distension=distension), pressure, 0.05)
            half = np.flatnonzero(compliance >= 0.5)
            ends.append((-pressure[half[0]], pressure[half[-1]]))
    below, above = np.array(ends).T
    assert (below.min(), below.max()) == pytest.approx((7.0, 24.0), abs=0.5)
    assert (above.min(), above.max()) == pytest.approx((3.0, 19.0), abs=0.7)


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
