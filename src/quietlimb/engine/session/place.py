"""What the place does to the pressure of one animal: carrier against table, home against clinic.

Each pair of series gives a difference; an animal measured in both places more than once gives several. They are
normal about the animal's effect with their own variances and a scatter from pair to pair, learned under a half-normal
prior. Nothing is ever subtracted from a reading: single cats moved by -27 to +75 mmHg (Belew et al. 1999), so no fixed
amount fits one, and the effect is told with its interval.

What the readings of one animal by one cuff and method share drops out of a difference; another cuff brings it in. Pairs
of different days also carry what the pressure moves by from day to day, twice.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from quietlimb.engine.circumstances import Place
from quietlimb.engine.errors import SeriesError
from quietlimb.engine.session.charted import ChartedPressure
from quietlimb.engine.standards.cuff_width import OTHER_CUFF_SD, cuffs_compared
from quietlimb.engine.standards.day_to_day import BETWEEN_SESSION_SD
from quietlimb.engine.values import Estimate

Values = NDArray[np.float64]

MUST_BE_THE_SAME = ("species", "animal", "method", "instrument", "site", "sedation")
MAY_EXPLAIN = ("side", "position", "cuff", "cuff_width_cm", "read_by", "held_by")
PAIR_TO_PAIR_SD = 10.0  # scale of the half-normal prior [mmHg] [invented: of the size of the day-to-day part]
_NODES = 60
_UNTOLD = "one that is not told"


@dataclass(frozen=True, slots=True, kw_only=True)
class PlacePair:
    """The same animal in two places.

    same_session : measured within one session, so that no day lies between; then the second also had longer to settle
    """

    first: ChartedPressure
    second: ChartedPressure
    same_session: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class PlaceEffect:
    """By how much the systolic pressure of this animal was higher in the second place.

    effect             : second minus first, for a pair like these [mmHg]
    next_pair          : the interval in which a further pair's true difference would lie [mmHg]
    probability_higher : that the effect is above 0
    confounded_by      : circumstances that differ between the places in every pair and may be what was measured
    order_confounded   : one place always came first within its session, so settling is in the effect
    uneven             : sessions whose readings broke the protocol's rule on variability
    """

    first_place: Place
    second_place: Place
    effect: Estimate
    next_pair: tuple[float, float]
    probability_higher: float
    pairs: int
    confounded_by: tuple[str, ...]
    order_confounded: bool
    uneven: int = 0


def place_effect(pairs: Sequence[PlacePair], *, day_to_day_sd: float | None = None) -> PlaceEffect:
    """The effect of the place in one animal, from one pair or more.

    day_to_day_sd : of one session's pressure about the animal's [mmHg]; by default that of species and method

    Raises SeriesError where a pair cannot be compared, or tells no place or no pressure, and for a session given twice:
    each counts as measured anew.
    """
    if not pairs:
        raise SeriesError("no-pair", "there is no pair of series", "give one measured in each of two places")
    first_place, second_place = _places(pairs)
    sessions = [session for pair in pairs for session in (pair.first, pair.second)]
    _refuse_repeats(sessions)
    difference, variance = (
        np.array(column) for column in zip(*(_difference(p, day_to_day_sd) for p in pairs), strict=True)
    )
    between = PAIR_TO_PAIR_SD * 3.5 * (np.arange(_NODES) + 0.5) / _NODES
    total = variance + between[:, None] ** 2
    precision = (1.0 / total).sum(axis=1)
    centre = (difference / total).sum(axis=1) / precision
    log_weight = (
        -0.5 * (between / PAIR_TO_PAIR_SD) ** 2
        - 0.5 * np.log(total).sum(axis=1)
        - 0.5 * np.log(precision)
        - 0.5 * ((difference - centre[:, None]) ** 2 / total).sum(axis=1)
    )
    weight = np.exp(log_weight - log_weight.max())
    weight /= weight.sum()
    sd = np.sqrt(1.0 / precision)
    low, middle, high = (_quantile(share, weight, centre, sd) for share in (0.025, 0.5, 0.975))
    spread = np.hypot(sd, between)
    mean = float(weight @ centre)
    return PlaceEffect(
        first_place=first_place,
        second_place=second_place,
        effect=Estimate(
            value=middle,
            low=low,
            high=high,
            own_sd=math.sqrt(float(weight @ (sd**2 + (centre - mean) ** 2))),
            shared_sd=0.0,
        ),
        next_pair=(_quantile(0.025, weight, centre, spread), _quantile(0.975, weight, centre, spread)),
        probability_higher=1.0 - _below(0.0, weight, centre, sd),
        pairs=len(pairs),
        confounded_by=tuple(name for name in MAY_EXPLAIN if all(_differ(pair, name) for pair in pairs)),
        order_confounded=all(pair.same_session for pair in pairs) and _one_order(pairs),
        uneven=sum(session.guideline is not None and session.guideline.varies_too_much for session in sessions),
    )


def _refuse_repeats(sessions: Sequence[ChartedPressure]) -> None:
    seen: dict[str, int] = {}
    for ordinal, session in enumerate(sessions, start=1):
        before = seen.setdefault(session.series.fingerprint_with({}), ordinal)
        if before != ordinal:
            raise SeriesError(
                "session-twice",
                f"session {ordinal} is the same as session {before}: the same readings under the same circumstances",
                "give each session once; if there were two, tell in what they differ, as in started_at",
            )


def _places(pairs: Sequence[PlacePair]) -> tuple[Place, Place]:
    told = {(pair.first.series.circumstances.place, pair.second.series.circumstances.place) for pair in pairs}
    first, second = next(iter(told))
    if len(told) != 1 or first is None or second is None or first == second:
        raise SeriesError(
            "not-two-places",
            f"the pairs tell the places {'; '.join(sorted(f'{a or _UNTOLD} and {b or _UNTOLD}' for a, b in told))}",
            "tell each session its place, and give every pair with the same place first",
        )
    return first, second


def _difference(pair: PlacePair, day_to_day_sd: float | None) -> tuple[float, float]:
    """Second minus first and its variance."""
    here, there = pair.first.series.circumstances, pair.second.series.circumstances
    unlike = [name for name in MUST_BE_THE_SAME if getattr(here, name) != getattr(there, name)]
    if unlike:
        raise SeriesError(
            "cannot-be-compared", f"the two series differ in {', '.join(unlike)}", "compare like with like"
        )
    first, second = pair.first.systolic, pair.second.systolic
    if first is None or second is None:
        raise SeriesError("no-pressure", "one of the two series has no charted pressure", "leave the pair out")
    variance = first.own_sd**2 + second.own_sd**2
    if here.cuff != there.cuff or here.cuff_width_cm != there.cuff_width_cm:
        variance += _another_cuff(pair, first.shared_sd, second.shared_sd)
    if not pair.same_session:
        sd = BETWEEN_SESSION_SD[here.species, here.method].value if day_to_day_sd is None else day_to_day_sd
        variance += 2.0 * sd**2
    return second.value - first.value, variance


def _another_cuff(pair: PlacePair, first_shared_sd: float | None, second_shared_sd: float | None) -> float:
    """What another cuff adds: the shared parts, which no longer drop out; of a display, which tells none, what is
    allowed for between sessions, where the cuffs differ as they do there. [mmHg²]"""
    if first_shared_sd is not None and second_shared_sd is not None:
        return first_shared_sd**2 + second_shared_sd**2
    here, there = cuffs_compared([each.series.circumstances for each in (pair.first, pair.second)])
    return 0.0 if None in (here, there) or here == there else OTHER_CUFF_SD.value**2


def _differ(pair: PlacePair, name: str) -> bool:
    here, there = (getattr(each.series.circumstances, name) for each in (pair.first, pair.second))
    return here is not None and there is not None and here != there


def _one_order(pairs: Sequence[PlacePair]) -> bool:
    began = [
        (pair.first.series.circumstances.started_at, pair.second.series.circumstances.started_at) for pair in pairs
    ]
    if any(first is None or second is None for first, second in began):
        return True
    return len({str(first) < str(second) for first, second in began}) == 1


def _below(limit: float, weight: Values, centre: Values, sd: Values) -> float:
    return float(
        sum(w * 0.5 * math.erfc((c - limit) / (s * math.sqrt(2.0))) for w, c, s in zip(weight, centre, sd, strict=True))
    )


def _quantile(share: float, weight: Values, centre: Values, sd: Values) -> float:
    low, high = float((centre - 8.0 * sd).min()), float((centre + 8.0 * sd).max())
    for _ in range(60):
        middle = 0.5 * (low + high)
        low, high = (middle, high) if _below(middle, weight, centre, sd) < share else (low, middle)
    return 0.5 * (low + high)
