"""The underlying pressure of one animal over time, from sessions that can be compared.

    charted_i = level(day_i) + offsets of its surroundings + change from session to session + what readings left open

level is a random walk that steps where treatment is begun, changed or stopped, and, rarely, where nothing is told. The
change from session to session is normal, and now and then far wider: an odd session. Given the variances, the odd
sessions and the untold step everything is normal, so the level at any days follows by conditioning on the sessions,
which is what a Kalman smoother computes step by step. The two variances that differ between animals are weighed on a
grid by prior times evidence, and so is what is odd (no session, each one, each two) and where the level stepped untold
(nowhere, or between any two sessions, then with one odd session at most). No draws: the same history gives the same
numbers.

The population's mean and spread of levels are in the prior. That is what keeps a single high session from being taken
at its word, and so what allows for treatments begun on a high day (regression to the mean).
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import combinations

import numpy as np
from numpy.typing import NDArray

from quietlimb.engine.errors import ParameterError
from quietlimb.engine.follow_up import priors
from quietlimb.engine.follow_up.comparability import Offset, Stretch
from quietlimb.engine.follow_up.history import TreatmentEvent
from quietlimb.engine.follow_up.mixture import NormalMixture
from quietlimb.engine.standards.day_to_day import BETWEEN_SESSION_SD
from quietlimb.engine.units import DAYS_PER_YEAR

Array = NDArray[np.float64]
UNSETTLED_SESSIONS = 3
MOST_SESSIONS = 300  # the cost grows as the cube; a session a day for ten months
_BETWEEN_AT = np.linspace(-2.5, 2.5, 9)  # in spreads of the logarithm
_DRIFT_AT = np.linspace(-2.0, 2.0, 5)
_CANDIDATES = 12
_SMALLEST_SHARE = 1e-5  # of the most probable component; what is below adds nothing to a third decimal


@dataclass(frozen=True, slots=True, kw_only=True)
class Surprise:
    """What may have happened untold: which sessions are odd, and the day after whose sessions the level stepped.

    step_day : infinite where it did not
    """

    odd: tuple[int, ...] = ()
    step_day: float = math.inf

    def columns(self, days: Array) -> Array:
        """(n, r) what each part adds to the sessions, so that columns @ columns.T is their added covariance."""
        odd = np.zeros((days.size, len(self.odd)))
        odd[list(self.odd), range(len(self.odd))] = priors.ODD_SD.value
        if not math.isfinite(self.step_day):
            return odd
        return np.column_stack([odd, priors.STEP_SD.value * (days > self.step_day)])

    def log_prior(self, days: Array) -> float:
        """Logarithm of its prior probability, up to what all share."""
        share = priors.ODD_SHARE.value
        odd = len(self.odd) * math.log(share / (1.0 - share))
        if not math.isfinite(self.step_day):
            return odd
        gap = float(days[days > self.step_day].min()) - self.step_day
        return odd + math.log(priors.UNTOLD_STEPS_PER_YEAR.value * gap / DAYS_PER_YEAR)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class UnderlyingCourse:
    """The fitted course: a mixture of normal laws, one for each pair of variances and each surprise.

    stretch, events   : what it rests on; the events from the first session on
    weight            : (w,) sum to 1
    between_sd        : (w,) standard deviation from session to session [mmHg]
    drift_per_day     : (w,) variance that the level gains in a day [mmHg^2]
    surprises         : (w,) what happened untold
    """

    stretch: Stretch
    events: tuple[TreatmentEvent, ...]
    weight: Array
    between_sd: Array
    drift_per_day: Array
    surprises: tuple[Surprise, ...]
    _point: NDArray[np.intp]  # (w,) on the grid of variances
    _inverse: Array  # (g, n, n) of the sessions' covariance without surprise
    _removed: Array  # (w, n, 2) what a surprise takes off it: inverse[point] - removed @ removed.T
    _residue: Array  # (n,) sessions minus what was expected of them

    @property
    def days(self) -> Array:
        """(n,) days of the sessions."""
        return _days(self.stretch)

    def odd_probability(self) -> Array:
        """(n,) probability that each session is an odd one."""
        found = np.zeros(len(self.stretch.sessions))
        for weight, surprise in zip(self.weight, self.surprises, strict=True):
            found[list(surprise.odd)] += weight
        return found

    def step_probability(self) -> dict[float, float]:
        """Probability of an untold step after the sessions of each day; what is left is that there was none."""
        found: dict[float, float] = {}
        for weight, surprise in zip(self.weight, self.surprises, strict=True):
            if math.isfinite(surprise.step_day):
                found[surprise.step_day] = found.get(surprise.step_day, 0.0) + float(weight)
        return found

    def unsettled_probability(self) -> float:
        """Probability that the latest session is odd, or that the level took an untold step before one of the latest
        `UNSETTLED_SESSIONS`: that what was measured last does not belong to the rest."""
        last = len(self.days) - 1
        since = self.days[max(0, last - UNSETTLED_SESSIONS)]
        unsettled = [last in each.odd or since <= each.step_day < math.inf for each in self.surprises]
        return float(self.weight @ np.array(unsettled, dtype=np.float64))

    def levels(self, days: Sequence[float] | Array) -> tuple[Array, Array]:
        """Means (w, m) and covariances (w, m, m) of the level at the end of the sessions of these days [mmHg].

        An event acts from the day after it; a day and a half, as 5.5, is after an event of day 5.

        Raises
        ------
        ParameterError : a day before the first session (`before-first-session`).
        """
        wanted = np.asarray(days, dtype=np.float64)
        if wanted.size and wanted.min() < self.days[0]:
            raise ParameterError(
                "before-first-session",
                f"the day asked about lies {self.days[0] - wanted.min():g} days before the first comparable session",
                "ask for a day from the first session on",
            )
        among = _level_covariance(wanted, wanted, self.days[0], self.events, self.drift_per_day)
        across = _level_covariance(wanted, self.days, self.days[0], self.events, self.drift_per_day)
        stepped = np.array([surprise.step_day for surprise in self.surprises])[:, None]
        new = priors.STEP_SD.value * (wanted > stepped)
        among += new[:, :, None] * new[:, None, :]
        across += new[:, :, None] * priors.STEP_SD.value * (self.days > stepped)[:, None, :]
        gain = self._times_inverse(across)
        mean = priors.LEVEL_MEAN.value + gain @ self._residue
        return mean, among - gain @ np.swapaxes(across, 1, 2)

    def _times_inverse(self, across: Array) -> Array:
        """across (w, m, n) times each component's inverse covariance, which are too many to be held at once."""
        result = -(across @ self._removed) @ np.swapaxes(self._removed, 1, 2)
        for point in np.unique(self._point):
            rows = self._point == point
            result[rows] += across[rows] @ self._inverse[point]
        return np.asarray(result)

    def level(self, day: float) -> NormalMixture:
        """The level on a day."""
        mean, covariance = self.levels([day])
        return NormalMixture(weight=self.weight, mean=mean[:, 0], sd=np.sqrt(np.maximum(covariance[:, 0, 0], 0.0)))

    def change(self, from_day: float, to_day: float) -> NormalMixture:
        """Level on `to_day` minus level on `from_day`."""
        mean, covariance = self.levels([from_day, to_day])
        variance = covariance[:, 0, 0] + covariance[:, 1, 1] - 2.0 * covariance[:, 0, 1]
        return NormalMixture(weight=self.weight, mean=mean[:, 1] - mean[:, 0], sd=np.sqrt(np.maximum(variance, 0.0)))

    def next_session(self, day: float, own_sd: float) -> NormalMixture:
        """What a further session under the usual circumstances would chart. own_sd : within that session [mmHg]"""
        return self.level(day).with_noise(np.hypot(self.between_sd, own_sd))


