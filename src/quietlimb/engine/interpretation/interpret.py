"""From a charted pressure, or a systolic pressure alone, to what it means by the ACVIM 2018 rule set."""

from __future__ import annotations

import math
from collections.abc import Mapping

from quietlimb.engine.circumstances import Consciousness, Species, Technique
from quietlimb.engine.errors import ParameterError
from quietlimb.engine.interpretation.case import Case
from quietlimb.engine.interpretation.categories import category_of, category_probabilities, exact, is_near_boundary
from quietlimb.engine.interpretation.cautions import cautions_for
from quietlimb.engine.interpretation.decision import decide, is_low
from quietlimb.engine.interpretation.interpretation import Advice, Interpretation, Organ, OrganState
from quietlimb.engine.interpretation.measuring import advise_on_measuring
from quietlimb.engine.interpretation.organs import organ_checks, organ_damage
from quietlimb.engine.session.charted import ChartedPressure, Course, GuidelineAverage
from quietlimb.engine.standards.acvim_2018 import RULE_SET
from quietlimb.engine.standards.day_to_day import BETWEEN_SESSION_SD
from quietlimb.engine.values import Estimate

HIGHEST_MMHG = 350.0


def _checked(systolic: Estimate | float | None) -> Estimate | None:
    if systolic is None:
        return None
    value = systolic.value if isinstance(systolic, Estimate) else float(systolic)
    if not (math.isfinite(value) and 0.0 < value <= HIGHEST_MMHG):
        raise ParameterError(
            "impossible-pressure",
            f"systolic pressure is {value:g} mmHg",
            f"give mmHg above 0 and up to {HIGHEST_MMHG:g}; 1 kPa is 7.5006 mmHg",
        )
    return systolic if isinstance(systolic, Estimate) else exact(value)


def _day_to_day(given: float | None, species: Species, method: Technique) -> float:
    if (species, method) not in BETWEEN_SESSION_SD:
        known = ", ".join(sorted(f"{a} by {b}" for a, b in BETWEEN_SESSION_SD))
        raise ParameterError("unknown-species-or-method", f"{species!r} by {method!r} is not known", f"use: {known}")
    if given is None:
        return BETWEEN_SESSION_SD[species, method].value
    if not (math.isfinite(given) and given >= 0.0):
        raise ParameterError(
            "impossible-day-to-day", f"day-to-day standard deviation is {given:g} mmHg", "give 0 mmHg or more"
        )
    return given


def _next(case: Case) -> tuple[Advice, ...]:
    """In the order it is done: a low pressure first, then the measuring while the cuff is on, then the flow."""
    decided, measuring = decide(case), advise_on_measuring(case)
    return (*decided, *measuring) if is_low(case) else (*measuring, *decided)


def interpret_systolic(
    systolic: Estimate | float | None,
    *,
    species: Species,
    method: Technique = "oscillometric",
    organs: Mapping[Organ, OrganState] | None = None,
    situational_likely: bool = False,
    day_to_day_sd: float | None = None,
    sedation: Consciousness | None = None,
    mean_mmhg: float | None = None,
    diastolic_given: bool = False,
    course: Course | None = None,
    guideline: GuidelineAverage | None = None,
    readings: int | None = None,
    cuff_width_cm: float | None = None,
    limb_circumference_cm: float | None = None,
    cuff_below_heart_cm: float | None = None,
    acclimatisation_min: float | None = None,
) -> Interpretation:
    """What a systolic pressure means.

    Parameters
    ----------
    systolic      : with its uncertainty, or a plain number taken as exact; None where no reading could be used. [mmHg]
    organs        : what is known of eyes, brain, heart and kidneys; one left out is not examined.
    day_to_day_sd : from session to session; by default that of the species and method. [mmHg]
    sedation      : a sedated or anaesthetised animal gets no category and stays out of the flow for high pressure.
    mean_mmhg     : looked at for low pressure only. [mmHg]
    readings      : how many the pressure rests on, where no guideline average is given.
    others        : as in `ChartedPressure` and `Circumstances`; None where not told.

    Returns
    -------
    Interpretation : category by the unrounded value; `today` and `animal` empty where there is no category.

    Raises
    ------
    ParameterError : a pressure outside 0..350 mmHg, an unknown organ, state, species or method, a negative spread.
    """
    estimate = _checked(systolic)
    spread = _day_to_day(day_to_day_sd, species, method)
    checks = organ_checks(organs)
    classified = estimate if sedation in (None, "awake") else None
    case = Case(
        species=species,
        systolic=estimate,
        mean_mmhg=mean_mmhg,
        diastolic_given=diastolic_given,
        category=None if classified is None else category_of(classified.value),
        near_boundary=classified is not None and is_near_boundary(classified),
        organs=checks,
        organ_damage=organ_damage(checks),
        sedation=sedation,
        course=course,
        guideline=guideline,
        readings=readings,
        situational_likely=situational_likely,
        cuff_width_cm=cuff_width_cm,
        limb_circumference_cm=limb_circumference_cm,
        cuff_below_heart_cm=cuff_below_heart_cm,
        acclimatisation_min=acclimatisation_min,
    )
    return Interpretation(
        rule_set=RULE_SET,
        category=case.category,
        near_boundary=case.near_boundary,
        today=() if classified is None else category_probabilities(classified),
        animal=() if classified is None else category_probabilities(classified, day_to_day_sd=spread),
        day_to_day_sd=spread,
        organ_damage=case.organ_damage,
        organs=checks,
        next=_next(case),
        cautions=cautions_for(case),
    )


def interpret(
    charted: ChartedPressure,
    *,
    organs: Mapping[Organ, OrganState] | None = None,
    situational_likely: bool = False,
    day_to_day_sd: float | None = None,
) -> Interpretation:
    """What a charted pressure means, under the circumstances of its series.

    Parameters
    ----------
    charted            : its systolic estimate decides; its course, guideline average and circumstances add advice.
    organs             : what is known of eyes, brain, heart and kidneys; one left out is not examined.
    situational_likely : whether those who saw the animal think that the visit itself raised the pressure.
    day_to_day_sd      : from session to session; by default that of the species and method. [mmHg]

    Raises
    ------
    ParameterError : as `interpret_systolic`.
    """
    around = charted.series.circumstances
    return interpret_systolic(
        charted.systolic,
        species=around.species,
        method=around.method,
        organs=organs,
        situational_likely=situational_likely,
        day_to_day_sd=day_to_day_sd,
        sedation=around.sedation,
        mean_mmhg=None if charted.mean is None else charted.mean.value,
        diastolic_given=charted.diastolic is not None,
        course=charted.course if charted.systolic is not None else None,
        guideline=charted.guideline,
        readings=sum(reading.verdict != "discard" for reading in charted.readings),
        cuff_width_cm=around.cuff_width_cm,
        limb_circumference_cm=around.limb_circumference_cm,
        cuff_below_heart_cm=around.cuff_below_heart_cm,
        acclimatisation_min=around.acclimatisation_min,
    )
