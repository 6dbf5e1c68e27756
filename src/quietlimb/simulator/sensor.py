"""From the pressure in the cuff to the numbers in a file: low-pass, sampling, noise, quantisation."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray
from scipy.fft import irfft, next_fast_len, rfft
from scipy.signal import butter, sosfiltfilt

from quietlimb.engine.errors import ParameterError
from quietlimb.simulator.draws import log_uniform

Samples = NDArray[np.float64]

TRACE_HZ = 1000.0
_SLOW_NOISE_CORNER_HZ = 0.5
_USUAL_HZ = (50.0, 100.0, 125.0, 200.0, 500.0)
_USUAL_SHARE = (0.10, 0.30, 0.25, 0.25, 0.10)


@dataclass(frozen=True, slots=True, kw_only=True)
class Sensor:
    """A pressure sensor and its converter.

    sampling_hz : 50..1000
    noise_mmhg  : standard deviation of the white noise at this sampling rate [mmHg]; below 0.5 Hz noise rises as 1/f
    quantum_mmhg: step of the converter [mmHg]
    anti_alias  : whether a low-pass at 0.4 of the sampling rate stands before the converter
    """

    sampling_hz: float
    noise_mmhg: float
    quantum_mmhg: float
    anti_alias: bool = True

    def __post_init__(self) -> None:
        if not 50.0 <= self.sampling_hz <= TRACE_HZ:
            raise ParameterError(
                "impossible-sensor", f"{self.sampling_hz:g} samples a second", f"give 50 to {TRACE_HZ:g}"
            )
        if self.noise_mmhg < 0.0 or self.quantum_mmhg < 0.0:
            raise ParameterError("impossible-sensor", "noise or quantum below 0 mmHg", "give 0 or more, in mmHg")

    @property
    def sample_sd_mmhg(self) -> float:
        """Standard deviation of one sample: white noise and rounding together [mmHg]."""
        return float(np.hypot(self.noise_mmhg, self.quantum_mmhg / np.sqrt(12.0)))

    def record(self, rng: np.random.Generator, pressure_mmhg: Samples) -> tuple[Samples, Samples]:
        """Times k / sampling_hz [s] and what the sensor says there [mmHg], of a trace at 1000 Hz that begins at 0 s."""
        duration = (pressure_mmhg.size - 1) / TRACE_HZ
        time = np.arange(int(duration * self.sampling_hz) + 1) / self.sampling_hz
        smooth = pressure_mmhg
        if self.anti_alias and self.sampling_hz < TRACE_HZ:
            smooth = sosfiltfilt(_low_pass(self.sampling_hz), pressure_mmhg)
        sampled = np.interp(time * TRACE_HZ, np.arange(smooth.size), smooth)
        sampled += self.noise_mmhg * _sensor_noise(rng, sampled.size, self.sampling_hz)
        if self.quantum_mmhg > 0.0:
            sampled = np.round(sampled / self.quantum_mmhg) * self.quantum_mmhg
        return time, sampled


@lru_cache(maxsize=32)
def _low_pass(sampling_hz: float) -> NDArray[np.float64]:
    sections: NDArray[np.float64] = butter(4, 0.4 * sampling_hz, fs=TRACE_HZ, output="sos")
    return sections


def _sensor_noise(rng: np.random.Generator, size: int, sampling_hz: float) -> Samples:
    """White noise of SD 1 whose power density is multiplied by 1 + corner / frequency."""
    length = next_fast_len(size, real=True)
    spectrum = rfft(rng.normal(size=length))
    frequency = np.fft.rfftfreq(length, 1.0 / sampling_hz)
    spectrum[1:] *= np.sqrt(1.0 + _SLOW_NOISE_CORNER_HZ / frequency[1:])
    noise: Samples = irfft(spectrum, length)[:size]
    return noise


def draw_sensor(
    rng: np.random.Generator,
    *,
    sampling_hz: float | None = None,
    noise_mmhg: float | None = None,
    quantum_mmhg: float | None = None,
    anti_alias: bool = True,
) -> Sensor:
    """A sensor: mostly 100 to 200 Hz, noise 0.01..0.05 mmHg at 100 Hz and the same density elsewhere, steps of
    0.01..0.1 mmHg (ranges invented); what is given is kept."""
    drawn_hz = float(rng.choice(_USUAL_HZ, p=_USUAL_SHARE))
    density = log_uniform(rng, 0.01, 0.05)
    drawn_quantum = log_uniform(rng, 0.01, 0.1)
    rate = drawn_hz if sampling_hz is None else sampling_hz
    return Sensor(
        sampling_hz=rate,
        noise_mmhg=density * float(np.sqrt(rate / 100.0)) if noise_mmhg is None else noise_mmhg,
        quantum_mmhg=drawn_quantum if quantum_mmhg is None else quantum_mmhg,
        anti_alias=anti_alias,
    )
