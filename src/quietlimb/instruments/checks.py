"""The vocabulary of a check of an instrument or a cuff: what goes in, and the one shape that comes out.

The checks themselves stand side by side: `static_accuracy` and `display` in `static.py`, `leak` and
`leak_of_recording` in `leak.py`, `exhaust` and `bleed_rate` in `valve.py`; `drift.py` looks at many of them,
`schedule.py` says when the next is due. No number here depends on a clock.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field, replace
from typing import Final, Literal, get_args

from quietlimb.engine.errors import QuietlimbError
from quietlimb.engine.values import Cited

Kind = Literal["static", "display", "leak", "exhaust", "bleed"]
# From best to worst. `crossing`: the value meets the limit, or misses it, but its 95 % interval reaches across.
CheckVerdict = Literal["passes", "passes-crossing", "fails-crossing", "fails", "not-judged"]
Direction = Literal["up", "down"]

LOWEST_MMHG, HIGHEST_MMHG = -20.0, 350.0

# code -> the numbers that it carries
CHECK_FINDING_CODES: Final[Mapping[str, tuple[str, ...]]] = {
    # static accuracy, display
    "one-direction-only": (),
    "few-points": ("points", "wanted"),
    "narrow-range": ("lowest_mmhg", "highest_mmhg"),
    "reference-uncertain": ("expanded_mmhg", "limit_mmhg"),
    "zero-off": ("error_mmhg",),
    "hysteresis-large": ("hysteresis_mmhg", "limit_mmhg"),
    "error-grows-with-pressure": ("mmhg_per_100_mmhg",),
    "error-alike": ("mean_mmhg",),
    # leak
    "short-hold": ("seconds", "wanted"),
    "no-hold": ("wanted",),
    "still-settling": ("mmhg_per_min", "settling_s", "hold_s"),
    "pressure-rises": ("mmhg_per_min",),
    "low-only": ("highest_mmhg",),
    "held-too-low": ("highest_mmhg", "wanted_mmhg"),
    # exhaust, bleed
    "starts-too-low": ("highest_mmhg", "needed_mmhg"),
    "ends-too-high": ("lowest_mmhg", "needed_mmhg"),
    "no-fall": (),
    "opened-too-low": ("opened_mmhg", "needed_mmhg"),
    "blocked": ("fallen_mmhg", "seconds", "fastest_mmhg_per_s"),
    "stayed-closed": ("slowest_mmhg_per_s",),
    "no-exhaust": ("fastest_mmhg_per_s", "wanted_mmhg_per_s"),
    "no-bleed": ("slowest_mmhg_per_s", "fastest_mmhg_per_s"),
    "uneven-bleed": ("slowest_mmhg_per_s", "fastest_mmhg_per_s"),
}


class CheckError(QuietlimbError):
    """These values cannot be a check.

    point : 1-based point or hold at fault; None where none is to blame
    about : what was found, without the number of the point
    """

    def __init__(self, code: str, says: str, remedy: str, point: int | None = None) -> None:
        super().__init__(code, says if point is None else f"point {point}: {says}", remedy)
        self.point, self.about = point, says

    def __reduce__(self) -> tuple[object, ...]:
        # Errors cross process borders; the default would lose the point.
        return type(self), (self.code, self.about, self.remedy, self.point)


@dataclass(frozen=True, slots=True, kw_only=True)
class CheckFinding:
    """One thing seen in a check: a code of `CHECK_FINDING_CODES` with its numbers; the words are in `words.checks`."""

    code: str
    numbers: Mapping[str, float] = field(default_factory=dict)

    def __post_init__(self) -> None:
        if set(self.numbers) != set(CHECK_FINDING_CODES[self.code]):
            raise AssertionError(f"{self.code} carries {CHECK_FINDING_CODES[self.code]}, not {tuple(self.numbers)}")


@dataclass(frozen=True, slots=True, kw_only=True)
class Figure:
    """A figure of a check with its 95 % interval and the limits that it must keep, where there are any.

    value, low, high : in `unit`, low <= value <= high. high may be infinite: the pressure never got there while it
                       was watched
    least, most      : limits, both allowed; None where there is none
    at_mmhg          : the pressure where it was found, where there is one [mmHg]
    """

    value: float
    low: float
    high: float
    unit: str
    least: Cited | None = None
    most: Cited | None = None
    at_mmhg: float | None = None

    def __post_init__(self) -> None:
        if not self.low <= self.value <= self.high:
            raise AssertionError(f"interval {self.low}..{self.high} does not hold {self.value}")

    @property
    def verdict(self) -> CheckVerdict:
        """How the value and its interval stand to the limits; `not-judged` without any."""
        if self.least is None and self.most is None:
            return "not-judged"
        least = -math.inf if self.least is None else self.least.value
        most = math.inf if self.most is None else self.most.value
        if least <= self.value <= most:
            return "passes" if least <= self.low and self.high <= most else "passes-crossing"
        outside = self.low > most or self.high < least
        return "fails" if outside else "fails-crossing"


@dataclass(frozen=True, slots=True, kw_only=True)
class CheckResult:
    """What a check found.

    kind     : of check
    verdict  : the worst of the judged figures, or `not-judged` with a finding that says why
    figures  : name -> figure; the first is the one that the verdict rests on first of all
    limit    : code of the chosen limit, as `non-automated`
    findings : what a person should know beside the verdict
    """

    kind: Kind
    verdict: CheckVerdict
    figures: Mapping[str, Figure]
    limit: str
    findings: tuple[CheckFinding, ...] = ()

    @property
    def passed(self) -> bool | None:
        """Whether the values themselves meet the limit; None where nothing could be judged."""
        return None if self.verdict == "not-judged" else self.verdict in ("passes", "passes-crossing")


@dataclass(frozen=True, slots=True, kw_only=True)
class Reference:
    """The reference manometer, as its certificate tells it.

    expanded_mmhg   : expanded uncertainty of its certificate [mmHg]
    coverage_factor : by which that was expanded; 2 on most certificates
    correction_mmhg : to be added to what it shows [mmHg]
    resolution_mmhg : smallest difference that is read from it [mmHg]
    """

    expanded_mmhg: float = 1.0
    coverage_factor: float = 2.0
    correction_mmhg: float = 0.0
    resolution_mmhg: float = 0.1

    def __post_init__(self) -> None:
        for name, value, most in (
            ("expanded uncertainty", self.expanded_mmhg, 20.0),
            ("coverage factor", self.coverage_factor, 5.0),
            ("resolution", self.resolution_mmhg, 10.0),
        ):
            least = 1.0 if name == "coverage factor" else 0.0
            if not least <= value <= most:
                raise CheckError(
                    "impossible-reference",
                    f"the reference's {name} is {value:g}",
                    f"give {least:g} to {most:g}, as its certificate says",
                )
        if not abs(self.correction_mmhg) <= 20.0:
            raise CheckError(
                "impossible-reference",
                f"the reference's correction is {self.correction_mmhg:g} mmHg",
                "give the correction of its certificate, at most 20 mmHg either way",
            )

    @property
    def standard_mmhg(self) -> float:
        """Standard uncertainty, shared by all its readings. [mmHg]"""
        return self.expanded_mmhg / self.coverage_factor


@dataclass(frozen=True, slots=True, kw_only=True)
class StaticPoints:
    """Pressures at rest, in the order taken: what the reference showed and what the instrument showed beside it.

    reference_mmhg, instrument_mmhg : (n,) as read [mmHg]
    direction                       : (n,) whether the point was reached going up or going down
    resolution_mmhg                 : smallest difference that is read from the instrument [mmHg]
    reference                       : the manometer

    Raises
    ------
    CheckError : `shape`, `no-points`, `not-finite`, `out-of-range`, `kpa-suspected`, `direction` or
                 `impossible-resolution`, naming the point.
    """

    reference_mmhg: tuple[float, ...]
    instrument_mmhg: tuple[float, ...]
    direction: tuple[Direction, ...]
    resolution_mmhg: float = 1.0
    reference: Reference = field(default_factory=Reference)

    def __post_init__(self) -> None:
        sizes = {len(self.reference_mmhg), len(self.instrument_mmhg), len(self.direction)}
        if len(sizes) != 1:
            raise CheckError("shape", "the columns differ in length", "give each point both pressures and a direction")
        if not self.reference_mmhg:
            raise CheckError("no-points", "there is no point", "read the instrument at three pressures at least")
        _refuse_impossible(self.reference_mmhg, "reference pressure")
        _refuse_impossible(self.instrument_mmhg, "instrument's pressure")
        _refuse_kpa(self.reference_mmhg)
        for k, direction in enumerate(self.direction, start=1):
            if direction not in get_args(Direction):
                raise CheckError("direction", f"direction {direction!r}", "write up or down", k)
        _refuse_resolution(self.resolution_mmhg)


@dataclass(frozen=True, slots=True, kw_only=True)
class DisplayPoints:
    """Pressures that a display showed, and a hand-held manometer beside it. As `StaticPoints`, without directions."""

    manometer_mmhg: tuple[float, ...]
    display_mmhg: tuple[float, ...]
    resolution_mmhg: float = 1.0
    reference: Reference = field(default_factory=Reference)

    def __post_init__(self) -> None:
        if len(self.manometer_mmhg) != len(self.display_mmhg):
            raise CheckError("shape", "the columns differ in length", "give each point both pressures")
        if not self.manometer_mmhg:
            raise CheckError("no-points", "there is no point", "read display and manometer together once at least")
        _refuse_impossible(self.manometer_mmhg, "manometer's pressure")
        _refuse_impossible(self.display_mmhg, "display's pressure")
        _refuse_kpa(self.manometer_mmhg)
        _refuse_resolution(self.resolution_mmhg)


@dataclass(frozen=True, slots=True, kw_only=True)
class LeakPoints:
    """Pressures of a closed cuff at the beginning and at the end of each hold, after it had settled.

    start_mmhg, end_mmhg : (n,) [mmHg]
    held_s               : (n,) from the one to the other [s]
    resolution_mmhg      : smallest difference that is read [mmHg]
    timing_s             : largest error of the time held, to either side [s]
    """

    start_mmhg: tuple[float, ...]
    end_mmhg: tuple[float, ...]
    held_s: tuple[float, ...]
    resolution_mmhg: float = 1.0
    timing_s: float = 1.0

    def __post_init__(self) -> None:
        if len({len(self.start_mmhg), len(self.end_mmhg), len(self.held_s)}) != 1:
            raise CheckError("shape", "the columns differ in length", "give each hold two pressures and its seconds")
        if not self.start_mmhg:
            raise CheckError("no-points", "there is no hold", "give the pressure at the beginning and at the end")
        _refuse_impossible(self.start_mmhg, "pressure at the beginning")
        _refuse_impossible(self.end_mmhg, "pressure at the end")
        _refuse_kpa(self.start_mmhg)
        for k, seconds in enumerate(self.held_s, start=1):
            if not 5.0 <= seconds <= 3600.0:
                raise CheckError("impossible-hold", f"{seconds:g} s", "hold for 60 s or 300 s, and give seconds", k)
        _refuse_resolution(self.resolution_mmhg)
        if not 0.0 <= self.timing_s <= 10.0:
            raise CheckError(
                "impossible-timing", f"an error of the time of {self.timing_s:g} s", "give 0 to 10 s; 1 s is usual"
            )


def worst_verdict(verdicts: Iterable[CheckVerdict]) -> CheckVerdict:
    """The worst of those that judge; `not-judged` where none does."""
    order = get_args(CheckVerdict)[:-1]
    judged = [verdict for verdict in verdicts if verdict != "not-judged"]
    return max(judged, key=order.index) if judged else "not-judged"


def no_pass(verdict: CheckVerdict) -> CheckVerdict:
    """Where too little was looked at for a pass: an error that was found counts all the same."""
    return "not-judged" if verdict in ("passes", "passes-crossing") else verdict


def either_side(most: Cited) -> tuple[Cited, Cited]:
    """A limit to either side of 0: least and most."""
    return replace(most, value=-most.value), most


def _refuse_impossible(pressures: tuple[float, ...], name: str) -> None:
    for k, pressure in enumerate(pressures, start=1):
        if not math.isfinite(pressure):
            raise CheckError("not-finite", f"{name} is not a number", "leave the point out, or read again", k)
        if not LOWEST_MMHG <= pressure <= HIGHEST_MMHG:
            raise CheckError(
                "out-of-range",
                f"{name} is {pressure:g} mmHg, outside {LOWEST_MMHG:g} to {HIGHEST_MMHG:g}",
                "look for a slip of the pen, and for the unit",
                k,
            )


def _refuse_kpa(pressures: tuple[float, ...]) -> None:
    highest = max(pressures)
    if 5.0 < highest < 45.0:
        raise CheckError(
            "kpa-suspected",
            f"no pressure is above {highest:g} mmHg",
            "if these are kPa give them as such (1 kPa = 7.5006 mmHg); otherwise check at 50 mmHg and more",
        )


def _refuse_resolution(resolution_mmhg: float) -> None:
    if not 0.0 < resolution_mmhg <= 10.0:
        raise CheckError(
            "impossible-resolution",
            f"the instrument is read to {resolution_mmhg:g} mmHg",
            "give the smallest difference that you read: 1 of most displays, 2 of most dials",
        )
