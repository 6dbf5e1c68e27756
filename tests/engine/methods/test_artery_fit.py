"""The artery fit."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from engine.methods.oscillograms import by_formula, oscillogram_and_train
from quietlimb.engine.arteries.artery import FAMILIES
from quietlimb.engine.methods.artery_fit import FAMILY_SD, PEAK_OFFSET_SD, ArteryFit, fit_artery

CASES = [(150.0, 100.0, 14.0, 20.0), (120.0, 85.0, 12.0, 18.0), (190.0, 120.0, 16.0, 30.0)]
ONE_OF_EACH = [
    by_formula(name, systolic=150.0, diastolic=100.0, noise_mmhg=0.02, pulses=40 + 7 * k, seed=k)
    for k, name in enumerate(FAMILIES)
]


def fit_one(*args: object, **made: float) -> ArteryFit:
    """The fit of one oscillogram by formula."""
    oscillogram, train = by_formula(*args, **made)  # type: ignore[arg-type]
    return fit_artery([oscillogram], [train])[0]


@pytest.mark.parametrize("name", FAMILIES)
@pytest.mark.parametrize(("systolic", "diastolic", "collapsed", "distended"), CASES)
def test_an_exact_oscillogram_gives_back_its_pressures(
    name: str, systolic: float, diastolic: float, collapsed: float, distended: float
):
    """From the noiseless heights of any of its families the fit finds systolic and diastolic.

    Oracle: by construction. Tolerance: 1 mmHg, 1.5 where another family that fits nearly as well has its say.
    """
    fit = fit_one(name, systolic=systolic, diastolic=diastolic, collapsed=collapsed, distended=distended)
    tolerance = 1.0 if fit.weight > 0.9 else 1.5
    assert fit.values[0] == pytest.approx(systolic, abs=tolerance)
    assert fit.values[2] == pytest.approx(diastolic, abs=tolerance)
    # no pulse form is to be seen here, so the mean is the usual one
    assert fit.values[1] == pytest.approx(fit.values[2] + 0.36 * (fit.values[0] - fit.values[2]), abs=1e-6)
    assert fit.misfit < 0.1


@pytest.mark.parametrize("name", FAMILIES)
def test_the_envelope_runs_through_the_heights(name: str):
    """The fitted envelope goes through every exact height, and to 0 far from the pressures.

    Oracle: by construction. Tolerance: 1 % of the peak, for the pull of the priors.
    """
    oscillogram, train = by_formula(name, systolic=150.0, diastolic=100.0)
    fit = fit_artery([oscillogram], [train])[0]
    envelope = fit.envelope(oscillogram.cuff_pressure_mmhg)
    assert np.abs(envelope - oscillogram.height_mmhg).max() < 0.01 * oscillogram.height_mmhg.max()
    assert fit.envelope(np.array([345.0]))[0] < 0.02 * oscillogram.height_mmhg.max()


def test_the_right_family_is_likely():
    """Where the families differ enough to be told apart, the heights' own family gets the greatest weight.

    Oracle: by construction: the two that differ most, at a small pulse pressure.
    """
    for name in ("exponential-linear", "slow"):
        fit = fit_one(name, systolic=120.0, diastolic=85.0)
        assert fit.family == name
        assert 0.5 < fit.weight <= 1.0


@pytest.mark.parametrize("name", FAMILIES)
def test_a_family_left_out_has_no_say(name: str):
    """Heights of a family that is left out, the first as any other, are fitted by those that remain.

    Oracle: by construction: in the shipped average of these heights it has nearly all the weight or a part of it.
    """
    fewer = {other: family for other, family in FAMILIES.items() if other != name}
    oscillogram, train = by_formula(name, systolic=150.0, diastolic=100.0)
    fit, shipped = (fit_artery([oscillogram], [train], families=given)[0] for given in (fewer, FAMILIES))
    assert fit.family in fewer
    assert fit.misfit > shipped.misfit
    assert not np.array_equal(fit.values, shipped.values)


def test_noise_raises_the_own_part_and_never_lowers_the_shared_below_its_floor():
    """Less noise makes the part that is drawn anew smaller; what one recording cannot know does not vanish with it.

    Oracle: by construction. The floor: the offset of the compliance peak and what no family fits, in quadrature; the
    whole of it is there already without noise. Six seeds each. Tolerance: rounding.
    """
    fits, own = [], []
    for noise in (0.1, 0.03, 0.002):
        made = [by_formula("slow", systolic=150.0, diastolic=100.0, noise_mmhg=noise, seed=seed) for seed in range(6)]
        fits += fit_artery([o for o, _ in made], [t for _, t in made])
        own.append(np.sqrt(np.mean([np.diag(fit.own_cov) for fit in fits[-6:]], axis=0)))
    assert (own[0] > 1.3 * own[1]).all()
    assert (own[1] > own[2]).all()
    floor = np.sqrt([PEAK_OFFSET_SD.value**2 + sd.value**2 for sd in FAMILY_SD])
    for fit in fits:
        assert (np.sqrt(np.diag(fit.shared_cov)) >= floor - 1e-9).all()
        for covariance in (fit.own_cov, fit.shared_cov):
            np.testing.assert_allclose(covariance, covariance.T, atol=1e-9)
            assert np.linalg.eigvalsh(covariance).min() > -1e-9


def test_own_part_covers_the_scatter_of_repeated_readings():
    """Readings of one artery under new noise scatter about as the own part says.

    Oracle: by construction, 40 seeds. Tolerance: the SD of 40 values is known to 11 %, three of which are 35 %; the
    own part allows for the beat-to-beat change that is not in these heights, so it may be up to three times too wide.
    """
    made = [by_formula("slow", systolic=150.0, diastolic=100.0, noise_mmhg=0.08, seed=seed) for seed in range(40)]
    fits = fit_artery([o for o, _ in made], [t for _, t in made])
    scatter = np.std([fit.values for fit in fits], axis=0, ddof=1)
    own = np.sqrt(np.mean([np.diag(fit.own_cov) for fit in fits], axis=0))
    assert (scatter[[0, 2]] < 1.35 * own[[0, 2]]).all()
    assert (scatter[[0, 2]] > own[[0, 2]] / 3.0).all()


def test_the_priors_hold_where_nothing_is_seen():
    """From noise alone the pulse pressure comes out near the usual share of the level, not as what noise suggests.

    Oracle: by construction: the prior's share 0.45 with SD 0.35 in its logarithm. Tolerance: three of these.
    """
    rng = np.random.default_rng(13)
    cuff = np.linspace(170.0, 60.0, 30)
    oscillogram, train = oscillogram_and_train(cuff, np.abs(0.02 + 0.05 * rng.normal(size=30)), sd_mmhg=0.05)
    fit = fit_artery([oscillogram], [train])[0]
    pulse_pressure = fit.values[0] - fit.values[2]
    level = fit.values[2] + 0.4 * pulse_pressure
    assert abs(np.log(pulse_pressure / (0.45 * level))) < 3.0 * 0.35
    assert (np.sqrt(np.diag(fit.own_cov + fit.shared_cov)) > 10.0)[[0, 2]].all()


def test_a_lag_raises_the_systolic_pressure():
    """The same heights at a quick pulse are read as of a higher systolic pressure, since a lagging wall blunts them.

    Oracle: by construction, from the docstring of the module on pulse form: ignoring the lag puts the systolic too low.
    """
    slow = by_formula("slow", systolic=150.0, diastolic=100.0)
    quick = oscillogram_and_train(slow[0].cuff_pressure_mmhg, slow[0].height_mmhg, period_s=0.3)
    without, behind = fit_artery([slow[0], quick[0]], [slow[1], quick[1]])
    assert behind.values[0] > without.values[0] + 0.5
    assert behind.response.min() < 0.95
    assert without.response.min() > 0.999


def test_many_at_once_are_each_like_one():
    """Oscillograms of different lengths fitted together come out as when each is fitted alone.

    Oracle: a slower twin, one at a time. Tolerance: 0.02 mmHg, where each fit stops once a step gains next to nothing.
    """
    together = fit_artery([o for o, _ in ONE_OF_EACH], [t for _, t in ONE_OF_EACH])
    for (oscillogram, train), fit in zip(ONE_OF_EACH, together, strict=True):
        alone = fit_artery([oscillogram], [train])[0]
        np.testing.assert_allclose(fit.values, alone.values, atol=0.02)
        np.testing.assert_allclose(fit.own_cov, alone.own_cov, atol=0.02)
        np.testing.assert_allclose(fit.shared_cov, alone.shared_cov, atol=0.02)
        assert fit.family == alone.family


def test_none_at_all():
    """No oscillograms, no fits.

    Oracle: by construction.
    """
    assert fit_artery([], []) == []


def test_without_whole_pulses_the_heights_stand(monkeypatch: pytest.MonkeyPatch):
    """A fit of whole pulses whose equations cannot be solved leaves the values of the heights.

    Oracle: by construction: the same oscillogram where whole pulses are never asked for.
    """
    oscillogram, train = by_formula("never stiff", systolic=150.0, diastolic=100.0, noise_mmhg=0.02)
    train = replace(train, noise_mmhg=0.01)
    asked = []

    def unsolvable(*_args: object, **_named: object) -> None:
        asked.append(True)
        raise np.linalg.LinAlgError

    monkeypatch.setattr("quietlimb.engine.methods.artery_fit.fit_waveforms", unsolvable)
    fit = fit_artery([oscillogram], [train])[0]
    monkeypatch.setattr("quietlimb.engine.methods.artery_fit.fit_waveforms", lambda *_args, **_named: None)
    np.testing.assert_array_equal(fit.values, fit_artery([oscillogram], [train])[0].values)
    assert asked
