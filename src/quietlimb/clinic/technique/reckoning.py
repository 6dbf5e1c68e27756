"""The figures of technique, from plain values. Knows no rows and no pages."""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from statistics import NormalDist
from typing import Literal

import numpy as np
from scipy.stats import binomtest, chisquare

from quietlimb.engine.standards.acvim_2018 import SHORTEST_ACCLIMATISATION
from quietlimb.engine.values import Cited

# Below it some of ten digits are expected fewer than five times, and chi-square is no good approximation.
FEWEST_FOR_CHI_SQUARE = Cited(50.0, "readings", "practice", "counts of 5 and more expected", "common practice")
# So many even digits in a row, and no odd one: by chance 1 in 1024 where the display shows every mmHg.
FEWEST_FOR_EVEN_STEPS = Cited(10.0, "readings", "Quietlimb", "this file", "invented")
LEVEL_WITHIN = Cited(5.0, "mmHg", "Quietlimb", "this file", "invented")


@dataclass(frozen=True, slots=True, kw_only=True)
class Share:
    """So many of so many."""

    count: int
    of: int

    @property
    def value(self) -> float | None:
        """As a share, 0..1; None of nothing."""
        return self.count / self.of if self.of else None

    @property
    def interval(self) -> tuple[float, float] | None:
        """Its 95 % interval by Wilson's score; None of nothing."""
        return wilson(self.count, self.of) if self.of else None

    @property
    def percent(self) -> tuple[float, float, float] | None:
        """Value, lower and upper end of the interval in per cent; None of nothing."""
        if self.value is None or self.interval is None:
            return None
        low, high = self.interval
        return 100.0 * self.value, 100.0 * low, 100.0 * high


def wilson(count: int, of: int, *, level: float = 0.95) -> tuple[float, float]:
    """The score interval of a share, without correction for continuity: (low, high), 0..1.

    Notes
    -----
    (p + z^2 / 2n -/+ z sqrt(p (1 - p) / n + z^2 / 4n^2)) / (1 + z^2 / n), with p = count / of and n = of.
    """
    z = NormalDist().inv_cdf(0.5 + level / 2.0)
    share = count / of
    middle = share + z**2 / (2.0 * of)
    half = z * math.sqrt(share * (1.0 - share) / of + z**2 / (4.0 * of**2))
    scale = 1.0 + z**2 / of
    return max(0.0, (middle - half) / scale), min(1.0, (middle + half) / scale)


@dataclass(frozen=True, slots=True, kw_only=True)
class LastDigits:
    """The last digits of typed systolic pressures.

    counts    : of 0 to 9
    step_mmhg : of the display or gauge, as the digits show it: 2 where all of them are even
    zeros     : the share of zeros, of which 1 in 10, or 1 in 5, is expected without preference
    p_value   : of such counts or ones less even, were all digits of the step equally likely; None of nothing
    test      : by which it was found: chi-square over all digits, or exact for the zeros alone where they are few
    """

    counts: tuple[int, ...]
    step_mmhg: Literal[1, 2]
    zeros: Share
    p_value: float | None
    test: Literal["chi-square", "exact", ""]

    @property
    def expected_zeros(self) -> float:
        """The share of zeros without preference."""
        return self.step_mmhg / 10.0

    @property
    def prefers_zero(self) -> bool:
        """Whether zeros are more frequent than expected, beyond the interval of their share."""
        return self.zeros.interval is not None and self.zeros.interval[0] > self.expected_zeros


def last_digits(systolic_mmhg: Sequence[float]) -> LastDigits:
    """The last digits of whole mmHg; values with a decimal are left out."""
    digits = [int(value) % 10 for value in systolic_mmhg if float(value).is_integer()]
    counts = tuple(int(n) for n in np.bincount(digits, minlength=10)) if digits else (0,) * 10
    even = len(digits) >= FEWEST_FOR_EVEN_STEPS.value and not any(counts[1::2])
    step: Literal[1, 2] = 2 if even else 1
    zeros = Share(count=counts[0], of=len(digits))
    test: Literal["chi-square", "exact", ""] = ""
    p_value = None
    if len(digits) >= FEWEST_FOR_CHI_SQUARE.value:
        test, p_value = "chi-square", float(chisquare(counts[::step]).pvalue)
    elif digits:
        test, p_value = "exact", float(binomtest(zeros.count, zeros.of, step / 10.0).pvalue)
    return LastDigits(counts=counts, step_mmhg=step, zeros=zeros, p_value=p_value, test=test)


