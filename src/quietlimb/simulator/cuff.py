"""An artery under a cuff: the two-way relation between arterial and cuff pressure, solved over a whole trace."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.signal import lfilter

from quietlimb.engine.errors import ParameterError
from quietlimb.simulator.animals import Animal
from quietlimb.simulator.arteries.artery import Artery

Samples = NDArray[np.float64]

_CLOSE_ENOUGH_MMHG = 1e-4
_MOST_ROUNDS = 40
_STEADY_ROUNDS = 8
_PHASES = 64
CONTACT_MMHG = 6.0


@dataclass(frozen=True, slots=True, kw_only=True)
class CuffedLimb:
    """An artery, the tissue and wall that lag behind it, and the cuff around them.

    gain         : cuff pressure per volume, kappa; as volume is in mmHg times the greatest compliance, it is also the
                   coupling at the peak, the share by which the cuff yields to the artery. About 0.01 to 0.3
    transmission : eta, share of the cuff pressure that reaches the artery
    peak_offset  : p0, transmural pressure at which compliance is greatest [mmHg]. It belongs to the artery, not to the
                   truth: no cuff can tell it from a shift of both pressures
    lag_s        : time constant of the viscoelastic wall [s]
    contact_mmhg : cuff pressure below which the cuff hangs loose and passes hardly a pulse on (invented)

    The relation, with V the artery's volume and L the first-order lag:

        Pc(t) = base(t) + contact * gain * ( L[ V(Pa - eta*Pc - p0) ](t) - V at rest )

    It is quasi-static: pressure evens out along the short tube much faster than the heart beats. kappa stays the same
    through the deflation: the factor (Pc + 760) of an air-filled cuff and the growth of the bladder pull against each
    other.
    """

    artery: Artery
    gain: float
    transmission: float
    peak_offset: float
    lag_s: float
    contact_mmhg: float = CONTACT_MMHG

    def cuff_pressure(self, arterial_mmhg: Samples, base_mmhg: Samples, rate_hz: float) -> Samples:
        """Cuff pressure [mmHg] for equally spaced arterial and base pressures, both (n,).

        Fixed-point iteration over the trace: each round shrinks the error by the coupling, so a handful of rounds
        leaves less than 0.0001 mmHg.
        """
        contact = 1.0 - np.exp(-((np.maximum(base_mmhg, 0.0) / self.contact_mmhg) ** 2))
        passed_on = self.gain * contact
        stay = float(np.exp(-1.0 / (self.lag_s * rate_hz))) if self.lag_s > 0.0 else 0.0
        opened = arterial_mmhg - self.peak_offset
        rest = float(self.artery.volume(opened[:1])[0])
        cuff = base_mmhg
        for _ in range(_MOST_ROUNDS):
            volume = self.artery.volume(opened - self.transmission * cuff)
            lagged: Samples = lfilter([1.0 - stay], [1.0, -stay], volume, zi=[stay * volume[0]])[0]
            lagged -= rest
            lagged *= passed_on
            lagged += base_mmhg
            change = float(np.abs(lagged - cuff).max())
            cuff = lagged
            if change < _CLOSE_ENOUGH_MMHG:
                return cuff
        raise ParameterError(
            "coupling-too-strong",
            f"artery and cuff do not settle at a coupling of {self.gain:.2f}",
            "ask for a lower peak height or a wider pulse pressure",
        )


def peak_height(limb: CuffedLimb, animal: Animal) -> float:
    """Height of an ordinary beat of this animal at the most favourable steady cuff pressure [mmHg]."""
    oscillation = np.zeros((1, 1))
    for _ in range(_STEADY_ROUNDS):
        volume = _steady_volume(limb.artery, animal, limb.transmission, limb.lag_s, oscillation)
        oscillation = limb.gain * (volume - volume.mean(axis=1, keepdims=True))
    return float(np.ptp(oscillation, axis=1).max())


def limb_with_peak_height(
    animal: Animal,
    artery: Artery,
    *,
    peak_height_mmhg: float,
    transmission: float,
    peak_offset: float,
    lag_s: float,
    contact_mmhg: float = CONTACT_MMHG,
) -> CuffedLimb:
    """A limb whose ordinary beat, at the most favourable steady cuff pressure, moves the cuff by `peak_height_mmhg`.

    The gain is a property of this animal and cuff: it is found from one period on a grid of cuff pressures, lag and
    yielding cuff included, and not from any one recording.
    """
    oscillation = np.zeros((1, 1))
    gain = 0.0
    for _ in range(_STEADY_ROUNDS):
        volume = _steady_volume(artery, animal, transmission, lag_s, oscillation)
        gain = peak_height_mmhg / float(np.ptp(volume, axis=1).max())
        oscillation = gain * (volume - volume.mean(axis=1, keepdims=True))
    return CuffedLimb(
        artery=artery,
        gain=gain,
        transmission=transmission,
        peak_offset=peak_offset,
        lag_s=lag_s,
        contact_mmhg=contact_mmhg,
    )


def _steady_volume(artery: Artery, animal: Animal, transmission: float, lag_s: float, oscillation: Samples) -> Samples:
    """(41, 64) lagged volume over one period at 41 steady cuff pressures, the cuff yielding by `oscillation`."""
    pulse = animal.diastolic + animal.pulse_pressure * animal.shape.at(np.arange(_PHASES) / _PHASES)
    steady = np.linspace(animal.diastolic - 10.0, animal.systolic + 10.0, 41)[:, np.newaxis]
    turn = 2.0 * np.pi * np.arange(_PHASES // 2 + 1) / animal.period_s
    volume = artery.volume(pulse - steady - transmission * oscillation)
    return np.fft.irfft(np.fft.rfft(volume, axis=1) / (1.0 + 1j * turn * lag_s), _PHASES, axis=1)
