"""The charted pressure: the level that a series had reached at its end, with the guideline average beside it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Literal

from quietlimb.engine.findings import Finding, Quantity, Verdict
from quietlimb.engine.session.series import Series
from quietlimb.engine.standards.rule_set import Protocol
from quietlimb.engine.values import Estimate

Course = Literal["level", "falling", "rising", "unclear"]


@dataclass(frozen=True, slots=True, kw_only=True)
class ReadingInSeries:
    """One reading as the series judges it.

    weights : 0..1 for systolic, mean, diastolic: the worth of this reading against one that fits perfectly; None where
              the reading has no such value
    systolic_expected : what the systolic pressure was at that minute by the model [mmHg]; None where nothing is charted
    """

    minute: float
    verdict: Verdict
    systolic_weight: float | None
    mean_weight: float | None
    diastolic_weight: float | None
    findings: tuple[Finding, ...]
    systolic_expected: float | None = None

    @property
    def systolic_is_far(self) -> bool:
        """Whether the series speaks against its systolic pressure."""
        return any(each.code == "far-from-series" and "systolic" in each.touches for each in self.findings)


@dataclass(frozen=True, slots=True, kw_only=True)
class GuidelineAverage:
    """The average that the published protocol asks for.

    systolic, mean, diastolic : mmHg, None where there are no such values
    protocol                  : that it follows, with its numbers
    rule                      : the same in words, with the definition of variability that was chosen
    kept                      : 1-based ordinals of the readings averaged
    enough                    : whether as many were kept as the protocol asks for
    consistent                : whether they met its rule on variability
    spread                    : the figure that the rule looks at, as a share
    consistent_but_for_spoiled: whether they would meet it without readings that lie far from the series, three at least
                                and three quarters of them being left
    left_out                  : mean and diastolic values that cannot be right beside the others of their display, by
                                1-based ordinals of their readings; their averages are without them
    """

    protocol: Protocol
    rule: str
    kept: tuple[int, ...]
    systolic: float | None
    mean: float | None
    diastolic: float | None
    spread: float | None
    consistent: bool
    enough: bool
    consistent_but_for_spoiled: bool = False
    left_out: Mapping[Quantity, tuple[int, ...]] = field(default_factory=dict)

    @property
    def varies_too_much(self) -> bool:
        """Whether there was a figure to look at and it broke the rule on variability."""
        return self.spread is not None and not self.consistent

    @property
    def broke_its_rule(self) -> bool:
        """The same, and not by what is spoiled alone."""
        return self.varies_too_much and not self.consistent_but_for_spoiled


@dataclass(frozen=True, slots=True, kw_only=True)
class Outlook:
    """From what further readings of the series are thought out.

    level_mmhg           : median of the level at its end
    scatter_mmhg         : of one reading, by its mean square
    falling_mmhg_per_min : how fast the pressure still falls
    """

    level_mmhg: float
    scatter_mmhg: float
    falling_mmhg_per_min: float


@dataclass(frozen=True, slots=True, kw_only=True)
class ChartedPressure:
    """What to chart for a series. A value that cannot be given is None and a finding says why.

    course_probability : of level, falling, rising, in this order
    fall_mmhg          : systolic at the first reading minus systolic at the last, by the model [mmHg]; None with fewer
                         than two usable readings, which tell no course
    levels_off_mmhg    : where the systolic pressure would level off if a falling or rising course went on [mmHg]: a
                         remark, never charted and never a category; None where the course has another name
    correlation        : of the errors of each charted pressure with that of the systolic one, own parts only
    parameters         : what it was charted by: `protocol` and `variability`, for recordings the `method` of reading
                         them, and `noise` and `course_prior` where the caller gave others than the usual ones
    outlook      : for `enough`; None where nothing is charted
    """

    series: Series
    systolic: Estimate | None
    mean: Estimate | None
    diastolic: Estimate | None
    pulse_rate: Estimate | None
    course: Course
    course_probability: tuple[float, float, float]
    fall_mmhg: float | None
    readings: tuple[ReadingInSeries, ...]
    guideline: GuidelineAverage | None
    findings: tuple[Finding, ...]
    levels_off_mmhg: float | None = None
    correlation: Mapping[str, float] = field(default_factory=dict)
    parameters: Mapping[str, str] = field(default_factory=dict)
    outlook: Outlook | None = None

    @property
    def fingerprint(self) -> str:
        """The session's one fingerprint, of its readings, circumstances and parameters; see `Series`."""
        return self.series.fingerprint_with(self.parameters)

    @property
    def gets_category(self) -> bool:
        """Whether a category may be named: the animal was awake, and its readings did not break the protocol's rule."""
        awake = self.series.circumstances.sedation in (None, "awake")
        return awake and not (self.guideline is not None and self.guideline.broke_its_rule)
