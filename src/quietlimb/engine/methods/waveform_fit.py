"""Waveform fit: every sample of every pulse explained by one arterial pulse and one artery.

    y(t) = k L V( Pa(t) - eta Pc(t) )       L: first-order lag of wall and tissue; V: volume of the artery

A height compares the artery's volume at two pressures only, so what the artery is like and what the pressures are get
mixed up: arteries of different families give the same heights at different pressures. A whole pulse passes through all
pressures between diastolic and systolic, and as the cuff falls it passes through them again at another transmural
pressure. That tells the artery apart from the pulse, and the arterial pulse Pa(t) is found with it: its highest, mean
and lowest value are the result.

Pa(t) is a mean and ten harmonics; the artery has two half widths, a residue, the lag and a gain. All are found by
Levenberg and Marquardt's rule with Student-t errors and Gaussian priors. What a pulse has of its own - level, a slow
drift, a little time, a little size - is integrated out. Nothing is drawn at random.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from quietlimb.engine.arteries.free_residue import volume_alone, volumes
from quietlimb.engine.methods.least_squares import INFORMATION, loss, weight
from quietlimb.engine.methods.pulse_form import POINTS, WALL_LAG_S
from quietlimb.engine.methods.waveforms import Waveforms
from quietlimb.engine.values import Cited

Array = NDArray[np.float64]

PHASES, HARMONICS = POINTS, 10  # a start comes as a form of the pulse
PHASE = np.arange(PHASES) / PHASES
ORDER = np.arange(1, HARMONICS + 1)
BASIS = np.concatenate((np.cos(2.0 * np.pi * ORDER[:, None] * PHASE), np.sin(2.0 * np.pi * ORDER[:, None] * PHASE)))
MEAN_AND_BASIS = np.concatenate((np.ones((1, PHASES)), BASIS))
DISTANCE = (np.arange(PHASES)[:, None] - np.arange(PHASES)) % PHASES  # of a point of the period behind another
PULSE = slice(1, 1 + 2 * HARMONICS)
COLLAPSED_LN, RATIO_LN, RESIDUE, LAG, GAIN_LN = range(1 + 2 * HARMONICS, 6 + 2 * HARMONICS)
PARAMETERS = 6 + 2 * HARMONICS

TRANSMISSION = Cited(0.99, "1", "Quietlimb", "of the cuff pressure to the artery, the middle of 0.98 to 1", "invented")
WALL_LAG_SD_S = Cited(0.010, "s", "Quietlimb", "see pulse_form", "invented")
RESIDUE_SHARE = Cited(0.20, "1", "Quietlimb", "compliance that a distended artery keeps", "invented")
RESIDUE_SHARE_SD = Cited(0.15, "1", "Quietlimb", "see RESIDUE_SHARE", "invented")
HARMONIC_SHARE = 1.0  # invented: prior SD of a pulse's first harmonic, of the pulse pressure
HARMONIC_FALL = 1.2  # invented: the n-th is n^1.2 times smaller; a stiffer pulse loses its peak
BEAT_SIZE_SD = 0.05  # published for people: breathing modulates the pulse height by about 5 % [Chen2016]
BEAT_SHIFT_S = 0.1  # free: how late a pulse comes is not used, and held back it would hold back the lag
DRIFT_SHARE = 0.3  # invented: of the peak, slow drift over one pulse
MODEL_ERROR_SHARE = 0.035  # invented: of the peak, what no artery of this kind explains
CELLS_ALIKE = 8.0  # invented: so many cells of a pulse err on their own in that way
LOWEST = np.array([0.0, *[-150.0] * (2 * HARMONICS), 0.5, -2.0, 0.0, 0.001, -16.0])  # mean, pulse, artery, lag, gain
HIGHEST = np.array([350.0, *[150.0] * (2 * HARMONICS), 4.6, 2.5, 0.6, 0.08, 2.0])
LEAST_PULSE_MMHG = 1.0  # invented: so that a lost trial has a logarithm
FEWEST_BINS = 6
DAMPING, LENGTHS = 1e-3, (1.0, 0.3, 0.09)  # of a step
STEPS, SETTLED = 8, (2.0, 0.2)  # a round each; on the arteries it was set on, more brought errors no further down


@dataclass(frozen=True, slots=True, kw_only=True)
class Population:
    """Priors of the animal, normal: level = Pd + 0.4 PP [mmHg]; ln(PP / level); form factor; ln widths [ln mmHg]."""

    level_share: float
    level: tuple[float, float]
    pulse_share_ln: tuple[float, float]
    form_factor: tuple[float, float]
    collapsed_ln: tuple[float, float]
    ratio_ln: tuple[float, float]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class WaveformFit:
    """Fit of one recording's waveforms.

    values     : systolic, mean, diastolic [mmHg]
    own_cov    : (3, 3) covariance of the part that the next reading draws anew [mmHg^2]
    shared_cov : (3, 3) covariance of the part that all readings of this animal and cuff share, by the priors [mmHg^2]
    pulse      : (64,) arterial pressure over one period, steepest at the first [mmHg]
    misfit     : root mean square of the standardised residuals; 1 when the noise is as it should be
    """

    values: Array
    own_cov: Array
    shared_cov: Array
    pulse: Array
    misfit: float


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _View:
    """How the cells of the waveforms see waves over one period: which points, and what is whitened out.

    low, part : (b, m) point of the period before each cell, and how far behind it the cell lies
    whiten    : (b, m, m) takes the cells' errors, and what each pulse has of its own, to independent unit errors
    seen      : (b, m, 64) waves as the cells see them, whitened
    pressure  : (b, m) what was measured, whitened
    """

    low: NDArray[np.intp]
    part: Array
    whiten: Array
    seen: Array
    pressure: Array

    def at_cells(self, waves: Array) -> Array:
        """(..., b, 64) -> (..., b, m)"""
        return _between(waves, self.low, self.part)


def _between(waves: Array, low: NDArray[np.intp], part: Array) -> Array:
    row = np.arange(low.shape[0])[:, None]
    return np.asarray(waves[..., row, low] * (1.0 - part) + waves[..., row, (low + 1) % PHASES] * part)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _State:
    """What one set of parameters predicts: r standardised residuals and priors with their Jacobians."""

    theta: Array
    pulse: Array
    waves: Array
    residual: Array
    slope: Array
    pull: Array
    pull_slope: Array

    @property
    def cost(self) -> float:
        return float(loss(self.residual).sum() + 0.5 * (self.pull**2).sum())


def fit_waveforms(
    waveforms: Waveforms, population: Population, *, pulse: Array, collapsed: float, distended: float, gain: float
) -> WaveformFit | None:
    """Waveform fit from a start; None where too few cuff pressures were met or nothing believable is found.

    pulse                : (64,) arterial pressure over one period, from any phase [mmHg]
    collapsed, distended : half widths of the artery [mmHg]
    gain                 : cuff pressure for volume
    """
    if len(waveforms) < FEWEST_BINS:
        return None
    pulse = np.roll(pulse, -int(np.argmax(np.roll(pulse, -1) - np.roll(pulse, 1))))
    theta = np.concatenate(
        (
            [pulse.mean()],
            2.0 * BASIS @ (pulse - pulse.mean()) / PHASES,
            [np.log(collapsed), np.log(distended / collapsed), RESIDUE_SHARE.value, WALL_LAG_S.value, np.log(gain)],
        )
    )
    waves = np.zeros((len(waveforms), PHASES))
    for _ in range(3):
        waves = _waves(theta, waveforms, waves)
    for settled in SETTLED:
        view = _view(waves, waveforms)
        now = _descended(_state(theta, waveforms, waves, view, population), waveforms, view, population, settled)
        theta, waves = now.theta, now.waves
    return _conclude(now)


def _descended(now: _State, waveforms: Waveforms, view: _View, population: Population, settled: float) -> _State:
    """The state at the lowest cost that can be reached, seen in one view.

    A parameter at its bound stays there while the cost would have it farther out. A step that does not pay is taken
    shorter: where the pulse's highest or lowest point changes place on the way, the prior has an edge.
    """
    for _ in range(STEPS):
        weighted = now.slope * weight(now.residual)[:, None]
        normal = weighted.T @ now.slope + now.pull_slope.T @ now.pull_slope
        downhill = weighted.T @ now.residual - now.pull_slope.T @ now.pull
        held = ((now.theta <= LOWEST) & (downhill < 0.0)) | ((now.theta >= HIGHEST) & (downhill > 0.0))
        normal[held], normal[:, held], downhill[held] = 0.0, 0.0, 0.0
        normal[held, held] = 1.0
        move = np.linalg.solve(normal + DAMPING * np.diag(np.diag(normal)), downhill)
        if 0.5 * float(downhill @ move) < settled:
            break
        cost = now.cost
        for length in LENGTHS:
            trial = _state(_bounded(now.theta + length * move), waveforms, now.waves, view, population)
            if trial.cost < cost:  # False for nan
                break
        else:
            break
        now = trial
        if cost - now.cost < settled:
            break
    return now


def _bounded(theta: Array) -> Array:
    """Within what a small limb could be; far outside anything believable but for residue and lag."""
    return np.clip(theta, LOWEST, HIGHEST)


def _artery(theta: Array, waveforms: Waveforms, around: Array) -> tuple[Array, dict[str, float]]:
    """Transmural pressure (b, 64), and the artery under it.

    around : (b, 64) the waves as known so far, which part cuff pressure from its middle
    """
    middle = (around.max(axis=1) + around.min(axis=1)) / 2.0
    cuff = waveforms.cuff_pressure_mmhg[:, None] - middle[:, None] + around
    return theta[0] + theta[PULSE] @ BASIS - TRANSMISSION.value * cuff, {
        "collapsed": float(np.exp(theta[COLLAPSED_LN])),
        "distended": float(np.exp(theta[COLLAPSED_LN] + theta[RATIO_LN])),
        "residue": float(theta[RESIDUE]),
    }


def _waves(theta: Array, waveforms: Waveforms, around: Array) -> Array:
    """Cuff waves (b, 64), given the waves as known so far."""
    transmural, artery = _artery(theta, waveforms, around)
    spectrum = np.fft.rfft(np.exp(theta[GAIN_LN]) * volume_alone(transmural, **artery))
    return np.asarray(np.fft.irfft(spectrum * _behind(theta, waveforms), PHASES))


def _behind(theta: Array, waveforms: Waveforms) -> NDArray[np.complex128]:
    """What the lag makes of each harmonic. (33,)"""
    return np.asarray(1.0 / (1.0 + theta[LAG] * _turn(waveforms)))


def _turn(waveforms: Waveforms) -> NDArray[np.complex128]:
    return np.asarray(2j * np.pi * np.arange(PHASES // 2 + 1) / waveforms.period_s)


def _waves_and_slopes(theta: Array, waveforms: Waveforms, around: Array, seen: Array) -> tuple[Array, Array]:
    """Cuff waves (b, 64), and their slopes by each parameter as the cells see them (b, m, q).

    seen : (b, m, 64) from waves to cells. The lag is applied to these few rows instead of to every slope.
    """
    transmural, parameters = _artery(theta, waveforms, around)
    artery, gain = volumes(transmural, **parameters), float(np.exp(theta[GAIN_LN]))
    behind = _behind(theta, waveforms)
    spectrum = np.fft.rfft(gain * artery.volume) * behind
    waves = np.fft.irfft(spectrum, PHASES)
    late = seen @ np.fft.irfft(behind, PHASES)[DISTANCE]
    by_pulse = (late * (gain * artery.compliance)[:, None, :]) @ MEAN_AND_BASIS.T
    by_artery = late @ (
        gain * np.stack((artery.by_collapsed + artery.by_distended, artery.by_distended, artery.by_residue), 2)
    )
    by_rest = seen @ np.stack((np.fft.irfft(-_turn(waveforms) * behind * spectrum, PHASES), waves), 2)
    return waves, np.concatenate((by_pulse, by_artery, by_rest), 2)


def _view(waves: Array, waveforms: Waveforms) -> _View:
    """How the cells see these waves, and what each pulse has of its own."""
    steep = (np.roll(waves, -1, axis=1) - np.roll(waves, 1, axis=1)) * PHASES / (2.0 * waveforms.period_s)
    top, row = np.argmax(steep, axis=1), np.arange(len(waveforms))
    before, at, after = steep[row, top - 1], steep[row, top], steep[row, (top + 1) % PHASES]
    upstroke = top + np.clip(0.5 * (before - after) / np.minimum(before - 2.0 * at + after, -1e-12), -0.5, 0.5)
    place = (upstroke[:, None] + waveforms.since_upstroke_s * PHASES / waveforms.period_s) % PHASES
    low = place.astype(np.intp) % PHASES
    part = place - np.floor(place)
    seen, speed = _between(waves, low, part), _between(steep, low, part)
    peak, cells = float(waveforms.height_mmhg.max()), waveforms.since_upstroke_s.size
    scale = np.sqrt(waveforms.sd_mmhg**2 + (MODEL_ERROR_SHARE * peak) ** 2 * cells / CELLS_ALIKE)
    late = waveforms.since_upstroke_s - waveforms.since_upstroke_s.mean()
    # each in units of its prior: level, drift, time, size
    level = np.full_like(seen, 1e3 * peak)
    drift = np.broadcast_to(DRIFT_SHARE * peak * late / late.max(), seen.shape)
    own = np.stack((level, drift, BEAT_SHIFT_S * speed, BEAT_SIZE_SD * seen), axis=2) / scale[:, :, None]
    inside = np.eye(own.shape[2]) + np.swapaxes(own, 1, 2) @ own
    left = np.eye(cells) - own @ np.linalg.solve(inside, np.swapaxes(own, 1, 2))
    whiten = np.swapaxes(np.linalg.cholesky(left + 1e-9 * np.eye(cells)), 1, 2) / scale[:, None, :]
    into_cells = np.zeros((*place.shape, PHASES))
    np.put_along_axis(into_cells, low[..., None], 1.0 - part[..., None], axis=2)
    np.put_along_axis(into_cells, (low[..., None] + 1) % PHASES, part[..., None], axis=2)
    pressure = (whiten @ waveforms.pressure_mmhg[..., None])[..., 0]
    return _View(low=low, part=part, whiten=whiten, seen=whiten @ into_cells, pressure=pressure)


def _state(theta: Array, waveforms: Waveforms, around: Array, view: _View, population: Population) -> _State:
    around = _waves(theta, waveforms, around)
    waves, slope = _waves_and_slopes(theta, waveforms, around, view.seen)
    pulse = theta[0] + theta[PULSE] @ BASIS
    pull, pull_slope = _prior(theta, pulse, population)
    return _State(
        theta=theta,
        pulse=pulse,
        waves=around,
        residual=(view.pressure - (view.seen @ waves[..., None])[..., 0]).ravel(),
        slope=slope.reshape(-1, PARAMETERS),
        pull=pull,
        pull_slope=pull_slope,
    )


def _prior(theta: Array, pulse: Array, population: Population) -> tuple[Array, Array]:
    """Standardised distances from the population (r,) and their Jacobian (r, q)."""
    lowest, highest = int(pulse.argmin()), int(pulse.argmax())
    by_mean, by_low, by_high = np.zeros((3, PARAMETERS))
    by_mean[0] = by_low[0] = by_high[0] = 1.0
    by_low[PULSE], by_high[PULSE] = BASIS[:, lowest], BASIS[:, highest]
    diastolic, by_pressure = pulse[lowest], by_high - by_low
    pulse_pressure = max(float(np.ptp(pulse)), LEAST_PULSE_MMHG)
    level = max(diastolic + population.level_share * pulse_pressure, 20.0)
    by_level = by_low + population.level_share * by_pressure
    factor = (theta[0] - diastolic) / pulse_pressure
    eye = np.eye(PARAMETERS)
    terms = [
        (level, by_level, population.level),
        (np.log(pulse_pressure / level), by_pressure / pulse_pressure - by_level / level, population.pulse_share_ln),
        (factor, (by_mean - by_low - factor * by_pressure) / pulse_pressure, population.form_factor),
        (theta[COLLAPSED_LN], eye[COLLAPSED_LN], population.collapsed_ln),
        (theta[RATIO_LN], eye[RATIO_LN], population.ratio_ln),
        (theta[RESIDUE], eye[RESIDUE], (RESIDUE_SHARE.value, RESIDUE_SHARE_SD.value)),
        (theta[LAG], eye[LAG], (WALL_LAG_S.value, WALL_LAG_SD_S.value)),
    ]
    harmonic = np.tile(HARMONIC_SHARE * pulse_pressure / ORDER**HARMONIC_FALL, 2)
    pull = np.concatenate(([(value - mean) / sd for value, _, (mean, sd) in terms], theta[PULSE] / harmonic))
    slope = np.concatenate(([by / sd for _, by, (_, sd) in terms], eye[PULSE] / harmonic[:, None]))
    return pull, slope


def _conclude(state: _State) -> WaveformFit | None:
    misfit = float(np.sqrt(np.mean(np.minimum(state.residual**2, 9.0))))
    data = INFORMATION * state.slope.T @ state.slope / max(misfit, 1.0) ** 2
    prior = state.pull_slope.T @ state.pull_slope
    covariance = np.linalg.inv(data + prior + 1e-12 * np.eye(PARAMETERS))
    project = np.zeros((3, PARAMETERS))
    project[:, 0] = 1.0
    project[0, PULSE], project[2, PULSE] = BASIS[:, state.pulse.argmax()], BASIS[:, state.pulse.argmin()]
    project = project @ covariance
    values = np.array([state.pulse.max(), state.theta[0], state.pulse.min()])
    if not (np.isfinite(values).all() and np.isfinite(covariance).all()):
        return None
    return WaveformFit(
        values=values,
        own_cov=project @ data @ project.T,
        shared_cov=project @ prior @ project.T,
        pulse=state.pulse,
        misfit=misfit,
    )
