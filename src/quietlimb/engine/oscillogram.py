"""The oscillogram: pulse height against cuff pressure, from the pulses that were kept."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from quietlimb.engine.pulses import Pulses, PulseTrain
from quietlimb.engine.quantiles import median, medians
from quietlimb.engine.tabulated import tabulated

Array = NDArray[np.float64]

SMOOTHED_OVER_MMHG, SEEN_WITHIN_MMHG = 7.0, 12.0
ODD_HEIGHT_SHARE = 0.3  # invented: of the peak
ODD_HEIGHT_SDS = 5.0  # invented: so far from its neighbours a height is not part of the same envelope


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Oscillogram:
    """n points, falling or rising in pressure as recorded.

    cuff_pressure_mmhg : (n,) at mid height of the pulse [mmHg]
    height_mmhg        : (n,) [mmHg]
    height_sd_mmhg     : (n,) from the noise around each pulse [mmHg]
    peak_mmhg          : largest smoothed height [mmHg]
    peak_at_mmhg       : cuff pressure there [mmHg]
    scatter_mmhg       : robust standard deviation of the heights about the smoothed envelope [mmHg]
    """

    cuff_pressure_mmhg: Array
    height_mmhg: Array
    height_sd_mmhg: Array
    peak_mmhg: float
    peak_at_mmhg: float
    scatter_mmhg: float

    def __len__(self) -> int:
        return int(self.height_mmhg.size)

    def smoothed(self, at_mmhg: Array) -> Array:
        """Kernel mean of the heights at the given cuff pressures; nan further than 12 mmHg from any pulse."""
        return _smooth(self.cuff_pressure_mmhg, self.height_mmhg, self.height_sd_mmhg, at_mmhg)

    def scale(self, beat_to_beat: float) -> Array:
        """Scale of each height's error [mmHg]: noise and `beat_to_beat` of the height, raised to the scatter seen."""
        smooth = self.smoothed(self.cuff_pressure_mmhg)
        sd = np.hypot(self.height_sd_mmhg, beat_to_beat * np.maximum(smooth, 0.0))
        seen = 1.4826 * median(np.abs(self.height_mmhg - smooth) / sd)
        return np.asarray(sd * max(seen, 1.0))


def _smooth(pressure: Array, height: Array, sd: Array, at: Array, width: float = SMOOTHED_OVER_MMHG) -> Array:
    certainty = 1.0 / (sd**2 + (0.05 * np.abs(height).max()) ** 2)

    def mean(where: Array) -> Array:
        weight = np.exp(-0.5 * ((where[:, None] - pressure) / width) ** 2) * certainty
        return np.asarray(weight @ height / np.maximum(weight.sum(axis=1), 1e-300))

    return np.where(_to_nearest(pressure, at) <= SEEN_WITHIN_MMHG, tabulated(mean, at), np.nan)


def _to_nearest(pressure: Array, at: Array) -> Array:
    """Distance to the nearest of the pressures. (n,), (m,) -> (m,)"""
    known = np.concatenate(([-np.inf], np.sort(pressure), [np.inf]))
    above = np.clip(np.searchsorted(known, at), 1, known.size - 1)
    return np.asarray(np.minimum(at - known[above - 1], known[above] - at))


def find_oscillogram(train: PulseTrain) -> tuple[Oscillogram, Pulses] | None:
    """The oscillogram and the pulses with odd heights set aside; None with fewer than five pulses left."""
    pulses = train.pulses
    reasons = list(pulses.set_aside)
    for _ in range(2):
        kept = np.array([reason == "" for reason in reasons])
        if kept.sum() < 5:
            return None
        pressure, height = pulses.cuff_pressure_mmhg[kept], pulses.height_mmhg[kept]
        sd = pulses.height_sd_mmhg[kept]
        middle = _median_of_neighbours(pressure, height)
        scatter = max(1.4826 * median(np.abs(height - middle)), median(sd))
        odd = np.abs(height - middle) > ODD_HEIGHT_SDS * np.hypot(scatter, 0.05 * np.abs(middle))
        # a steep flank with few pulses looks odd to its neighbours, and the fit forgives small outliers by itself
        odd &= np.abs(height - middle) > ODD_HEIGHT_SHARE * middle.max()
        for k in np.flatnonzero(kept)[odd]:
            reasons[k] = "odd-height"
        if not odd.any():
            break
    kept = np.array([reason == "" for reason in reasons])
    if kept.sum() < 5:
        return None
    return _describe(pulses, kept), replace(pulses, set_aside=tuple(reasons))


def _median_of_neighbours(pressure: Array, height: Array) -> Array:
    """Median of the seven heights nearest in cuff pressure, itself included."""
    order = np.argsort(pressure, kind="stable")
    padded = np.pad(height[order], 3, mode="reflect") if height.size > 3 else np.pad(height[order], 3, mode="edge")
    found = np.empty_like(height)
    found[order] = medians(np.lib.stride_tricks.sliding_window_view(padded, 7))
    return found


def _describe(pulses: Pulses, kept: Sequence[bool] | NDArray[np.bool_]) -> Oscillogram:
    pressure, height = pulses.cuff_pressure_mmhg[kept], pulses.height_mmhg[kept]
    sd = pulses.height_sd_mmhg[kept]
    smooth = _smooth(pressure, height, sd, pressure)
    top = int(np.argmax(smooth))
    return Oscillogram(
        cuff_pressure_mmhg=pressure,
        height_mmhg=height,
        height_sd_mmhg=sd,
        peak_mmhg=float(smooth[top]),
        peak_at_mmhg=float(pressure[top]),
        scatter_mmhg=1.4826 * median(np.abs(height - smooth)),
    )
