"""When the pulses of a deflation begin: the steepest point of each upstroke, and the typical period."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from quietlimb.engine.deflation import Deflation, count_steps
from quietlimb.engine.fourier import quick_size
from quietlimb.engine.quantiles import high_quantiles, median, quantile

Array = NDArray[np.float64]

FAINTEST_MMHG_PER_S = 1e-3  # below any sensor: keeps a trace without noise from dividing by nothing
SLOWEST_PER_MIN = 36.0  # the range to serve is 40 to 300; a little room on both sides
FASTEST_PER_MIN = 320.0
BAND_HZ = (0.6, 14.0)  # five harmonics of a cat's pulse; purring (21-27 Hz) stays out
PERIOD_WORTH_TRYING, PERIODS_TRIED = 0.25, 9  # invented: of the highest autocorrelation
PULSES_A_STEP = 1.5  # invented: valves wait for two pulses that agree
AS_STRONG = 0.75  # invented: of the upstrokes found; a dicrotic wave stays below
STANDS_OUT = 1.25  # invented: from elsewhere between the upstrokes, where noise is as strong
WEAK_HALF = 0.6  # invented: a pulse this much weaker than its neighbours, every other time, is a dicrotic wave
NEARLY_ALL = 0.92  # invented: share of upstroke energy that the dicrotic waves left out may cost
THE_SAME, NEAR_ONE = 0.7, 0.25  # simulated: of a train's energy, in upstrokes this near those of another [period]
STRONGEST_COUNTED = 1.2  # of the typical upstroke: what is stronger may be a movement
BETWEEN_UPSTROKES = 0.33  # simulated: strength there without noise, taken as if it were noise
TIMED_TO, TIMED_BY_NOISE = 0.007, 0.07  # of the period: how exactly a typical upstroke is timed, as simulated ones were
FURTHEST_SDS = 8.0  # invented: a strong early beat is early, whatever the rhythm says
LONG_TRAIN = 400  # pulses, from where equations for all of them at once take longer than loading a solver for bands
IRREGULAR, DISORDERED = 0.085, 0.15  # simulated: spread of ln(interval / period), of a regular and a free sequence
SHORTEST_INTERVAL, LONGEST_GAP = 0.45, 3.3  # invented: of the period
HIDDEN_BEYOND, HIDDEN_BY_VALVE_BEYOND = 1.75, 1.5  # of the period: an interval this long holds an unseen pulse
NEAR_THE_LIMIT = 0.25  # of the period


@dataclass(frozen=True, slots=True, kw_only=True)
class Train:
    """Upstrokes found at one period.

    at       : sample positions
    period_s : typical interval between neighbours
    share    : of the energy of all strong slopes
    """

    at: Array
    period_s: float
    share: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Rhythm:
    """What a sequence of upstrokes is expected to be like.

    interval_sd : spread of ln(interval / period) that costs half a pulse
    skipping    : what an unseen pulse costs
    least       : strength that earns nothing; weaker upstrokes cost
    hidden      : of the period, an interval this long holds an unseen pulse
    """

    interval_sd: float
    skipping: float
    least: float
    hidden: float


REGULAR = Rhythm(interval_sd=0.20, skipping=0.6, least=0.0, hidden=1.5)  # invented
FREE = Rhythm(interval_sd=1.0, skipping=0.1, least=0.2, hidden=HIDDEN_BEYOND)  # set on simulated atrial fibrillation


def without_steps(deflation: Deflation) -> Array:
    """The deflation with the valve's steps taken out, so that only pulses, drift and linear fall remain [mmHg]."""
    if not deflation.valve_open.any():
        return deflation.pressure
    fall = np.diff(deflation.pressure, prepend=deflation.pressure[0])
    fall[deflation.valve_open] = 0.0
    return np.asarray(deflation.pressure[0] + np.cumsum(fall))


