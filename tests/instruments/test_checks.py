"""The vocabulary of checks: verdicts, and what is refused."""

from __future__ import annotations

import math
import pickle
from dataclasses import replace

import pytest

from quietlimb.engine.errors import ParameterError
from quietlimb.engine.values import Cited
from quietlimb.instruments.checks import (
    CheckError,
    CheckFinding,
    CheckVerdict,
    DisplayPoints,
    Figure,
    LeakPoints,
    Reference,
    StaticPoints,
    either_side,
    worst_verdict,
)
from quietlimb.instruments.limits import BLEED_LIMITS, EXHAUST_LIMITS, LEAK_LIMITS, STATIC_LIMITS, chosen

LIMIT = Cited(3.0, "mmHg", "practice", "a limit", "common practice")


def figure(value: float, half: float) -> Figure:
    """An error with its interval and a limit of 3 mmHg to either side."""
    least, most = either_side(LIMIT)
    return Figure(value=value, low=value - half, high=value + half, unit="mmHg", least=least, most=most)


@pytest.mark.parametrize(
    ("value", "half", "verdict"),
    [
        (1.0, 1.5, "passes"),
        (-1.0, 2.0, "passes"),
        (3.0, 0.0, "passes"),
        (2.0, 1.5, "passes-crossing"),
        (-2.5, 1.0, "passes-crossing"),
        (3.5, 1.0, "fails-crossing"),
        (-3.5, 0.5, "fails-crossing"),
        (4.5, 1.0, "fails"),
        (-4.5, 1.0, "fails"),
    ],
)
def test_a_figure_is_judged_by_its_value_and_its_interval(value: float, half: float, verdict: CheckVerdict):
    """Pass and fail by the value, limit included; crossing where the interval reaches over a limit.

    Oracle: common practice: pass only if the point estimate meets the limit; a crossing interval is told apart.
    """
    assert figure(value, half).verdict == verdict


def test_a_figure_without_a_limit_is_not_judged_and_the_worst_verdict_counts():
    """Nothing judged leaves `not-judged`; otherwise the worst that was.

    Oracle: by construction.
    """
    bare = replace(figure(9.0, 1.0), least=None, most=None)
    assert bare.verdict == "not-judged"
    assert worst_verdict(["passes", bare.verdict, "passes-crossing"]) == "passes-crossing"
    assert worst_verdict(["fails", "fails-crossing"]) == "fails"
    assert worst_verdict([]) == "not-judged"


def test_an_interval_open_above_never_passes_clean():
    """A time that was never reached while it was watched.

    Oracle: by construction.
    """
    open_ = Figure(value=4.0, low=4.0, high=math.inf, unit="s", most=Cited(10.0, "s", "practice", "-", "invented"))
    assert open_.verdict == "passes-crossing"


STATIC = {"reference_mmhg": (0.0, 100.0), "instrument_mmhg": (0.0, 101.0), "direction": ("up", "up")}


@pytest.mark.parametrize(
    ("change", "code", "point"),
    [
        ({"direction": ("up",)}, "shape", None),
        ({"reference_mmhg": (), "instrument_mmhg": (), "direction": ()}, "no-points", None),
        ({"reference_mmhg": (0.0, math.nan)}, "not-finite", 2),
        ({"instrument_mmhg": (0.0, 1001.0)}, "out-of-range", 2),
        ({"instrument_mmhg": (-21.0, 100.0)}, "out-of-range", 1),
        ({"reference_mmhg": (0.0, 13.3), "instrument_mmhg": (0.0, 13.4)}, "kpa-suspected", None),
        ({"direction": ("up", "sideways")}, "direction", 2),
        ({"resolution_mmhg": 0.0}, "impossible-resolution", None),
    ],
)
def test_impossible_points_are_refused_with_their_number(change: dict[str, object], code: str, point: int | None):
    """The message names the point and a remedy.

    Oracle: by construction.
    """
    with pytest.raises(CheckError) as refused:
        StaticPoints(**{**STATIC, **change})  # type: ignore[arg-type]
    assert (refused.value.code, refused.value.point) == (code, point)
    assert (point is None) == ("point" not in refused.value.says.split(":")[0] or ":" not in refused.value.says)
    assert refused.value.remedy
    again = pickle.loads(pickle.dumps(refused.value))
    assert (str(again), again.point) == (str(refused.value), point)


def test_holds_displays_and_references_are_refused_likewise():
    """Seconds that are none, columns of unlike length, certificates that no manometer has.

    Oracle: by construction.
    """
    with pytest.raises(CheckError, match="point 1"):
        LeakPoints(start_mmhg=(250.0,), end_mmhg=(248.0,), held_s=(1.0,))
    with pytest.raises(CheckError, match="differ in length"):
        LeakPoints(start_mmhg=(250.0,), end_mmhg=(), held_s=(60.0,))
    with pytest.raises(CheckError, match="error of the time"):
        LeakPoints(start_mmhg=(250.0,), end_mmhg=(248.0,), held_s=(60.0,), timing_s=60.0)
    with pytest.raises(CheckError, match="no point"):
        DisplayPoints(manometer_mmhg=(), display_mmhg=())
    for wrong in ({"expanded_mmhg": -1.0}, {"coverage_factor": 0.5}, {"correction_mmhg": 50.0}):
        with pytest.raises(CheckError, match="reference"):
            Reference(**wrong)


def test_a_finding_carries_exactly_its_numbers():
    """Our own slip is caught where it is made.

    Oracle: by construction.
    """
    with pytest.raises(AssertionError):
        CheckFinding(code="zero-off", numbers={})


def test_limits_are_those_of_the_trade_page():
    """Errors, leaks, exhaust and bleed by code; none of them is called published.

    Oracle: from memory, the standards as the project's page on devices gives them; no text was at hand.
    """
    assert {code: limit.most.value for code, limit in STATIC_LIMITS.items()} == {
        "non-automated": 3.0,
        "automated": 3.0,
        "first-verification": 3.0,
        "in-use": 4.0,
    }
    assert {code: limit.most.value for code, limit in LEAK_LIMITS.items()} == {"non-automated": 4.0, "automated": 6.0}
    assert [(each.start.value, each.end.value, each.most.value) for each in EXHAUST_LIMITS.values()] == [
        (260.0, 15.0, 10.0),
        (150.0, 5.0, 5.0),
    ]
    bleed = BLEED_LIMITS["non-automated"]
    assert (bleed.start.value, bleed.end.value, bleed.least.value, bleed.most.value) == (250.0, 50.0, 2.0, 3.0)
    every = [each.most for limits in (STATIC_LIMITS, LEAK_LIMITS, EXHAUST_LIMITS) for each in limits.values()]
    assert {each.standing for each in every} == {"from memory"}


def test_the_limit_of_an_automated_instrument_grows_from_150_mmhg_on():
    """3 mmHg or 2 % of the reading, the larger.

    Oracle: from memory, IEC 80601-2-30.
    """
    limit = STATIC_LIMITS["automated"]
    assert limit.at(100.0).value == 3.0
    assert limit.at(150.0).value == 3.0
    assert limit.at(250.0).value == pytest.approx(5.0)
    assert STATIC_LIMITS["in-use"].at(250.0).value == 4.0


def test_an_unknown_limit_names_those_there_are():
    """Oracle: by construction."""
    with pytest.raises(ParameterError, match="non-automated, automated"):
        chosen(LEAK_LIMITS, "strict")
