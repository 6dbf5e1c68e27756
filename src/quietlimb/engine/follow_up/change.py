"""Has the pressure changed, and what change could be believed at all?"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from typing import Literal

import numpy as np

from quietlimb.engine.errors import ParameterError
from quietlimb.engine.follow_up import priors
from quietlimb.engine.follow_up.course import UnderlyingCourse, fit_course
from quietlimb.engine.follow_up.history import PastSession, TreatmentEvent
from quietlimb.engine.follow_up.mixture import NormalMixture
from quietlimb.engine.values import Estimate

ChangeVerdict = Literal["fell", "rose", "about the same", "cannot tell"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Change:
    """How the underlying pressure moved between two days.

    by_mmhg          : the change that is asked about [mmHg], > 0
    change           : level on `to_day` minus level on `from_day`
    fell, rose, same : probabilities that it fell by more than that, rose by more than that, or neither; they sum to 1
    verdict          : the one that is at least as probable as `certainty`
    """

    from_day: float
    to_day: float
    by_mmhg: float
    change: Estimate
    fell: float
    rose: float
    same: float
    certainty: float
    verdict: ChangeVerdict


def change_between(
    course: UnderlyingCourse,
    from_day: float,
    to_day: float,
    *,
    by_mmhg: float = priors.CHANGE_WORTH_TELLING.value,
    certainty: float = priors.CERTAINTY.value,
) -> Change:
    """The change of the underlying pressure between two days; an event acts from the day after it.

    Raises
    ------
    ParameterError : a day before the first session, the same day twice (`no-time-between`), an amount that is not above
                     0 (`impossible-amount`), a certainty outside 0.5 to 1 (`impossible-certainty`).
    """
    if not to_day > from_day:
        raise ParameterError("no-time-between", "the second day is not after the first", "give the earlier day first")
    if not (math.isfinite(by_mmhg) and by_mmhg > 0.0):
        raise ParameterError("impossible-amount", f"the change asked about is {by_mmhg:g} mmHg", "give mmHg above 0")
    if not 0.5 <= certainty < 1.0:
        raise ParameterError("impossible-certainty", f"certainty is {certainty:g}", "give 0.5 or more, and less than 1")
    law = course.change(from_day, to_day)
    fell, rose = law.below(-by_mmhg), law.above(by_mmhg)
    same = max(0.0, 1.0 - fell - rose)
    shares: dict[ChangeVerdict, float] = {"fell": fell, "rose": rose, "about the same": same}
    verdict: ChangeVerdict = next((name for name, share in shares.items() if share >= certainty), "cannot tell")
    return Change(
        from_day=from_day,
        to_day=to_day,
        by_mmhg=by_mmhg,
        change=law.estimate(),
        fell=fell,
        rose=rose,
        same=same,
        certainty=certainty,
        verdict=verdict,
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class HighDay:
    """The session before treatment was begun, against what the sessions up to then say of the animal.

    charted_mmhg : that session, carried over to the usual circumstances [mmHg]
    level        : underlying level on the day, by the sessions and events up to it alone
    above_mmhg   : how far the session stood above it: the fall to expect of the next session without any treatment
    high         : whether that is enough to be cautious
    """

    day: int
    charted_mmhg: float
    level: Estimate
    above_mmhg: float
    high: bool


def high_day(course: UnderlyingCourse, event: TreatmentEvent) -> HighDay | None:
    """What came before an event; None where no comparable session did."""
    stretch = course.stretch
    n = sum(session.day <= event.day for session in stretch.sessions)
    if n == 0:
        return None
    before = replace(stretch, sessions=stretch.sessions[:n], offsets=stretch.offsets[:n])
    earlier = fit_course(before, [other for other in course.events if other.day < event.day])
    last = stretch.sessions[n - 1]
    charted = last.systolic_mmhg - sum(offset.mean_mmhg for offset in stretch.offsets[n - 1])
    level = earlier.level(last.day).estimate()
    above = charted - level.value
    return HighDay(
        day=last.day,
        charted_mmhg=charted,
        level=level,
        above_mmhg=above,
        high=above >= priors.HIGH_DAY_FROM.value,
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class LeastChange:
    """What a further session could show of this animal now.

    between_sd       : from session to session, by its own sessions and what is usual [mmHg]
    two_sessions     : the difference of two single sessions that chance alone exceeds in 5 of 100 pairs [mmHg]
    one_way          : the same for a fall alone, or a rise alone, where only that is asked about [mmHg]
    next_low, next_high : a next session outside these is less likely than 5 in 100 if nothing has changed [mmHg]
    own_sd           : taken for the next session [mmHg]
    """

    between_sd: Estimate
    two_sessions: float
    one_way: float
    next_low: float
    next_high: float
    own_sd: float


def least_change(course: UnderlyingCourse, day: float) -> LeastChange:
    """The least believable change on a day, for a session as precise as the middle one so far."""
    own = course.stretch.middle_own_sd
    zero = np.zeros_like(course.weight)
    pair = NormalMixture(weight=course.weight, mean=zero, sd=math.sqrt(2.0) * np.hypot(course.between_sd, own))
    following = course.next_session(day, own)
    return LeastChange(
        between_sd=_between_sd(course),
        two_sessions=pair.quantile(0.975),
        one_way=pair.quantile(0.95),
        next_low=following.quantile(0.025),
        next_high=following.quantile(0.975),
        own_sd=own,
    )


def _between_sd(course: UnderlyingCourse) -> Estimate:
    """The grid's weights as a law of the logarithm, each point spread evenly over its part of the grid."""
    values, where = np.unique(np.log(course.between_sd), return_inverse=True)
    shares = np.bincount(where, weights=course.weight)
    step = 0.5 * float(np.diff(values).min()) if values.size > 1 else 0.0
    edges = np.append(values - step, values[-1] + step)
    cumulated = np.append(0.0, np.cumsum(shares))
    low, value, high = np.exp(np.interp((0.025, 0.5, 0.975), cumulated, edges))
    spread = math.sqrt(float(course.weight @ (course.between_sd - value) ** 2))
    return Estimate(value=float(value), low=float(low), high=float(high), own_sd=spread, shared_sd=None)


def last_two(sessions: tuple[PastSession, ...]) -> tuple[PastSession, PastSession] | None:
    """The latest session and the latest one of an earlier day; None where there is only one day."""
    last = sessions[-1]
    earlier = [session for session in sessions if session.day < last.day]
    return (earlier[-1], last) if earlier else None