def band_passed(values: Array, rate_hz: float, low_hz: float, high_hz: float) -> Array:
    """Zero-phase band-pass with soft edges."""

    def gain(frequency: Array) -> Array:
        with np.errstate(divide="ignore"):
            low = 1.0 / (1.0 + (low_hz / np.maximum(frequency, 1e-9)) ** 6)
        return np.asarray(low / (1.0 + (frequency / high_hz) ** 8))

    return filtered(values, rate_hz, gain)


def filtered(values: Array, rate_hz: float, gain: Callable[[Array], Array]) -> Array:
    """What a gain by frequency [Hz] leaves of values, without delay; the straight line through the ends is taken out,
    and the ends are mirrored."""
    n = values.size
    trend = np.linspace(values[0], values[-1], n)
    flat = values - trend
    pad = int(3.0 * rate_hz)
    pad = min(n - 1, pad + (quick_size(n + 2 * pad, step=2) - n - 2 * pad) // 2)
    mirrored = np.concatenate((-flat[pad:0:-1], flat, -flat[-2 : -pad - 2 : -1]))
    frequency = np.asarray(np.fft.rfftfreq(mirrored.size, 1.0 / rate_hz), dtype=np.float64)
    return np.asarray(np.fft.irfft(np.fft.rfft(mirrored) * gain(frequency), mirrored.size)[pad : pad + n])


def running_quantile(values: Array, width: int, share: float) -> Array:
    """Quantile, near the top, of the `width` samples around each, found at every quarter width and interpolated."""
    stride = max(1, width // 4)
    padded = np.pad(values, width // 2, mode="reflect" if width // 2 < values.size else "edge")
    found = high_quantiles(padded, width, stride, share)
    return np.asarray(np.interp(np.arange(values.size), np.arange(found.size) * stride, found))


def upstroke_strength(deflation: Deflation) -> Array:
    """Slope of the band-passed pressure against the usual strength of upstrokes around, 1 for a typical upstroke."""
    rate = deflation.rate_hz
    band = band_passed(without_steps(deflation), rate, BAND_HZ[0], min(BAND_HZ[1], 0.4 * rate))
    slope = np.gradient(band) * rate
    slope[deflation.valve_open] = 0.0
    width = min(int(3.0 * rate), slope.size - 1)
    usual = running_quantile(slope, width, 0.96)
    typical = quantile(usual, 0.6)
    return np.asarray(slope / np.maximum(usual, 0.1 * typical + FAINTEST_MMHG_PER_S))


def possible_periods(strength: Array, valve_open: NDArray[np.bool_], rate_hz: float) -> list[float]:
    """Periods at which the upstrokes may repeat [s], by autocorrelation of what can be seen between valve openings."""
    seen = ~valve_open
    positive = np.where(seen, np.clip(strength, 0.0, 1.5), 0.0)
    positive = np.where(seen, positive - positive[seen].mean(), 0.0)
    shortest = max(2, int(60.0 / FASTEST_PER_MIN * rate_hz))
    longest = min(int(60.0 / SLOWEST_PER_MIN * rate_hz), positive.size // 3)
    pairs, together = with_itself(positive, longest), positive.size - np.arange(longest + 1.0)
    if valve_open.any():
        together = with_itself(seen.astype(np.float64), longest)
    inner = (pairs / np.maximum(together, 0.05 * positive.size))[shortest:]
    if inner.size < 3:
        return []
    peaks = np.flatnonzero((inner[1:-1] >= inner[:-2]) & (inner[1:-1] > inner[2:])) + 1
    peaks = peaks[inner[peaks] >= PERIOD_WORTH_TRYING * inner[peaks].max(initial=0.0)]
    best = np.sort(peaks[np.argsort(inner[peaks])[::-1][:PERIODS_TRIED]])
    return [float((shortest + k) / rate_hz) for k in best if inner[k] > 0]


def with_itself(values: Array, longest: int) -> Array:
    """Sum of the products of values 0 to `longest` apart. (n,) -> (longest + 1,)"""
    size = quick_size(values.size + longest)  # so much room that no end meets the beginning
    return np.asarray(np.fft.irfft(np.abs(np.fft.rfft(values, size)) ** 2, size)[: longest + 1])


def find_upstrokes(strength: Array, valve_open: NDArray[np.bool_], rate_hz: float) -> tuple[Array, float]:
    """Sample positions of the upstrokes and their period [s]: the longest period whose upstrokes are nearly all.

    A period too long leaves strong upstrokes over; one too short, as when a dicrotic wave is taken for a pulse, gains
    little over the true one. The longer one's upstrokes have to be those of the strongest train: a limb that moves
    every so often makes others. One upstroke a step may be the steps' own rhythm: a period that finds more goes first.
    """
    found = []
    for period_s in possible_periods(strength, valve_open, rate_hz):
        at, share = upstrokes(strength, rate_hz, period_s, REGULAR)
        if at.size >= 3:
            found.append(Train(at=at, period_s=_period_of(at, period_s * rate_hz) / rate_hz, share=share))
    if not found:
        return np.empty(0), 60.0 / FASTEST_PER_MIN
    strongest = max(found, key=lambda train: train.share)
    good = [train for train in found if train.share >= NEARLY_ALL * strongest.share]
    good = [train for train in good if _made_of(train, strongest, strength, rate_hz)]
    steps = count_steps(valve_open)
    good = [train for train in good if train.at.size >= PULSES_A_STEP * steps] or good
    best = max(good, key=lambda train: (train.period_s, train.share))
    at, period_s = best.at, best.period_s
    if _every_other(at, strength, valve_open):
        period_s /= 2.0
        at, _ = upstrokes(strength, rate_hz, period_s, REGULAR)
    at = _without_weak_half(at, strength, period_s * rate_hz)
    if at.size < 2:
        return at, period_s
    period = _period_of(at, period_s * rate_hz)
    if _spread(at, period) > IRREGULAR:  # perhaps no rhythm at all, and early beats were passed over for having none
        free, _ = upstrokes(strength, rate_hz, period / rate_hz, FREE)
        if _spread(free, period) > DISORDERED:
            return free, _period_of(free, period) / rate_hz
    return at, period / rate_hz


def _made_of(train: Train, strongest: Train, strength: Array, rate_hz: float) -> bool:
    """Whether a train of a longer period is made of the strongest one's own upstrokes; a shorter one always passes."""
    if train.period_s <= strongest.period_s:
        return True
    apart = np.abs(strongest.at[:, None] - train.at).min(axis=1)
    height = np.interp(strongest.at, np.arange(strength.size), strength)
    energy = np.minimum(height, STRONGEST_COUNTED * median(height)) ** 2
    its_own = energy[apart < NEAR_ONE * strongest.period_s * rate_hz].sum()
    return bool(its_own >= THE_SAME * energy.sum())


def unseen(interval: Array, period: float, over_valve: NDArray[np.bool_]) -> Array:
    """How many pulses each interval between neighbours holds: one, and those unseen. (n,) -> (n,)"""
    return np.asarray(np.maximum(np.floor(interval / period + 2.0 - _beyond(over_valve)), 1.0))


def unsure(interval: Array, period: float, over_valve: NDArray[np.bool_]) -> int:
    """How many intervals could as well hold one pulse more or less."""
    return int(np.count_nonzero(np.abs(interval / period - _beyond(over_valve)) < NEAR_THE_LIMIT))


def _beyond(over_valve: NDArray[np.bool_]) -> Array:
    return np.where(over_valve, HIDDEN_BY_VALVE_BEYOND, HIDDEN_BEYOND)


def _spread(at: Array, period: float) -> float:
    """Robust spread of ln(interval / period), whatever a few early beats or unseen pulses do."""
    ratio = np.diff(at) / period
    log = np.log(ratio[ratio < HIDDEN_BY_VALVE_BEYOND])
    return 1.4826 * median(np.abs(log - median(log))) if log.size >= 5 else 0.0


def _period_of(at: Array, about: float) -> float:
    """Typical interval [samples] where some pulses between may be hidden, given about how long one is."""
    interval = np.diff(at)
    return median(interval / np.maximum(np.round(interval / about), 1.0))


def _without_weak_half(at: Array, strength: Array, period: float) -> Array:
    """Every other upstroke where the others are much weaker throughout: those are dicrotic waves, not pulses."""
    if at.size < 8:
        return at
    order = np.concatenate(([0], np.cumsum(np.maximum(np.round(np.diff(at) / period), 1.0)))).astype(np.intp)
    height = np.interp(at, np.arange(strength.size), strength)
    even = order % 2 == 0
    if even.sum() < 4 or (~even).sum() < 4:
        return at
    odd_height, even_height = median(height[~even]), median(height[even])
    if odd_height < WEAK_HALF * even_height:
        return np.asarray(at[even])
    return np.asarray(at[~even]) if even_height < WEAK_HALF * odd_height else at


def _every_other(at: Array, strength: Array, valve_open: NDArray[np.bool_]) -> bool:
    """Whether, half way between these upstrokes, others nearly as strong stand out from what lies around them."""
    half, quarters = (
        _strongest_between(at, strength, valve_open, shares) for shares in (np.array([0.5]), np.array([0.25, 0.75]))
    )
    usual = median(np.interp(at, np.arange(strength.size), strength))
    return half > max(AS_STRONG * usual, STANDS_OUT * quarters)


def _strongest_between(at: Array, strength: Array, valve_open: NDArray[np.bool_], shares: Array) -> float:
    """Typical greatest strength near these shares of the way to the next upstroke; 0 where too few can be seen."""
    places = np.round(at[:-1] + shares[:, None] * np.diff(at)).astype(np.intp).ravel()
    reach = max(1, round(0.10 * median(np.diff(at))))
    around = np.clip(places[:, None] + np.arange(-reach, reach + 1), 0, strength.size - 1)
    seen = ~valve_open[around].any(axis=1)
    return median(strength[around][seen].max(axis=1)) if seen.sum() >= 3 else 0.0


def upstrokes(strength: Array, rate_hz: float, period_s: float, rhythm: Rhythm) -> tuple[Array, float]:
    """Positions of the best sequence of strong slopes [samples], and its share of the energy of all strong slopes.

    By dynamic programming. Each upstroke earns its strength (at most 1.2) above the least; an interval that differs
    from the period costs 0.5 (ln(interval/period) / interval_sd)^2, and one that skips pulses costs for each.
    """
    period = period_s * rate_hz
    width = max(1, round(0.08 * period))
    smooth = np.convolve(strength, np.ones(width) / width, mode="same")
    at = np.flatnonzero((smooth[1:-1] >= smooth[:-2]) & (smooth[1:-1] > smooth[2:]) & (smooth[1:-1] > 0.15)) + 1
    if at.size < 3:
        return np.empty(0), 0.0
    gain = np.minimum(smooth[at] / max(quantile(smooth[at], 0.9), 1e-9), 1.2)
    earned = gain - rhythm.least
    first = np.searchsorted(at, at - LONGEST_GAP * period)
    last = np.searchsorted(at, at - SHORTEST_INTERVAL * period, side="right")
    before = first[:, None] + np.arange(max(int((last - first).max()), 1))
    possible = before < last[:, None]
    before = np.where(possible, before, 0)
    ratio = np.where(possible, (at[:, None] - at[before]) / period, 1.0)
    whole = np.maximum(np.floor(ratio + 2.0 - rhythm.hidden), 1.0)
    cost = 0.5 * (np.log(ratio / whole) / rhythm.interval_sd) ** 2 + rhythm.skipping * (whole - 1.0)
    cost = np.where(possible, cost, np.inf)
    best, came_from = _best_chains(earned, first, last, cost)
    i = int(np.argmax(best))
    chain = [i]
    while came_from[chain[-1]] >= 0:
        chain.append(came_from[chain[-1]])
    k = at[np.array(chain[::-1])]
    share = float(np.sum(gain[chain] ** 2) / np.sum(gain**2))
    left, mid, right = smooth[k - 1], smooth[k], smooth[k + 1]
    bend = left - 2.0 * mid + right
    return k + np.where(bend < 0, 0.5 * (left - right) / np.where(bend < 0, bend, 1.0), 0.0), share


def _best_chains(
    earned: Array, first: NDArray[np.intp], last: NDArray[np.intp], cost: Array
) -> tuple[list[float], list[int]]:
    """Most that a sequence ending at each candidate earns, and the candidate before it there, -1 where it begins.

    cost : (n, m) of the way from candidate first + j, where that lies before `last`
    """
    best, came_from = earned.tolist(), [-1] * earned.size
    # plain numbers: a handful of candidates lie before each, too few for arrays to pay
    for i, (begin, end, costs) in enumerate(zip(first.tolist(), last.tolist(), cost.tolist(), strict=True)):
        most, source = 0.0, -1
        for j in range(begin, end):
            score = best[j] - costs[j - begin]
            if score > most:
                most, source = score, j
        best[i] += most
        came_from[i] = source
    return best, came_from


def steadied(at: Array, strength: Array, period: float) -> Array:
    """Positions with the weak upstrokes moved towards where their neighbours' rhythm expects them. [samples]

    Least squares on two wishes: stay where measured, by the strength of the upstroke against the noise around it, and
    keep the interval of the neighbours, by how regular the strong upstrokes turn out to be. In an irregular rhythm
    hardly anything moves.
    """
    n = at.size
    if n < 6:
        return at
    height = np.interp(at, np.arange(strength.size), strength)
    height = np.clip(height, 0.2, 1.0)
    between = 1.4826 * median(np.abs(strength))
    noise = np.sqrt(max(between**2 - BETWEEN_UPSTROKES**2, 0.0))
    sd = period * np.hypot(TIMED_TO * height**-1.6, TIMED_BY_NOISE * noise / height)
    count = np.concatenate(([0.0], np.cumsum(np.maximum(np.round(np.diff(at) / period), 1.0))))
    left, right = count[1:-1] - count[:-2], count[2:] - count[1:-1]
    bend = np.stack((1.0 / left, -1.0 / left - 1.0 / right, 1.0 / right))  # of three neighbours
    change = bend[0] * at[:-2] + bend[1] * at[1:-1] + bend[2] * at[2:]
    expected = bend[0] ** 2 * sd[:-2] ** 2 + bend[1] ** 2 * sd[1:-1] ** 2 + bend[2] ** 2 * sd[2:] ** 2
    steady = (
        median(change**2 / 0.455 - expected)
        if n < 12
        else median((change**2 / 0.455 - expected)[sd[1:-1] <= median(sd)])
    )
    rhythm = max(steady, (0.004 * period) ** 2)
    band = np.zeros((3, n))  # the diagonals of a symmetric matrix, from its own down
    for k in range(3):
        for j in range(k, 3):
            band[k, j - k : n - 2 + j - k] += bend[j - k] * bend[j] / rhythm
    band[0] += sd**-2
    moved = _solved(band, at / sd**2)
    reach = FURTHEST_SDS * sd
    return np.asarray(at + np.clip(moved - at, -reach, reach))


def _solved(band: Array, right: Array) -> Array:
    """Solution of symmetric positive definite equations of which only the diagonals 0, 1 and 2 are not 0."""
    n = right.size
    if n > LONG_TRAIN:
        from scipy.linalg import solveh_banded  # costs more to load than all else here, and few recordings need it

        return np.asarray(solveh_banded(band, right, lower=True))
    matrix = np.diag(band[0])
    for k in (1, 2):
        at = np.arange(n - k)
        matrix[at, at + k] = matrix[at + k, at] = band[k, : n - k]
    return np.asarray(np.linalg.solve(matrix, right))
