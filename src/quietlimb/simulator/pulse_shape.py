"""The shape of one arterial pulse, from foot to foot, without its size."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import brentq

Samples = NDArray[np.float64]

_POINTS = 512
_PHASE = np.arange(_POINTS) / _POINTS
# A Gaussian taper over the harmonics rounds the joints; the 20th keeps 2 % of its height.
_TAPER = np.exp(-((np.arange(_POINTS // 2 + 1) / 10.0) ** 2))
_FASTEST_RUN_OFF, _SLOWEST_RUN_OFF = 25.0, -4.0


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class PulseShape:
    """A periodic pulse with its foot at phase 0, 0 at the foot and 1 at the peak.

    height      : (512,) at equally spaced phases 0..1
    form_factor : time mean of the height
    upstroke    : phase of the peak
    """

    height: Samples
    form_factor: float
    upstroke: float

    def at(self, phase: Samples) -> Samples:
        """Height at phases 0..1."""
        height: Samples = np.interp(phase * _POINTS, _TABLE_INDEX, np.append(self.height, self.height[0]))
        return height

    @property
    def spread(self) -> float:
        """Variance of the height about its straight line over one beat: what a fit of height, level and slope sees."""
        ramp = _PHASE - _PHASE.mean()
        slope = float(ramp @ self.height / (ramp @ ramp))
        return float(np.var(self.height - slope * ramp))


_TABLE_INDEX = np.arange(_POINTS + 1, dtype=np.float64)


def _pulse(run_off: float, upstroke: float, dicrotic: float) -> Samples:
    """A raised-cosine rise, an exponential run-off that ends at 0 and a dicrotic wave upon it; rounded, then scaled."""
    after = np.clip((_PHASE - upstroke) / (1.0 - upstroke), 0.0, 1.0)
    falling = 1.0 - after if abs(run_off) < 1e-6 else 1.0 - np.expm1(-run_off * after) / np.expm1(-run_off)
    pulse = np.where(upstroke > _PHASE, 0.5 - 0.5 * np.cos(np.pi * _PHASE / upstroke), falling)
    wave_centre = upstroke + 0.38 * (1.0 - upstroke)
    pulse = pulse + dicrotic * np.exp(-0.5 * ((_PHASE - wave_centre) / 0.07) ** 2)
    rounded: Samples = np.fft.irfft(np.fft.rfft(pulse) * _TAPER, _POINTS)
    rounded = np.roll(rounded, -int(rounded.argmin()))
    rounded -= rounded.min()
    rounded /= rounded.max()
    return rounded


def pulse_shape(*, form_factor: float, upstroke: float, dicrotic: float) -> PulseShape:
    """A pulse with this time mean, rising for about this share of the period.

    Parameters
    ----------
    form_factor : time mean of the normalised pulse. 0.28 to 0.45
    upstroke    : 0.15 to 0.30 of the period
    dicrotic    : height of the dicrotic wave, 0 to 0.25 of the pulse

    Where a large dicrotic wave cannot go with so small a mean, the mean comes out as small as that wave allows.
    """

    rise = upstroke
    for _ in range(2):
        height = _pulse_with_mean(form_factor, rise, dicrotic)
        # rounding moves the foot forward and the peak back: aim beside the mark
        rise += upstroke - float(_PHASE[height.argmax()])
    height = _pulse_with_mean(form_factor, rise, dicrotic)
    height.setflags(write=False)
    return PulseShape(height=height, form_factor=float(height.mean()), upstroke=float(_PHASE[height.argmax()]))


def _pulse_with_mean(form_factor: float, rise: float, dicrotic: float) -> Samples:
    def excess(run_off: float) -> float:
        return float(_pulse(run_off, rise, dicrotic).mean()) - form_factor

    if excess(_FASTEST_RUN_OFF) >= 0.0:
        return _pulse(_FASTEST_RUN_OFF, rise, dicrotic)
    return _pulse(float(brentq(excess, _SLOWEST_RUN_OFF, _FASTEST_RUN_OFF, xtol=5e-3)), rise, dicrotic)


def draw_pulse_shape(rng: np.random.Generator) -> PulseShape:
    """Form factor 0.28..0.45, upstroke 0.15..0.30, dicrotic wave 0..0.25 (ranges invented)."""
    return pulse_shape(
        form_factor=float(rng.uniform(0.28, 0.45)),
        upstroke=float(rng.uniform(0.15, 0.30)),
        dicrotic=float(rng.uniform(0.0, 0.25)),
    )
