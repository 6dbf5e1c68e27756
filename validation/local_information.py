"""What one simulated recording can tell about what was drawn for it: its trace differentiated by each drawn quantity.

A recording is made again without noise with one quantity moved. Quantities of single beats, and of short stretches of
the cuff's own pressure, change the trace near by only, so every fourth of them is moved at once. With J the
derivatives, S the sensor's noise and L the precision of the draws, (J'J/S + L)^-1 is the covariance of what is left
unknown: exact for a linear recording and normal draws, and otherwise to first order about the truth.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from recording_parts import Made, Parts
from scipy.linalg import block_diag, cho_factor, cho_solve
from scipy.sparse import coo_array, csr_array, hstack

Samples = NDArray[np.float64]
APART, SMALL = 4, 1e-4


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Columns:
    """Derivatives of the trace (n, q) and of the three mean pressures (3, q), and the precision (q, q) of the draws."""

    by: csr_array
    truth: Samples
    precision: Samples


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Information:
    """Of q quantities: J'J (q, q), the derivatives of the three mean pressures (3, q), the precision of the draws."""

    normal: Samples
    truth: Samples
    precision: Samples

    def left_unknown(self, variance: float) -> Samples:
        """(3, 3) covariance of systolic, mean and diastolic pressure given a trace with this noise [mmHg^2]."""
        precision = self.normal / variance + self.precision
        size = np.sqrt(np.diag(precision))
        scaled = self.truth / size
        return np.asarray(scaled @ cho_solve(cho_factor(precision / np.outer(size, size)), scaled.T))


def information(groups: Sequence[Columns]) -> Information:
    """What all of these quantities together make of the trace."""
    by = hstack([group.by for group in groups], format="csr")
    return Information(
        normal=(by.T @ by).toarray(),
        truth=np.concatenate([group.truth for group in groups], axis=1),
        precision=block_diag(*(group.precision for group in groups)),
    )


def left_unknown(groups: Sequence[Columns], variance: float) -> Samples:
    """(3, 3) covariance of systolic, mean and diastolic pressure given the trace, noise of this variance [mmHg^2]."""
    return information(groups).left_unknown(variance)


def whole(moved: Sequence[tuple[Callable[[float], Made], float]], precision: Samples) -> Columns:
    """Columns of quantities that act on the whole recording: how it is made with each moved, and by how much."""
    traces, truths = [], []
    for make, step in moved:
        (high, high_truth), (low, low_truth) = make(step), make(-step)
        traces.append((high - low) / (2.0 * step))
        truths.append((high_truth - low_truth).mean(axis=1) / (2.0 * step))
    return Columns(by=csr_array(np.stack(traces, axis=1)), truth=np.stack(truths, axis=1), precision=precision)


def local(
    parts: Parts,
    edge_s: Samples,
    make: Callable[[Samples], Made],
    step: float,
    precision: Samples,
    pressures: Callable[[Samples], Samples] | None = None,
) -> Columns:
    """Columns of quantities that act from one edge before their own to three edges after it at most.

    pressures : what the beats' pressures (3, m) become, for quantities that move them
    """
    count, at_s, plain = precision.shape[0], parts.seen_s, parts.made()[0]
    place = np.searchsorted(edge_s, at_s + 1e-9, side="right") - 1
    rows, cols, data, truth = [], [], [], np.zeros((3, count))
    for color in range(APART):
        moved = (np.arange(count) % APART == color).astype(np.float64)
        change = (make(step * moved)[0] - plain) / step
        owner = place + 1 - (place + 1 - color) % APART
        real = (np.abs(change) > 1e-9) & (owner >= 0) & (owner < count)
        rows.append(np.flatnonzero(real))
        cols.append(owner[real])
        data.append(change[real])
        if pressures is not None:
            foot_s = parts.feet_s
            beat = np.searchsorted(edge_s, foot_s + 1e-9, side="right") - 1
            owner = np.clip(beat + 1 - (beat + 1 - color) % APART, 0, count - 1)
            # small, as which of two feet is the lower may not change
            by = (pressures(SMALL * moved) - pressures(0.0 * moved)) / SMALL / foot_s.size
            for k in range(3):
                np.add.at(truth[k], owner, by[k])
    entries = (np.concatenate(data), (np.concatenate(rows), np.concatenate(cols)))
    return Columns(by=coo_array(entries, shape=(at_s.size, count)).tocsr(), truth=truth, precision=precision)
