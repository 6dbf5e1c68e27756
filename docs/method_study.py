"""What the page about the method shows: one reading looked into, and the errors of four ways of reading beside noise.

It looks into parts of the engine that are nobody's interface, so that the page shows what the engine does and not a
second version of it.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from types import ModuleType
from typing import Any
from unittest.mock import patch

import numpy as np
from numpy.typing import NDArray

from quietlimb.engine.methods import artery_fit, waveform_fit
from quietlimb.engine.methods.waveforms import Waveforms
from quietlimb.engine.reading import METHODS, Reading, read
from quietlimb.simulator import SimulatedRecording, simulate_recording
from quietlimb.simulator.pulse_shape import PulseShape, pulse_shape

Array = NDArray[np.float64]

PRESSURES = ("systolic", "mean", "diastolic")
# An invented dog, with an artery of a family that the engine does not contain.
SEED, FAMILY = 20311, "skewed arctangent"
SHAPE = {"form_factor": 0.36, "upstroke": 0.22, "dicrotic": 0.12}
UNKNOWN = ("double exponential", "arctangent", "skewed arctangent", "tube law")  # nothing was set on these
NOISE_LEVELS = (5.0, 10.0, 20.0, 40.0, 80.0)
STUDY_SEED, STUDY_COUNT = 20350101, 80
HEIGHTS = "artery fit, heights only"
WAYS = (METHODS[0], HEIGHTS, *METHODS[1:])


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Looked:
    """One reading looked into.

    waveforms  : the averaged pulses, b of them with m cells
    fitted     : (b, m) what the fit says of them, each at its own level and time [mmHg]
    found      : (64,) arterial pressure over one period by the fit, its steepest point first [mmHg]
    by_heights : of each family what its fit of the heights alone gives (systolic, mean, diastolic [mmHg]), and its
                 weight in their average
    """

    simulated: SimulatedRecording
    shape: PulseShape
    reading: Reading
    waveforms: Waveforms
    fitted: Array
    found: Array
    by_heights: dict[str, tuple[Array, float]]


@contextmanager
def noted(module: ModuleType, name: str) -> Iterator[list[tuple[tuple[Any, ...], Any]]]:
    """The calls of a module's function while this lasts: what went in and what came out."""
    function, calls = getattr(module, name), []

    def called(*given: Any, **named: Any) -> Any:
        result = function(*given, **named)
        calls.append((given, result))
        return result

    with patch.object(module, name, called):
        yield calls


def look_into() -> Looked:
    """The pictured reading."""
    shape = pulse_shape(**SHAPE)
    simulated = simulate_recording(
        SEED,
        species="dog",
        family=FAMILY,
        systolic=152.0,
        diastolic=96.0,
        pulse_rate=118.0,
        shape=shape,
        inflation="pump",
        deflation="linear",
        deflation_mmhg_per_s=3.0,
        peak_height_mmhg=1.6,
        peak_to_noise=40.0,
        sampling_hz=125.0,
    )
    with (
        noted(artery_fit, "_averaged") as averaged,
        noted(artery_fit, "average_waveforms") as grouped,
        noted(waveform_fit, "_conclude") as concluded,
    ):
        reading = read(simulated.recording)
    fits, waveforms, state = averaged[-1][0][0], grouped[-1][1], concluded[-1][0][0]
    at_cells = waveform_fit._view(state.theta, state.waves, waveforms).at_cells(state.spectrum)
    pulse, sd = state.pulse, waveforms.sd_mmhg
    evidence = np.array([fit.log_evidence for fit in fits])
    weight = np.exp(evidence - evidence.max())
    return Looked(
        simulated=simulated,
        shape=shape,
        reading=reading,
        waveforms=waveforms,
        fitted=np.array([_placed(*rows) for rows in zip(at_cells, waveforms.pressure_mmhg, sd, strict=True)]),
        found=np.roll(pulse, -int(np.argmax(np.roll(pulse, -1) - np.roll(pulse, 1)))),
        by_heights={
            fit.name: (fit.values, float(share)) for fit, share in zip(fits, weight / weight.sum(), strict=True)
        },
    )


def _placed(wave: Array, observed: Array, sd: Array) -> Array:
    """A wave moved in level and, to first order, in time to where it was observed: both are each pulse's own. (m,)"""
    own = np.column_stack((np.ones_like(wave), np.gradient(wave)))
    found, *_ = np.linalg.lstsq(own / sd[:, np.newaxis], (observed - wave) / sd, rcond=None)
    return np.asarray(wave + own @ found)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class NoiseStudy:
    """Errors on recordings that the artery fit keeps and of which every method gives all three pressures.

    peak_to_noise : (l,) levels of noise; the same animals, cuffs and courses at each
    count         : recordings at each level
    kept          : (l,) how many of them
    errors        : for each way of reading, l arrays (kept, 3): value minus truth [mmHg]
    """

    peak_to_noise: tuple[float, ...]
    count: int
    kept: tuple[int, ...]
    errors: dict[str, list[Array]]

    def rmse(self, way: str, level: int) -> Array:
        """(3,) root mean square errors [mmHg]."""
        return np.asarray(np.sqrt(np.mean(self.errors[way][level] ** 2, axis=0)))

    def rmse_sd(self, way: str, level: int) -> Array:
        """(3,) Monte Carlo error of `rmse`, by the delta rule [mmHg]."""
        squares = self.errors[way][level] ** 2
        return np.asarray(squares.std(axis=0, ddof=1) / np.sqrt(len(squares)) / (2.0 * self.rmse(way, level)))


def _values(reading: Reading) -> list[float] | None:
    """Systolic, mean and diastolic [mmHg]; None unless all are given."""
    given = [estimate.value for name in PRESSURES if (estimate := getattr(reading, name)) is not None]
    return given if len(given) == len(PRESSURES) else None


def _has_fit(reading: Reading) -> bool:
    return reading.evidence is not None and reading.evidence.envelope_pressure_mmhg.size > 0


def study_noise(levels: Sequence[float] = NOISE_LEVELS, count: int = STUDY_COUNT, seed: int = STUDY_SEED) -> NoiseStudy:
    """Undisturbed recordings at each level of noise, read in four ways."""
    errors: dict[str, list[Array]] = {way: [] for way in WAYS}
    for level in levels:
        simulated = [
            simulate_recording(
                seed + k,
                species="cat" if k % 2 else "dog",
                family=UNKNOWN[k // 2 % len(UNKNOWN)],
                peak_to_noise=level,
            )
            for k in range(count)
        ]
        recordings = [one.recording for one in simulated]
        with noted(artery_fit, "_by_waveforms") as steps:
            readings = {method: read(recordings, method=method) for method in METHODS}
        # the fit sees, in their order, the recordings that show enough pulses
        fitted = [k for k, reading in enumerate(readings[METHODS[0]]) if _has_fit(reading)]
        heights = {k: given[0].values for k, (given, _) in zip(fitted, steps, strict=True)}
        kept = [
            k
            for k, reading in enumerate(readings[METHODS[0]])
            if reading.verdict == "keep" and all(_values(readings[method][k]) is not None for method in METHODS)
        ]
        truth = np.array([[getattr(simulated[k].truth, name) for name in PRESSURES] for k in kept], dtype=float)
        for method in METHODS:
            errors[method].append(np.array([_values(readings[method][k]) for k in kept], dtype=float) - truth)
        errors[HEIGHTS].append(np.array([heights[k] for k in kept]) - truth)
    return NoiseStudy(
        peak_to_noise=tuple(levels),
        count=count,
        kept=tuple(len(rows) for rows in errors[HEIGHTS]),
        errors=errors,
    )
