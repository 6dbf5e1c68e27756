"""Simulated typed series, and the courses that levels take."""

from __future__ import annotations

import numpy as np
import pytest

from quietlimb.engine.errors import ParameterError
from quietlimb.simulator import simulate_series
from quietlimb.simulator.level_course import draw_level_course
from quietlimb.simulator.series import KINDS


@pytest.mark.parametrize("kind", KINDS)
def test_same_seed_same_numbers_and_each_kind_is_plausible(kind: str):
    """Readings repeat for a seed; systolic above mean above diastolic; whole numbers, as a display shows.

    Oracle: by construction.
    """
    for seed in range(30):
        first, again = (simulate_series(seed, kind=kind, spoiled_share=0.25) for _ in range(2))  # type: ignore[arg-type]
        assert first.systolic.tobytes() == again.systolic.tobytes()
        assert (first.systolic > first.mean).all()
        assert (first.mean > first.diastolic).all()
        assert (first.systolic == np.round(first.systolic)).all()
        assert first.minute[0] == 0.0
        assert (np.diff(first.minute) >= 0.5).all()
        assert (np.diff(first.minute) <= 1.9).all()


def test_without_noise_the_last_reading_is_the_truth():
    """A series without noise ends on its true level, and starts above it by the fall.

    Oracle: by construction. Tolerance: rounding to whole mmHg.
    """
    for kind in KINDS:
        series = simulate_series(2, kind=kind, noise_sd_mmhg=0.0)
        assert series.systolic[-1] == pytest.approx(series.truth.systolic, abs=0.51)
        assert series.mean[-1] == pytest.approx(series.truth.mean, abs=0.51)
        assert series.diastolic[-1] == pytest.approx(series.truth.diastolic, abs=0.51)
        assert series.systolic[0] - series.systolic[-1] == pytest.approx(series.truth.fall_mmhg, abs=1.01)


def test_noise_has_the_sd_and_the_correlation_asked_for():
    """Over 400 series of 10 level readings noise has SD 8 and correlation 0.3 from reading to reading.

    Oracle: by construction. Tolerance: four standard errors; the kurtosis of Student t with 5 degrees of freedom (9)
    makes the SD's standard error sqrt(8 / (4 * 4000)) = 2.2 % and the correlation's at most 0.02.
    """
    noise = []
    for seed in range(400):
        series = simulate_series(seed, readings=10, noise_sd_mmhg=8.0, autocorrelation=0.3)
        noise.append(series.systolic - series.truth.systolic)
    values = np.array(noise)
    assert values.std() == pytest.approx(8.0, rel=0.09)
    assert np.mean(values[:, 1:] * values[:, :-1]) / 64.0 == pytest.approx(0.3, abs=0.12)


@pytest.mark.parametrize("share", [0.0, 0.10, 0.25])
def test_spoiled_readings_are_far_off_and_as_many_as_asked_for(share: float):
    """The share of spoiled readings is the one asked for; they are off by 20 to 70 mmHg, up and down.

    Oracle: by construction: the same seed without spoiling differs by that and nothing else. Tolerance: four standard
    errors of a share of 720 readings; 1 mmHg of rounding.
    """
    spoiled, off = [], []
    for seed in range(120):
        clean = simulate_series(seed, noise_sd_mmhg=5.0)
        series = simulate_series(seed, noise_sd_mmhg=5.0, spoiled_share=share)
        spoiled.append(series.spoiled)
        difference = series.systolic - clean.systolic
        assert not difference[~series.spoiled].any()
        # the lowest pressures are held at 40 mmHg
        off += list(difference[series.spoiled & (series.systolic > 40.0)])
    assert np.mean(spoiled) == pytest.approx(share, abs=4 * np.sqrt(share * (1 - share) / 720))
    if share > 0.0:
        assert np.abs(off).min() >= 19.0
        assert np.abs(off).max() <= 71.0
        assert 0.3 < np.mean(np.array(off) > 0) < 0.7


def test_courses_keep_to_their_laws():
    """Fast falls: gamma with shape 2 and scale 9 has mean 18; slow falls 10..45, rises 5..20 mmHg; level is level.

    Oracle: by construction. Tolerance: four standard errors of a mean of 1,000 (9 * sqrt(2 / 1000)).
    """
    rng = np.random.default_rng(1)
    fast = [draw_level_course(rng, "falling") for _ in range(1000)]
    assert np.mean([c.excess_mmhg for c in fast]) == pytest.approx(18.0, abs=4 * 9.0 * np.sqrt(2 / 1000))
    assert all(1.5 <= c.time_constant_min <= 6.0 for c in fast)
    slow = [draw_level_course(rng, "slowly falling") for _ in range(200)]
    assert all(10.0 <= c.excess_mmhg <= 45.0 and 20.0 <= c.time_constant_min <= 60.0 for c in slow)
    assert all(-20.0 <= draw_level_course(rng, "rising").excess_mmhg <= -5.0 for _ in range(200))
    assert draw_level_course(rng, "level").excess(3.0) == 0.0
    assert fast[0].excess(0.0) == fast[0].excess_mmhg
    assert fast[0].excess(fast[0].time_constant_min) == pytest.approx(fast[0].excess_mmhg / np.e)


def test_impossible_series_are_refused():
    """Unknown kinds, no readings, shares and correlations that are none, raise with a remedy.

    Oracle: by construction.
    """
    with pytest.raises(ParameterError, match="fast-fall"):
        simulate_series(1, kind="zigzag")  # type: ignore[arg-type]
    with pytest.raises(ParameterError, match="one reading or more"):
        simulate_series(1, readings=0)
    with pytest.raises(ParameterError, match="share of 0 to 1"):
        simulate_series(1, spoiled_share=1.5)
    with pytest.raises(ParameterError, match="give 0 to"):
        simulate_series(1, autocorrelation=1.0)