def minutes_to_level(minute: Sequence[float], expected_mmhg: Sequence[float]) -> float:
    """Minutes from the first reading to the one from which on the expected pressure stays at its last level.

    expected_mmhg : (n,) what the pressure was at each reading by the model of the series, n >= 1
    """
    last = expected_mmhg[-1]
    away = [k for k, value in enumerate(expected_mmhg) if abs(value - last) > LEVEL_WITHIN.value]
    return minute[away[-1] + 1] - minute[0] if away else 0.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Measured:
    """One session, as far as technique goes.

    reader           : who read, as text
    closed           : whether it was closed, and not ended in another way
    settled_min      : minutes of acclimatisation before the first reading; None where not told
    longest_counted  : readings that count in its longest series
    readings         : all that were not struck through
    struck           : those that were
    spoiled          : reasons, one for each spoiled reading
    typed_systolic   : typed pressures by method [mmHg]
    levelled         : for each series that could be charted, minutes to level; None where it had not levelled off
    """

    reader: str
    closed: bool
    settled_min: float | None
    longest_counted: int
    readings: int
    struck: int = 0
    spoiled: tuple[str, ...] = ()
    typed_systolic: Mapping[str, tuple[float, ...]] = field(default_factory=dict)
    levelled: tuple[float | None, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Spread:
    """The middle of some numbers and their quarters."""

    lower_quarter: float
    median: float
    upper_quarter: float


def spread(values: Sequence[float]) -> Spread | None:
    """Median and quartiles, with linear interpolation between neighbours; None of nothing."""
    if not values:
        return None
    low, middle, high = (float(value) for value in np.quantile(values, (0.25, 0.5, 0.75)))
    return Spread(lower_quarter=low, median=middle, upper_quarter=high)


@dataclass(frozen=True, slots=True, kw_only=True)
class Technique:
    """What the sessions of a period show together.

    told        : sessions with acclimatisation told, of those with a reading
    settled     : those with the published minutes, of those that told
    enough      : closed sessions with as many readings that count as the protocol asks for
    a_session   : readings a session that has any
    discarded   : spoiled readings of all that were not struck through
    reasons     : how often each, the most frequent first
    struck      : readings struck through as mistakes, of all
    digits      : by method
    to_level    : minutes; of the series that had levelled off
    levelled    : series that had levelled off, of those charted
    """

    sessions: int
    told: Share
    settled: Share
    enough: Share
    a_session: Spread | None
    discarded: Share
    reasons: tuple[tuple[str, int], ...]
    struck: Share
    digits: Mapping[str, LastDigits]
    to_level: Spread | None
    levelled: Share


def technique_of(sessions: Sequence[Measured], *, asked_for: int) -> Technique:
    """The figures of these sessions.

    asked_for : readings that the protocol asks for, those it drops included
    """
    with_any = [each for each in sessions if each.readings]
    told = [each.settled_min for each in with_any if each.settled_min is not None]
    closed = [each for each in sessions if each.closed]
    readings, struck = sum(each.readings for each in sessions), sum(each.struck for each in sessions)
    reasons = Counter(reason for each in sessions for reason in each.spoiled)
    minutes = [value for each in sessions for value in each.levelled]
    level = [value for value in minutes if value is not None]
    methods = sorted({method for each in sessions for method in each.typed_systolic})
    return Technique(
        sessions=len(sessions),
        told=Share(count=len(told), of=len(with_any)),
        settled=Share(count=sum(value >= SHORTEST_ACCLIMATISATION.value for value in told), of=len(told)),
        enough=Share(count=sum(each.longest_counted >= asked_for for each in closed), of=len(closed)),
        a_session=spread([each.readings for each in with_any]),
        discarded=Share(count=sum(reasons.values()), of=readings),
        reasons=tuple(sorted(reasons.items(), key=lambda each: (-each[1], each[0]))),
        struck=Share(count=struck, of=readings + struck),
        digits={
            method: last_digits([value for each in sessions for value in each.typed_systolic.get(method, ())])
            for method in methods
        },
        to_level=spread(level),
        levelled=Share(count=len(level), of=len(minutes)),
    )


def by_reader(sessions: Sequence[Measured], *, asked_for: int) -> dict[str, Technique]:
    """The same figures for who read, by name."""
    readers = sorted({each.reader for each in sessions})
    return {
        reader: technique_of([each for each in sessions if each.reader == reader], asked_for=asked_for)
        for reader in readers
    }
