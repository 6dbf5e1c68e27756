"""Waveform fit: every sample of every pulse explained by one arterial pulse and one artery.

    y(t) = k L V( Pa(t) - eta Pc(t) )       L: first-order lag of wall and tissue; V: volume of the artery

A height compares the artery's volume at two pressures only, so what the artery is like and what the pressures are get
mixed up: arteries of different families give the same heights at different pressures. A whole pulse passes through all
pressures between diastolic and systolic, and as the cuff falls it passes through them again at another transmural
pressure. That tells the artery apart from the pulse, and the arterial pulse Pa(t) is found with it: its highest, mean
and lowest value are the result.

Pa(t) is a mean and ten harmonics; the artery has two half widths, a residue, the lag and a gain. All are found by
Levenberg and Marquardt's rule with Student-t errors and Gaussian priors; that on the harmonics knows what arterial
pulses look like (`pulse_prior`). What a beat has of its own - its level, its size, its length - and what its wave has
besides - an offset, a slow drift, a little time, a little size - is integrated out. Nothing is drawn at random.

Waves are kept as spectra: the lag, the slope in time and the mean over a cell are factors there, and the product of
the compliance with a harmonic is its spectrum moved.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from quietlimb.engine.arteries.free_residue import Volumes, volume_alone, volumes
from quietlimb.engine.methods.least_squares import INFORMATION, loss, weight
from quietlimb.engine.methods.pulse_form import POINTS, WALL_LAG_S
from quietlimb.engine.methods.pulse_prior import pulse_prior
from quietlimb.engine.methods.waveforms import Waveforms
from quietlimb.engine.pulse_curves import AFTER, BEFORE
from quietlimb.engine.values import Cited

Array = NDArray[np.float64]
Spectra = NDArray[np.complex128]

PHASES, HARMONICS = POINTS, 10  # a start comes as a form of the pulse
PHASE = np.arange(PHASES) / PHASES
ORDER = np.arange(1, HARMONICS + 1)
LINES = np.arange(24)  # of a wave's spectrum: behind wall and tissue a cuff's pulse holds nothing finer
BASIS = np.concatenate((np.cos(2.0 * np.pi * ORDER[:, None] * PHASE), np.sin(2.0 * np.pi * ORDER[:, None] * PHASE)))
PULSE = slice(1, 1 + 2 * HARMONICS)
COLLAPSED_LN, RATIO_LN, RESIDUE, LAG, GAIN_LN = range(1 + 2 * HARMONICS, 6 + 2 * HARMONICS)
PARAMETERS = 6 + 2 * HARMONICS

TRANSMISSION = Cited(0.99, "1", "Quietlimb", "of the cuff pressure to the artery, the middle of 0.98 to 1", "invented")
WALL_LAG_SD_S = Cited(0.010, "s", "Quietlimb", "see pulse_form", "invented")
RESIDUE_SHARE = Cited(0.20, "1", "Quietlimb", "compliance that a distended artery keeps", "invented")
RESIDUE_SHARE_SD = Cited(0.15, "1", "Quietlimb", "see RESIDUE_SHARE", "invented")
BEAT_LEVEL_MMHG = 2.0  # invented: breathing and beat-to-beat changes of the arterial level
BEAT_PULSE_SD = 0.03  # invented: the same of the pulse pressure, as its share
BEAT_LENGTH_SD = 0.03  # invented: the same of the interval, by which a pulse is drawn out
ALIGNED_SD = 0.02  # of the period: how far upstrokes lie from where their beats have them, in simulated recordings
WAVE_SIZE_SD = 0.02  # invented: of the cuff's pulse, what has other causes
BEAT_SHIFT_S = 0.1  # free: how late a pulse comes is not used, and held back it would hold back the lag
DRIFT_SHARE = 0.3  # invented: of the peak, slow drift over one pulse
# Of the peak, what no artery of this kind explains. Set on simulated arteries of eight families; smaller, and the fit
# believes in its own artery more than a foreign one deserves.
MODEL_ERROR_SHARE = 0.05
CELLS_ALIKE = 8.0  # invented: so many cells of a pulse err on their own in that way
LOWEST = np.array([0.0, *[-150.0] * (2 * HARMONICS), 0.5, -2.0, 0.0, 0.001, -16.0])  # mean, pulse, artery, lag, gain
HIGHEST = np.array([350.0, *[150.0] * (2 * HARMONICS), 4.6, 2.5, 0.6, 0.08, 2.0])
BEGIN = (BEFORE + 1.0 - AFTER) / 2.0  # of the period before the upstroke: amid the part that is not looked at
MOST_LATE = 0.05  # invented: of the period
LEAST_PULSE_MMHG = 1.0  # invented: so that a lost trial has a logarithm
FEWEST_BINS = 6
LEAST_MISFIT = 0.55  # set so that the own part is what readings of one simulated animal scatter by
DAMPING, LENGTHS = 1e-3, (1.0, 0.3, 0.09)  # of a step
STEPS, SETTLED = 3, (2.0, 0.5, 0.2, 0.2)  # a round sees the pulses anew: few steps in each lose fewer fits than many


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
    """How the cells of the waveforms see waves over one period: when, and what is whitened out.

    fallen   : (b, 64) how far the cuff's pressure has fallen, seen from the steepest point of each wave [mmHg]
    about    : (b, lines) moves spectra so that they begin at that point, and rounds them as averaging does
    cells    : (2 lines, m) takes these, each imaginary part behind its real one, to means over cells
    seen     : (b, m, 2 lines) the same, to independent unit errors: the cells' own, and what each pulse has of its own
    pressure : (b, m) what was measured, in these units
    """

    fallen: Array
    about: Spectra
    cells: Array
    seen: Array
    pressure: Array

    def at_cells(self, spectra: Spectra) -> Array:
        """(..., b, lines) -> (..., b, m) [mmHg]"""
        return _at_cells(spectra, self.about, self.cells)

    def whitened(self, spectra: Spectra) -> Array:
        """(k, b, lines) -> (b, m, k), in units of the errors"""
        moved = (spectra * self.about).view(np.float64)
        return np.asarray(self.seen @ moved.transpose(1, 2, 0))


def _at_cells(spectra: Spectra, about: Spectra, cells: Array) -> Array:
    return np.asarray((spectra * about).view(np.float64) @ cells)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Waves:
    """Cuff waves that one set of parameters predicts.

    pulse    : (64,) arterial pressure [mmHg]
    artery   : at each phase and cuff pressure, (b, 64) each
    behind   : (lines,) what gain and lag make of a spectrum
    spectrum : (b, lines) of the waves
    """

    pulse: Array
    artery: Volumes
    behind: Spectra
    spectrum: Spectra


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _State:
    """What one set of parameters predicts: r standardised residuals and priors with their Jacobians."""

    theta: Array
    pulse: Array
    spectrum: Spectra
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
    waves, fallen = np.zeros((len(waveforms), PHASES)), _fallen(waveforms, np.zeros(len(waveforms)))
    for _ in range(3):
        waves = _waves_alone(theta, waveforms, waves, fallen)
    for settled in SETTLED:
        view = _view(theta, waves, waveforms)
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


def _artery(theta: Array, waveforms: Waveforms, around: Array, fallen: Array) -> tuple[Array, Array, dict[str, float]]:
    """Arterial pulse (64,), transmural pressure (b, 64), and the artery under it.

    around : (b, 64) the waves as known so far, which part cuff pressure from its middle
    fallen : (b, 64) how far the cuff's pressure has fallen since the upstroke
    """
    pulse = theta[0] + theta[PULSE] @ BASIS
    middle = (around.max(axis=1) + around.min(axis=1)) / 2.0
    cuff = (waveforms.cuff_pressure_mmhg - middle)[:, None] + around - fallen
    artery = {
        "collapsed": float(np.exp(theta[COLLAPSED_LN])),
        "distended": float(np.exp(theta[COLLAPSED_LN] + theta[RATIO_LN])),
        "residue": float(theta[RESIDUE]),
    }
    return pulse, pulse - TRANSMISSION.value * cuff, artery


def _waves_alone(theta: Array, waveforms: Waveforms, around: Array, fallen: Array) -> Array:
    """(b, 64) cuff waves, given the waves as known so far."""
    _, transmural, artery = _artery(theta, waveforms, around, fallen)
    spectrum = np.fft.rfft(volume_alone(transmural, **artery))[:, LINES] * _behind(theta, waveforms)
    return np.asarray(np.fft.irfft(spectrum, PHASES, axis=1))


def _waves(theta: Array, waveforms: Waveforms, around: Array, fallen: Array) -> _Waves:
    """Cuff waves, and the artery that their slopes are made of."""
    pulse, transmural, parameters = _artery(theta, waveforms, around, fallen)
    artery, behind = volumes(transmural, **parameters), _behind(theta, waveforms)
    return _Waves(pulse=pulse, artery=artery, behind=behind, spectrum=np.fft.rfft(artery.volume)[:, LINES] * behind)


def _behind(theta: Array, waveforms: Waveforms) -> Spectra:
    """(lines,) what gain and lag make of a spectrum"""
    return np.asarray(np.exp(theta[GAIN_LN]) / (1.0 + _turn(waveforms) * theta[LAG]), dtype=np.complex128)


def _fallen(waveforms: Waveforms, upstroke: Array) -> Array:
    """(b, 64) how far the cuff's pressure has fallen since these phases (b,), and until them will. [mmHg]"""
    since = (PHASE - upstroke[:, None] + BEGIN) % 1.0 - BEGIN
    return (waveforms.fall_mmhg_per_s * waveforms.period_s)[:, None] * since


