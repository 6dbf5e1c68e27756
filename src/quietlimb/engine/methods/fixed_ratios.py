"""Fixed ratios: systolic and diastolic where an asymmetric Gaussian envelope has fallen to a fixed share of its peak.

    A(Pe) = A0 exp( -(Pe - m)^2 / (2 s^2) )     s = s1 below the peak, s2 above it
    mean = m;  systolic = m + s2 sqrt(-2 ln rs);  diastolic = m - s1 sqrt(-2 ln rd)

The oldest rule, kept for comparison. No single pair of ratios can be right: they move with artery and pulse pressure,
which is why the shared part of the uncertainty is large. The ratios lie between the first published ones, about 0.5 and
0.8 [Geddes1982]_, and what small pulse pressures ask for. The pressure of the largest pulse is a weighted mean of
systolic and diastolic, not the time mean [Chandrasekhar2019]_.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from quietlimb.engine.methods.least_squares import Fitted, fit
from quietlimb.engine.oscillogram import Oscillogram
from quietlimb.engine.values import Cited

Array = NDArray[np.float64]

SYSTOLIC_RATIO = Cited(0.55, "1", "Geddes1982", "about 0.5, raised for small pulse pressures", "derived")
DIASTOLIC_RATIO = Cited(0.82, "1", "Geddes1982", "about 0.8, raised for small pulse pressures", "derived")
RATIO_SD = Cited(0.12, "1", "Chandrasekhar2019", "ratios vary over a range 0.5 to 0.6 wide", "derived")
PEAK_IS_NOT_MEAN_SD = Cited(5.0, "mmHg", "Chandrasekhar2019", "peak weight 0.2 to 0.5 of pulse pressure", "derived")
BOUNDS = (np.array([0.0, 0.5, 0.5, -7.0]), np.array([350.0, 5.0, 5.0, 4.0]))
START_WIDTHS_MMHG = (15.0, 30.0)
WIDTH_MMHG, WIDTH_LN_SD = 25.0, 0.7  # invented: only keeps the fit from running away where a flank is missing


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Bell:
    """The asymmetric Gaussian through an oscillogram: m, ln s1, ln s2, ln A0, their covariance, and the misfit."""

    parameters: Array
    covariance: Array
    misfit: float


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class BellFit:
    """The pressures that a rule picks from a bell.

    values, own_cov and shared_cov as in `ArteryFit`; parameters and misfit as in `Bell`.
    """

    values: Array
    own_cov: Array
    shared_cov: Array
    parameters: Array
    misfit: float

    def envelope(self, cuff_pressure_mmhg: Array) -> Array:
        """Fitted pulse height at these cuff pressures [mmHg]."""
        return np.asarray(_heights(self.parameters[None, :], cuff_pressure_mmhg[None, :])[0][0])


def fit_ratios(oscillograms: Sequence[Oscillogram]) -> list[BellFit]:
    """Envelope fits of many oscillograms, and the pressures that the ratios pick from them."""
    return [_by_ratios(bell) for bell in fit_bells(oscillograms)]


def _by_ratios(bell: Bell) -> BellFit:
    s1, s2 = np.exp(bell.parameters[1:3])
    up = float(np.sqrt(-2.0 * np.log(SYSTOLIC_RATIO.value)))
    down = float(np.sqrt(-2.0 * np.log(DIASTOLIC_RATIO.value)))
    shared_sd = np.array(
        [
            s2 / (SYSTOLIC_RATIO.value * up) * RATIO_SD.value,
            PEAK_IS_NOT_MEAN_SD.value,
            s1 / (DIASTOLIC_RATIO.value * down) * RATIO_SD.value,
        ]
    )
    return at_widths(bell, up=up, down=down, shared_sd=shared_sd)


def at_widths(bell: Bell, *, up: float, down: float, shared_sd: Array) -> BellFit:
    """The mean at the peak of a bell, systolic and diastolic a number of its widths above and below.

    up, down  : widths s2 above the peak, s1 below it
    shared_sd : (3,) standard deviations that all readings of this animal share: systolic, mean, diastolic [mmHg]
    """
    m, (s1, s2) = bell.parameters[0], np.exp(bell.parameters[1:3])
    by_theta = np.array([[1.0, 0.0, s2 * up, 0.0], [1.0, 0.0, 0.0, 0.0], [1.0, -s1 * down, 0.0, 0.0]])
    return BellFit(
        values=np.array([m + s2 * up, m, m - s1 * down]),
        own_cov=by_theta @ bell.covariance @ by_theta.T,
        shared_cov=np.diag(shared_sd**2),
        parameters=bell.parameters,
        misfit=bell.misfit,
    )


def _heights(theta: Array, pressure: Array) -> tuple[Array, Array]:
    m, s1, s2, a = (theta[:, j : j + 1] for j in range(4))
    below = pressure < m
    s = np.exp(np.where(below, s1, s2))
    u = (pressure - m) / s
    height = np.exp(a - 0.5 * u**2)
    slope = np.stack((height * u / s, height * u**2 * below, height * u**2 * ~below, height), axis=-1)
    return height, slope


def _prior(theta: Array) -> tuple[Array, Array]:
    slope = np.zeros((theta.shape[0], 2, 4))
    slope[:, 0, 1] = slope[:, 1, 2] = 1.0 / WIDTH_LN_SD
    return (theta[:, 1:3] - np.log(WIDTH_MMHG)) / WIDTH_LN_SD, slope


def fit_bells(oscillograms: Sequence[Oscillogram]) -> list[Bell]:
    """The bells through the heights of many oscillograms, each from two starts."""
    if not oscillograms:
        return []
    shape = len(oscillograms), max(len(o) for o in oscillograms)
    pressure, observed, sd = (np.full(shape, empty) for empty in (100.0, 0.0, np.inf))
    for k, o in enumerate(oscillograms):
        pressure[k, : len(o)], observed[k, : len(o)], sd[k, : len(o)] = (
            o.cuff_pressure_mmhg,
            o.height_mmhg,
            o.scale(0.05),
        )
    per = len(START_WIDTHS_MMHG)
    starts = [
        [o.peak_at_mmhg, np.log(width), np.log(width), np.log(max(o.peak_mmhg, 1e-3))]
        for o in oscillograms
        for width in START_WIDTHS_MMHG
    ]
    pressure, observed, sd = (np.repeat(values, per, axis=0) for values in (pressure, observed, sd))
    fitted = fit(np.array(starts), _heights, observed, sd, _prior, bounds=BOUNDS, given=(pressure,))
    best = np.argmin(fitted.cost.reshape(-1, per), axis=1) + per * np.arange(len(oscillograms))
    return [_bell(fitted, int(b), len(o)) for b, o in zip(best, oscillograms, strict=True)]


def _bell(fitted: Fitted, b: int, heights: int) -> Bell:
    residual = fitted.residual[b, :heights]
    misfit = float(np.sqrt(np.sum(np.minimum(residual**2, 9.0)) / max(residual.size - 4, 1)))
    inflation = max(misfit, 1.0) ** 2
    precision = fitted.data_precision[b] / inflation + fitted.prior_precision[b] + 1e-12 * np.eye(4)
    return Bell(parameters=fitted.parameters[b], covariance=np.linalg.inv(precision), misfit=misfit)
