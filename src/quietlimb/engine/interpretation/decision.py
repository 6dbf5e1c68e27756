"""What to do next about the pressure: the decision flow of the ACVIM 2018 rule set, and low pressure.

| category              | no organ damage                | organ damage                               |
|-----------------------|--------------------------------|--------------------------------------------|
| normotensive          | measure again by risk          | another cause; recheck soon                |
| prehypertensive       | repeat in 4-8 weeks            | another cause; recheck in 1-2 weeks        |
| hypertensive          | repeat in 4-8 weeks            | established by one session; treatment now  |
| severely hypertensive | repeat in 1-2 weeks            | treatment today; recheck in 1-3 days       |

Not examined: the organs come first, the same day, and no label before; then as without damage. At 180 mmHg and over the
examination of the eyes is urgent whenever their state is not known, whatever the other organs show. Two departures from
the printed table: a normotensive animal is not sent for an organ check (a caution names what was not examined), and
"recheck soon" gets no days, because the table gives none.

Treatment is always the veterinarian's: no drug and no dose is ever named.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping

from quietlimb.engine.interpretation.case import Case
from quietlimb.engine.interpretation.interpretation import Advice
from quietlimb.engine.interpretation.organs import unknown_organs
from quietlimb.engine.standards import acvim_2018 as acvim
from quietlimb.engine.standards import low_pressure
from quietlimb.engine.values import Cited, Standing

# code -> the numbers that it carries
DECISION_CODES: Mapping[str, tuple[str, ...]] = {
    "measure-by-risk": (),
    "look-for-another-cause": (),
    "recheck-soon": (),
    "recheck": (),
    "repeat-session": ("sessions",),
    "repeat-session-watch-closely": ("sessions",),
    "no-treatment-on-this-alone": (),
    "treatment-on-judgement": (),
    "treatment-if-persistent": ("sessions",),
    "established-by-one-session": (),
    "treatment-now": (),
    "treatment-today": (),
    "organ-check-first": ("unknown",),
    "eye-examination-urgent": ("from_mmhg",),
    "situational-likely": (),
    "situational-not-assumed": (),
    "not-dismissed-as-situational": ("from_mmhg",),
    "confirm-low-pressure": ("below_mmhg",),
    "confirm-low-mean-pressure": ("below_mmhg",),
    "look-at-the-animal-and-call": (),
    "sedated-outside-the-flow": (),
    "measure-again": (),
}

TODAY = (0.0, 0.0)
_WITHOUT = acvim.SESSIONS_WITHOUT_ORGAN_DAMAGE


def _by_acvim(
    code: str,
    *,
    within_days: tuple[float, float] | None = None,
    place: str = "decision flow",
    standing: Standing = "from memory",
    **numbers: float,
) -> Advice:
    return Advice(
        code=code, within_days=within_days, numbers=numbers, source=acvim.SOURCE, place=place, standing=standing
    )


def _by(cited: Cited, code: str, *, within_days: tuple[float, float] | None = None, **numbers: float) -> Advice:
    return Advice(
        code=code,
        within_days=within_days,
        numbers=numbers,
        source=cited.source,
        place=cited.place,
        standing=cited.standing,
    )


def _windowed(code: str, window: acvim.Window, **numbers: float) -> Advice:
    return _by(window.latest, code, within_days=window.days, **numbers)


def _normotensive(case: Case) -> tuple[Advice, ...]:
    if case.organ_damage == "present":
        return (_by_acvim("look-for-another-cause"), _by_acvim("recheck-soon"))
    return (_by_acvim("measure-by-risk", place="screening"),)


def _prehypertensive(case: Case) -> tuple[Advice, ...]:
    if case.organ_damage == "present":
        return (
            _by_acvim("look-for-another-cause"),
            _windowed("recheck", acvim.RECHECK_PREHYPERTENSIVE_WITH_DAMAGE),
            _by_acvim("treatment-on-judgement"),
        )
    return (
        _windowed("repeat-session-watch-closely", acvim.REPEAT_PREHYPERTENSIVE, sessions=_WITHOUT.value),
        _by_acvim("no-treatment-on-this-alone"),
    )


def _hypertensive(case: Case) -> tuple[Advice, ...]:
    if case.organ_damage == "present":
        return (
            _by(acvim.SESSIONS_WITH_ORGAN_DAMAGE, "established-by-one-session"),
            _by_acvim("treatment-now"),
        )
    return (
        _windowed("repeat-session", acvim.REPEAT_HYPERTENSIVE, sessions=_WITHOUT.value),
        _by(_WITHOUT, "treatment-if-persistent", sessions=_WITHOUT.value),
    )


def _severely_hypertensive(case: Case) -> tuple[Advice, ...]:
    if case.organ_damage == "present":
        return (
            _by(acvim.SESSIONS_WITH_ORGAN_DAMAGE, "established-by-one-session"),
            _by_acvim("treatment-today", within_days=TODAY),
            _windowed("recheck", acvim.RECHECK_SEVERE_WITH_DAMAGE),
        )
    return (
        _windowed("repeat-session", acvim.REPEAT_SEVERE, sessions=_WITHOUT.value),
        _by(_WITHOUT, "treatment-if-persistent", sessions=_WITHOUT.value),
    )


_FLOW: Mapping[acvim.CategoryName, Callable[[Case], tuple[Advice, ...]]] = {
    "normotensive": _normotensive,
    "prehypertensive": _prehypertensive,
    "hypertensive": _hypertensive,
    "severely hypertensive": _severely_hypertensive,
}


def _organs_first(case: Case) -> tuple[Advice, ...]:
    """What to examine before the pressure gets a name."""
    unknown = unknown_organs(case.organs)
    advice: list[Advice] = []
    if case.category == "severely hypertensive" and "eyes" in unknown:
        advice.append(
            _by_acvim("eye-examination-urgent", within_days=TODAY, from_mmhg=acvim.SEVERELY_HYPERTENSIVE_FROM.value)
        )
    if case.category != "normotensive" and case.organ_damage == "not examined":
        advice.append(_by_acvim("organ-check-first", within_days=TODAY, unknown=float(len(unknown))))
    return tuple(advice)


def _situational(case: Case) -> tuple[Advice, ...]:
    """What a suspected situational rise changes: with organ damage nothing, at 180 mmHg and over no delay."""
    if not case.situational_likely or case.category == "normotensive":
        return ()
    if case.organ_damage == "present":
        return (_practice("situational-not-assumed", "situational rise"),)
    if case.category == "severely hypertensive":
        return (
            _practice(
                "not-dismissed-as-situational", "situational rise", from_mmhg=acvim.SEVERELY_HYPERTENSIVE_FROM.value
            ),
        )
    return (_practice("situational-likely", "situational rise"),)


def _practice(code: str, place: str, **numbers: float) -> Advice:
    return Advice(code=code, numbers=numbers, source="practice", place=place, standing="common practice")


def _low(case: Case) -> tuple[Advice, ...]:
    """Low pressure is confirmed at once, awake or not."""
    advice: list[Advice] = []
    if case.systolic is not None and case.systolic.value < low_pressure.SYSTOLIC_BELOW.value:
        limit = low_pressure.SYSTOLIC_BELOW
        advice.append(_by(limit, "confirm-low-pressure", within_days=TODAY, below_mmhg=limit.value))
    elif case.mean_mmhg is not None and case.mean_mmhg < low_pressure.MEAN_BELOW.value:
        limit = low_pressure.MEAN_BELOW
        advice.append(_by(limit, "confirm-low-mean-pressure", within_days=TODAY, below_mmhg=limit.value))
    if advice:
        advice.append(_by(low_pressure.SYSTOLIC_BELOW, "look-at-the-animal-and-call", within_days=TODAY))
    return tuple(advice)


def is_low(case: Case) -> bool:
    """Whether systolic or mean pressure is low enough to act on at once."""
    return bool(_low(case))


def decide(case: Case) -> tuple[Advice, ...]:
    """What to do next, the most urgent first.

    Low pressure stands in place of the flow for high pressure; so does sedation. Without a systolic pressure the only
    advice is to measure again.
    """
    low = _low(case)
    if not case.awake:
        return (*low, _by_acvim("sedated-outside-the-flow", place="protocol"))
    if low and case.category in (None, "normotensive"):
        another = (_by_acvim("look-for-another-cause"),) if case.organ_damage == "present" else ()
        return (*low, *another)
    if case.category is None:
        return (_by_acvim("measure-again", place="protocol"),)
    return (*low, *_organs_first(case), *_FLOW[case.category](case), *_situational(case))