def _turn(waveforms: Waveforms) -> Spectra:
    """(lines,) what d/dt makes of a spectrum [1/s]"""
    return np.asarray(2j * np.pi * LINES / waveforms.period_s, dtype=np.complex128)


def _slopes(theta: Array, waveforms: Waveforms, found: _Waves) -> Spectra:
    """(q, b, lines) slopes of the waves' spectra by each parameter."""
    artery = found.artery
    compliance = np.fft.fft(artery.compliance).T
    below, above = compliance[LINES[:, None] - ORDER], compliance[(LINES[:, None] + ORDER) % PHASES]
    by_artery = np.stack((artery.by_collapsed + artery.by_distended, artery.by_distended, artery.by_residue))
    turn = _turn(waveforms)
    slopes = np.empty((PARAMETERS, *found.spectrum.shape), dtype=np.complex128)
    slopes[0] = compliance[LINES].T
    slopes[PULSE] = 0.5 * np.concatenate((below + above, (above - below) * 1j), axis=1).transpose(1, 2, 0)
    slopes[COLLAPSED_LN : RESIDUE + 1] = np.fft.rfft(by_artery)[..., LINES]
    slopes[:LAG] *= found.behind
    slopes[LAG] = found.spectrum * -turn / (1.0 + turn * theta[LAG])
    slopes[GAIN_LN] = found.spectrum
    return slopes


