"""The arterial pulse behind the cuff's pulses: its form, its form factor, and what a lagging wall makes of its height.

Below the diastolic pressure the artery is open all the time, so each sample of a pulse tells the arterial pressure:

    P(t) = V^-1( V(Pd - Pe) + y(t) / k )

The wall follows with a first-order lag, lag dV/dt + V = V_static(P). It blunts narrow pulses most, and pulses are
narrowest near the systolic pressure: a fit that ignores it puts the systolic pressure too low. The form itself is used
as seen, a little blunted: taking the lag out of it again would mostly sharpen noise.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from quietlimb.engine.arteries.artery import Family
from quietlimb.engine.pulses import PulseTrain
from quietlimb.engine.values import Cited

Array = NDArray[np.float64]

POINTS = 64  # of one period
WALL_LAG_S = Cited(0.0225, "s", "Quietlimb", "wall and tissue, the middle of 5 to 40 ms", "invented")
FORM_FACTOR = Cited(0.36, "1", "Quietlimb", "(mean - diastolic) / pulse pressure of a limb artery", "from memory")
FORM_FACTOR_SD = Cited(0.05, "1", "Quietlimb", "see FORM_FACTOR", "invented")
SEEN_FORM_SD = 0.03  # invented: what a foreign artery does to a pulse seen below diastolic
USUAL_RISE, USUAL_FALL = 0.20, 0.30  # invented: of the period, upstroke and time constant of the decay
BELOW_DIASTOLIC_MMHG = 30.0
FEWEST_PULSES = 3


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class PulseForm:
    """curve: (POINTS,) arterial pulse over one period from foot to foot, 0 to 1; factor: its mean, with its SD."""

    curve: Array
    factor: float
    factor_sd: float


def usual_form() -> PulseForm:
    """What is taken for the pulse where too few lie below the diastolic pressure."""
    phase = np.arange(POINTS) / POINTS
    rise = 0.5 - 0.5 * np.cos(np.pi * phase / USUAL_RISE)
    fall = np.exp(-(phase - USUAL_RISE) / USUAL_FALL)
    last = np.exp(-(1.0 - USUAL_RISE) / USUAL_FALL)
    curve = np.where(phase < USUAL_RISE, rise, (fall - last) / (1.0 - last))
    return PulseForm(curve=curve, factor=FORM_FACTOR.value, factor_sd=FORM_FACTOR_SD.value)


def pulse_form(
    family: Family, *, diastolic: float, pulse_pressure: float, collapsed: float, distended: float, train: PulseTrain
) -> PulseForm:
    """Form of the arterial pulse by the cuff's pulses up to 30 mmHg below diastolic, seen back through this artery."""
    pulses = train.pulses
    useful = pulses.kept & (pulses.height_mmhg > 3.0 * pulses.height_sd_mmhg)
    useful &= (pulses.cuff_pressure_mmhg < diastolic) & (pulses.cuff_pressure_mmhg > diastolic - BELOW_DIASTOLIC_MMHG)
    if useful.sum() < FEWEST_PULSES:
        return usual_form()
    mean = train.shape[useful].mean(axis=0)
    top = int(np.argmax(mean))
    foot = int(np.argmin(mean[: top + 1]))
    height = float(mean[top] - mean[foot])
    noise = train.noise_mmhg / np.sqrt(useful.sum())
    if height <= 3.0 * noise:
        return usual_form()
    period = max(train.period_s / train.shape_step_s, mean.size - foot + 1.0)
    seen = np.append(mean[foot:] - mean[foot], 0.0)  # the end of the pulse is not cut out: a straight line to the foot
    at = np.append(np.arange(seen.size - 1.0), period)
    cuff = np.interp(np.arange(POINTS) / POINTS * period, at, seen)
    cuff = (cuff - cuff.min()) / float(np.ptp(cuff))
    below = diastolic - float(pulses.cuff_pressure_mmhg[useful].mean())
    pressure = np.linspace(0.0, pulse_pressure, 60)
    volume = family.volume(pressure + below, np.array([collapsed]), np.array([distended]))
    volume = (volume - volume[0]) / (volume[-1] - volume[0])
    curve = np.interp(cuff, volume, pressure) / pulse_pressure
    prior = FORM_FACTOR_SD.value**-2
    precision = 1.0 / (SEEN_FORM_SD**2 + (noise / height) ** 2)
    factor = (precision * float(curve.mean()) + prior * FORM_FACTOR.value) / (precision + prior)
    return PulseForm(curve=curve, factor=factor, factor_sd=float((precision + prior) ** -0.5))


def _with_lag(curves: Array, period_s: float, lag_s: float) -> Array:
    """Periodic curves (..., POINTS) behind a first-order lag."""
    turn = 2j * np.pi * np.arange(POINTS // 2 + 1) / period_s
    behind = np.fft.irfft(1.0 / (1.0 + turn * lag_s), POINTS)
    return np.asarray(curves @ behind[(np.arange(POINTS) - np.arange(POINTS)[:, None]) % POINTS])


def lag_response(
    family: Family,
    form: PulseForm,
    cuff_pressure_mmhg: Array,
    *,
    diastolic: float,
    pulse_pressure: float,
    collapsed: float,
    distended: float,
    period_s: float,
) -> Array:
    """Share of the static pulse height that a lagging wall lets through, at each cuff pressure. (n,) -> (n,), 0..1"""
    transmural = diastolic + pulse_pressure * form.curve[None, :] - cuff_pressure_mmhg[:, None]
    static = family.volume(transmural, np.array([[collapsed]]), np.array([[distended]]))
    lagged = _with_lag(static, period_s, WALL_LAG_S.value)
    return np.asarray(np.ptp(lagged, axis=1) / np.maximum(np.ptp(static, axis=1), 1e-12))