def fit_course(stretch: Stretch, events: Sequence[TreatmentEvent] = ()) -> UnderlyingCourse:
    """The underlying course of a stretch of comparable sessions.

    Raises
    ------
    ParameterError : more than MOST_SESSIONS sessions (`too-many-sessions`).
    """
    n = len(stretch.sessions)
    if n > MOST_SESSIONS:
        raise ParameterError(
            "too-many-sessions",
            f"{n} comparable sessions, more than {MOST_SESSIONS}",
            "leave the oldest out; they say little about today",
        )
    days = _days(stretch)
    # A step before or on the first day cannot be told from the level itself.
    seen = tuple(event for event in events if event.day >= days[0])
    circumstances = stretch.sessions[-1].circumstances
    between, drift, log_prior = _grid(BETWEEN_SESSION_SD[circumstances.species, circumstances.method].value)

    charted = np.array([session.systolic_mmhg for session in stretch.sessions])
    own = np.array([session.own_sd_mmhg for session in stretch.sessions])
    offset_mean, offset_covariance = _offsets(stretch)
    residue = charted - priors.LEVEL_MEAN.value - offset_mean
    covariance = _level_covariance(days, days, days[0], seen, drift) + offset_covariance
    covariance[:, range(n), range(n)] += own**2 + between[:, None] ** 2

    inverse = np.asarray(np.linalg.inv(covariance), dtype=np.float64)
    solved = inverse @ residue
    log_evidence = -0.5 * (np.linalg.slogdet(covariance)[1] + solved @ residue)
    surprises = _surprises(days, seen, inverse, solved, log_evidence)
    log_weight = log_prior + log_evidence + np.array([_gain(each, days, inverse, solved) for each in surprises])
    kept = np.argwhere(log_weight > log_weight.max() + math.log(_SMALLEST_SHARE))
    weight = np.exp(log_weight[tuple(kept.T)] - log_weight.max())
    return UnderlyingCourse(
        stretch=stretch,
        events=seen,
        weight=weight / weight.sum(),
        between_sd=between[kept[:, 1]],
        drift_per_day=drift[kept[:, 1]],
        surprises=tuple(surprises[k] for k in kept[:, 0]),
        _point=kept[:, 1],
        _inverse=inverse,
        _removed=_removed(kept, surprises, days, inverse),
        _residue=residue,
    )