def _view(theta: Array, waves: Array, waveforms: Waveforms) -> _View:
    """How the cells see these waves, and what each pulse has of its own."""
    spectrum, turn = np.fft.rfft(waves)[:, LINES], _turn(waveforms)
    upstroke = _steepest(np.fft.irfft(spectrum * turn, PHASES, axis=1))
    since = waveforms.since_upstroke_s
    width = (since[-1] - since[0]) / (since.size - 1) / waveforms.period_s
    share = np.where(LINES > 0, 2.0, 1.0) / PHASES * np.sinc(LINES * width)
    angle = 2.0 * np.pi * LINES[:, None] * since / waveforms.period_s
    cells = np.stack((np.cos(angle), -np.sin(angle)), axis=1) * share[:, None, None]
    cells = cells.reshape(2 * LINES.size, since.size)
    # pulses that lie a little beside each other have a rounder mean; one by itself is as sharp as it is
    rounded = (2.0 * np.pi * LINES * ALIGNED_SD) ** 2 * (1.0 - 1.0 / waveforms.pulses)[:, None]
    about = np.exp(2j * np.pi * upstroke[:, None] * LINES - 0.5 * rounded)
    fallen = _fallen(waveforms, upstroke)

    found = _waves(theta, waveforms, waves, fallen)
    moved = _late(waveforms, _at_cells(np.stack((spectrum, spectrum * turn)), about, cells))
    about = about * np.exp(-moved[:, None] * turn)
    by_level = np.fft.rfft(found.artery.compliance)[:, LINES] * found.behind
    by_size = np.fft.rfft(found.artery.compliance * (found.pulse - found.pulse.min()))[:, LINES] * found.behind
    seen, speed, by_level, by_size = _at_cells(np.stack((spectrum, spectrum * turn, by_level, by_size)), about, cells)
    peak = float(waveforms.height_mmhg.max())
    scale = np.sqrt(waveforms.sd_mmhg**2 + (MODEL_ERROR_SHARE * peak) ** 2 * since.size / CELLS_ALIKE)
    late = since - since.mean()
    beats = np.sqrt(waveforms.pulses)[:, None]
    own = (  # each in units of its prior; what a beat has of its own is averaged with the beats
        np.full_like(seen, 1e3 * peak),
        np.broadcast_to(DRIFT_SHARE * peak * late / late.max(), seen.shape),
        BEAT_SHIFT_S * speed,
        WAVE_SIZE_SD * seen,
        BEAT_LEVEL_MMHG / beats * by_level,
        BEAT_PULSE_SD / beats * by_size,
        BEAT_LENGTH_SD / beats * since * speed,
    )
    whiten = _whitening(np.stack(own, axis=2), scale)
    return _View(
        fallen=fallen,
        about=about,
        cells=cells,
        seen=whiten @ cells.T,
        pressure=(whiten @ waveforms.pressure_mmhg[..., None])[..., 0],
    )


def _late(waveforms: Waveforms, seen: Array) -> Array:
    """(b,) by how much the waves come later than these, (2, b, m) with their slopes, would have them. [s]

    Least squares with a free offset, drift and size. What is left of a shift is integrated out to first order, so it
    must be small.
    """
    wave, speed = seen
    drift = np.broadcast_to(np.linspace(-1.0, 1.0, wave.shape[1]), wave.shape)
    design = np.stack((np.ones_like(wave), drift, wave, -speed), axis=2)
    weighted = np.swapaxes(design * waveforms.sd_mmhg[..., None] ** -2.0, 1, 2)
    normal, right = weighted @ design, weighted @ (waveforms.pressure_mmhg - wave)[..., None]
    normal *= 1.0 + 1e-3 * np.eye(4)  # what can hardly be told apart stays small
    found = np.linalg.solve(normal, right)[:, 3, 0]
    most = MOST_LATE * waveforms.period_s
    return np.asarray(np.clip(found, -most, most))


def _steepest(steep: Array) -> Array:
    """(b,) phase of the highest point of (b, 64) slopes, between the points."""
    top, row = np.argmax(steep, axis=1), np.arange(steep.shape[0])
    before, at, after = steep[row, top - 1], steep[row, top], steep[row, (top + 1) % PHASES]
    beside = 0.5 * (before - after) / np.minimum(before - 2.0 * at + after, -1e-12)
    return np.asarray((top + np.clip(beside, -0.5, 0.5)) / PHASES)


def _whitening(own: Array, scale: Array) -> Array:
    """(b, m, m) that takes errors of this scale (b, m), and of unit size along own (b, m, k), to unit errors."""
    own = own / scale[:, :, None]
    inside = np.eye(own.shape[2]) + np.swapaxes(own, 1, 2) @ own
    cells = np.eye(own.shape[1])
    left = cells - own @ np.linalg.solve(inside, np.swapaxes(own, 1, 2))
    return np.asarray(np.swapaxes(np.linalg.cholesky(left + 1e-9 * cells), 1, 2) / scale[:, None, :])


def _state(theta: Array, waveforms: Waveforms, around: Array, view: _View, population: Population) -> _State:
    around = _waves_alone(theta, waveforms, around, view.fallen)
    found = _waves(theta, waveforms, around, view.fallen)
    slope = view.whitened(_slopes(theta, waveforms, found))
    pull, pull_slope = _prior(theta, found.pulse, population)
    return _State(
        theta=theta,
        pulse=found.pulse,
        spectrum=found.spectrum,
        waves=around,
        residual=(view.pressure - view.whitened(found.spectrum[None])[..., 0]).ravel(),
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
    form, prior = theta[PULSE] / pulse_pressure, pulse_prior(HARMONICS)
    by_form = (eye[PULSE] - np.outer(form, by_pressure)) / pulse_pressure
    pull = np.concatenate(([(value - mean) / sd for value, _, (mean, sd) in terms], prior.whiten @ (form - prior.mean)))
    slope = np.concatenate(([by / sd for _, by, (_, sd) in terms], prior.whiten @ by_form))
    return pull, slope


def _conclude(state: _State) -> WaveformFit | None:
    misfit = float(np.sqrt(np.mean(np.minimum(state.residual**2, 9.0))))
    data = INFORMATION * state.slope.T @ state.slope / max(misfit, 1.0) ** 2
    prior = state.pull_slope.T @ state.pull_slope
    covariance: Array = np.asarray(np.linalg.inv(data + prior + 1e-12 * np.eye(PARAMETERS)), dtype=np.float64)
    # what the model may err by was allowed for in every cell; what the cells show tells how far it did
    own = min(max(misfit, LEAST_MISFIT), 1.0) ** 2 * covariance @ data @ covariance
    shared = covariance @ prior @ covariance
    project = np.zeros((3, PARAMETERS))
    project[:, 0] = 1.0
    project[0, PULSE], project[2, PULSE] = BASIS[:, state.pulse.argmax()], BASIS[:, state.pulse.argmin()]
    values = np.array([state.pulse.max(), state.theta[0], state.pulse.min()])
    if not (np.isfinite(values).all() and np.isfinite(covariance).all()):
        return None
    return WaveformFit(
        values=values,
        own_cov=project @ own @ project.T,
        shared_cov=project @ shared @ project.T,
        pulse=state.pulse,
        misfit=misfit,
    )