def _days(stretch: Stretch) -> Array:
    return np.array([session.day for session in stretch.sessions], dtype=np.float64)


def _grid(usual_between: float) -> tuple[Array, Array, Array]:
    """Between-session SD, drift variance a day, logarithm of their prior weight; all (g,)."""
    between = usual_between * np.exp(priors.BETWEEN_SD_LOG_SPREAD.value * _BETWEEN_AT)
    per_month = priors.DRIFT_SD_PER_MONTH.value * np.exp(priors.DRIFT_LOG_SPREAD.value * _DRIFT_AT)
    drift = per_month**2 / priors.DAYS_PER_MONTH
    a, b = (axis.ravel() for axis in np.meshgrid(_BETWEEN_AT, _DRIFT_AT, indexing="ij"))
    first, second = (axis.ravel() for axis in np.meshgrid(between, drift, indexing="ij"))
    return first, second, -0.5 * (a**2 + b**2)


def _level_covariance(
    some: Array, others: Array, start: float, events: Sequence[TreatmentEvent], drift_per_day: Array
) -> Array:
    """(g, a, b) prior covariance of the level on some days and on others."""
    earlier = np.minimum.outer(some, others)
    steps = sum((earlier > event.day).astype(np.float64) for event in events)
    fixed = priors.LEVEL_SD.value**2 + priors.STEP_SD.value**2 * steps
    return np.asarray(fixed + drift_per_day[:, None, None] * (earlier - start))


def _offsets(stretch: Stretch) -> tuple[Array, Array]:
    """(n,) what the offsets add on average, and (n, n) their covariance: sessions share those of the same kind."""
    kinds: list[Offset] = list(dict.fromkeys(offset for session in stretch.offsets for offset in session))
    has = np.array([[kind in session for kind in kinds] for session in stretch.offsets], dtype=np.float64)
    has = has.reshape(len(stretch.sessions), len(kinds))
    mean = has @ np.array([kind.mean_mmhg for kind in kinds], dtype=np.float64)
    return mean, (has * np.array([kind.sd_mmhg**2 for kind in kinds], dtype=np.float64)) @ has.T


def _surprises(
    days: Array, events: Sequence[TreatmentEvent], inverse: Array, solved: Array, log_evidence: Array
) -> list[Surprise]:
    """What is weighed: of a long history the sessions that lie farthest off and the likeliest steps only."""
    best = int(np.argmax(log_evidence))
    # An entry of `solved` over the root of the inverse's diagonal is the session's distance from what all the others
    # foretell, in standard deviations.
    distance = np.abs(solved[best]) / np.sqrt(np.diagonal(inverse[best]))
    odd = sorted(np.argsort(-distance, kind="stable")[:_CANDIDATES].tolist())
    told = {event.day for event in events}
    steps = [Surprise(step_day=float(day)) for day in np.unique(days)[:-1] if int(day) not in told]
    if len(steps) > _CANDIDATES:
        only = slice(best, best + 1)
        steps.sort(key=lambda step: -float(_gain(step, days, inverse[only], solved[only])[0]))
        steps = steps[:_CANDIDATES]
    found = [Surprise(odd=some) for count in range(min(2, days.size) + 1) for some in combinations(odd, count)]
    for step in steps:
        found += [step, *(Surprise(odd=(k,), step_day=step.step_day) for k in odd)]
    return found


def _gain(surprise: Surprise, days: Array, inverse: Array, solved: Array) -> Array:
    """(g,) what a surprise adds to the logarithm of prior times evidence, by the matrix determinant lemma."""
    columns = surprise.columns(days)
    if columns.shape[1] == 0:
        return np.zeros(inverse.shape[0])
    inner = np.eye(columns.shape[1]) + columns.T @ inverse @ columns
    part = solved @ columns
    gained = np.einsum("gi,gi->g", part, np.linalg.solve(inner, part[..., None])[..., 0])
    return np.asarray(surprise.log_prior(days) + 0.5 * (gained - np.linalg.slogdet(inner)[1]))


def _removed(kept: NDArray[np.intp], surprises: Sequence[Surprise], days: Array, inverse: Array) -> Array:
    """(w, n, 2) what each surprise takes off the inverse covariance, by Woodbury's formula."""
    result = np.zeros((kept.shape[0], days.size, 2))
    for choice in np.unique(kept[:, 0]):
        columns = surprises[choice].columns(days)
        rows = np.flatnonzero(kept[:, 0] == choice)
        across = inverse[kept[rows, 1]] @ columns if columns.shape[1] else np.zeros((rows.size, days.size, 0))
        # inner = root @ root.T, so across @ inverse(inner) @ across.T is the square of across @ inverse(root).T
        root = np.linalg.cholesky(np.eye(columns.shape[1]) + columns.T @ across)
        result[rows, :, : columns.shape[1]] = np.swapaxes(np.linalg.solve(root, np.swapaxes(across, 1, 2)), 1, 2)
    return result
