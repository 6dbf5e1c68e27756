"""From a charted pressure, or a systolic pressure alone, to what it means by a published rule set."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import replace
from itertools import pairwise

from quietlimb.engine.circumstances import Consciousness, Place, Site, Species, Technique
from quietlimb.engine.errors import ParameterError
from quietlimb.engine.interpretation.background import NOTHING_TOLD, Background
from quietlimb.engine.interpretation.case import Case
from quietlimb.engine.interpretation.categories import (
    category_of,
    category_probabilities,
    exact,
    is_near_boundary,
    knowing_the_method,
)
from quietlimb.engine.interpretation.cautions import cautions_for
from quietlimb.engine.interpretation.clues import clues_for
from quietlimb.engine.interpretation.decision import decide, is_low
from quietlimb.engine.interpretation.in_record import in_record
from quietlimb.engine.interpretation.interpretation import (
    Advice,
    CategoryProbability,
    Eye,
    Interpretation,
    Organ,
    OrganState,
)
from quietlimb.engine.interpretation.measuring import advise_on_measuring
from quietlimb.engine.interpretation.organs import organ_checks, organ_damage
from quietlimb.engine.interpretation.other_rules import other_rules
from quietlimb.engine.interpretation.status import animal_status
from quietlimb.engine.interpretation.would_change import would_change
from quietlimb.engine.session.at_the_end import fall_at_end
from quietlimb.engine.session.charted import ChartedPressure, Course, GuidelineAverage
from quietlimb.engine.standards.breeds import breed_remark
from quietlimb.engine.standards.day_to_day import BETWEEN_SESSION_SD
from quietlimb.engine.standards.low_pressure import MEAN_BELOW, MEAN_LIMITS, SYSTOLIC_BELOW
from quietlimb.engine.standards.rule_sets import DEFAULT, rule_set
from quietlimb.engine.values import Cited, Estimate

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


def _method_sd(given: float) -> float:
    if not (math.isfinite(given) and given >= 0.0):
        raise ParameterError(
            "impossible-method-error", f"standard deviation of the method is {given:g} mmHg", "give 0 mmHg or more"
        )
    return given


def _in_order(systolic: Estimate | None, mean_mmhg: float | None, diastolic_mmhg: float | None) -> None:
    """Refuses pressures that contradict diastolic < mean < systolic."""
    told = (
        ("systolic", None if systolic is None else systolic.value),
        ("mean", mean_mmhg),
        ("diastolic", diastolic_mmhg),
    )
    known = [(name, value) for name, value in told if value is not None]
    for (upper, high), (lower, low) in pairwise(known):
        if low >= high:
            raise ParameterError(
                "pressures-out-of-order",
                f"the {lower} pressure of {low:g} mmHg is not under the {upper} one of {high:g} mmHg",
                "look whether two numbers were swapped or one was mistyped",
            )


def _low_mean(below_mmhg: float) -> Cited:
    if below_mmhg not in MEAN_LIMITS:
        raise ParameterError(
            "unknown-limit-of-the-mean",
            f"a mean pressure is to be called low under {below_mmhg:g} mmHg",
            f"use one of the customary limits: {', '.join(f'{each:g}' for each in MEAN_LIMITS)} mmHg",
        )
    return MEAN_LIMITS[below_mmhg]


def _next(case: Case) -> tuple[Advice, ...]:
    """In the order it is done: a low pressure first, then the measuring while the cuff is on, then the flow."""
    decided, measuring = decide(case), advise_on_measuring(case)
    return (*decided, *measuring) if is_low(case) else (*measuring, *decided)


def interpret_systolic(
    systolic: Estimate | float | None,
    *,
    species: Species,
    method: Technique = "oscillometric",
    rules: str = DEFAULT,
    organs: Mapping[Organ | Eye, OrganState] | Mapping[Organ, OrganState] | None = None,
    background: Background = NOTHING_TOLD,
    situational_likely: bool = False,
    day_to_day_sd: float | None = None,
    method_sd: float = 0.0,
    sedation: Consciousness | None = None,
    site: Site | None = None,
    place: Place | None = None,
    mean_mmhg: float | None = None,
    low_mean_below: float = MEAN_BELOW.value,
    diastolic_mmhg: float | None = None,
    diastolic_given: bool = False,
    course: Course | None = None,
    fall_mmhg: float | None = None,
    falling_mmhg_per_min: float | None = None,
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
    rules         : key of the rule set, of `standards.rule_sets.RULE_SETS`.
    organs        : what is known of eyes (together, or left and right), brain, heart and kidneys; one left out is not
                    examined.
    background    : what is known of the animal: breed, illnesses, drugs, treatment, earlier sessions.
    day_to_day_sd : from session to session; by default that of the species and method. [mmHg]
    method_sd     : of the method against arterial pressure, where a comparison gives it; in `animal` only, in
                    place of the shared part. [mmHg]
    sedation      : a sedated or anaesthetised animal gets no category and stays out of the flow for high pressure.
    mean_mmhg     : looked at for low pressure only. [mmHg]
    low_mean_below: below which it is low: 60 or 65, the two customary limits. [mmHg]
    diastolic_mmhg: looked at in rule sets that print diastolic pressures, for a caution only. [mmHg]
    falling_mmhg_per_min : at the end of the series, negative for a rise; a course that falls or rises is taken to go on
                    where it is not told. [mmHg/min]
    readings      : how many the pressure rests on, where no guideline average is given.
    others        : as in `ChartedPressure` and `Circumstances`; None where not told.

    Returns
    -------
    Interpretation : category by the unrounded value, None for readings that were not consistent; `today` and `animal`
                     empty without a pressure and for a sedated animal.

    Raises
    ------
    ParameterError : a pressure outside 0..350 mmHg, an unknown organ, state, species, method or rule set, a rule set of
                     another species, a negative spread, a limit of the mean that is not customary, pressures
                     that contradict diastolic < mean < systolic.
    """
    estimate = _checked(systolic)
    _in_order(estimate, mean_mmhg, diastolic_mmhg)
    spread = _day_to_day(day_to_day_sd, species, method)
    usual = BETWEEN_SESSION_SD[species, method]
    error = _method_sd(method_sd)
    checks = organ_checks(organs)
    chosen = rule_set(rules, species)
    classified = estimate if sedation in (None, "awake") else None
    case = Case(
        species=species,
        method=method,
        site=site,
        place=place,
        rules=chosen,
        systolic=estimate,
        mean_mmhg=mean_mmhg,
        low_mean=_low_mean(low_mean_below),
        diastolic_mmhg=diastolic_mmhg,
        diastolic_given=diastolic_given or diastolic_mmhg is not None,
        category=None,
        near_boundary=classified is not None and is_near_boundary(classified, chosen),
        organs=checks,
        organ_damage=organ_damage(checks),
        sedation=sedation,
        course=course,
        fall_mmhg=fall_mmhg,
        falling_mmhg_per_min=falling_mmhg_per_min,
        guideline=guideline,
        readings=readings,
        situational_likely=situational_likely,
        background=background,
        cuff_width_cm=cuff_width_cm,
        limb_circumference_cm=limb_circumference_cm,
        cuff_below_heart_cm=cuff_below_heart_cm,
        acclimatisation_min=acclimatisation_min,
    )
    if classified is not None and not case.uneven:
        case = replace(case, category=category_of(classified.value, chosen))
    others = other_rules(case)
    case = replace(case, status=animal_status(case.sessions, rules=chosen), others=len(others))
    today: tuple[CategoryProbability, ...] = ()
    animal: tuple[CategoryProbability, ...] = ()
    low_animal: float | None = None
    if classified is not None:
        today = category_probabilities(classified, rules=chosen)
        animal = category_probabilities(classified, day_to_day_sd=spread, method_sd=error, rules=chosen)
        low_animal = knowing_the_method(classified, error).share_below(SYSTOLIC_BELOW.value, spread)
    return Interpretation(
        rule_set=chosen.name,
        category=case.category,
        near_boundary=case.near_boundary,
        today=today,
        animal=animal,
        day_to_day_sd=spread,
        day_to_day_source=(usual.source, usual.standing) if day_to_day_sd is None else None,
        organ_damage=case.organ_damage,
        organs=checks,
        next=_next(case),
        cautions=cautions_for(case),
        rules=chosen.key,
        method_sd=error,
        low_today=None if estimate is None else estimate.share_below(SYSTOLIC_BELOW.value),
        low_animal=low_animal,
        in_record=in_record(species, background),
        status=case.status,
        clues=clues_for(case),
        breed=breed_remark(species, background.breed),
        breed_told=background.breed,
        others=others,
        would_change=would_change(case),
    )


def interpret(
    charted: ChartedPressure,
    *,
    rules: str = DEFAULT,
    organs: Mapping[Organ | Eye, OrganState] | Mapping[Organ, OrganState] | None = None,
    background: Background = NOTHING_TOLD,
    situational_likely: bool = False,
    day_to_day_sd: float | None = None,
    method_sd: float = 0.0,
    low_mean_below: float = MEAN_BELOW.value,
) -> Interpretation:
    """What a charted pressure means, under the circumstances of its series.

    Parameters
    ----------
    charted            : its systolic estimate decides; its course, guideline average and circumstances add advice.
    rules              : key of the rule set, of `standards.rule_sets.RULE_SETS`.
    organs             : what is known of eyes, brain, heart and kidneys; one left out is not examined.
    background         : what is known of the animal; the breed of the series counts where it tells none.
    situational_likely : whether those who saw the animal think that the visit itself raised the pressure.
    day_to_day_sd      : from session to session; by default that of the species and method. [mmHg]
    method_sd          : of the method against arterial pressure, where a comparison gives it. [mmHg]
    low_mean_below     : below which a mean pressure is low: 60 or 65. [mmHg]

    Raises
    ------
    ParameterError : as `interpret_systolic`.
    """
    around = charted.series.circumstances
    return interpret_systolic(
        charted.systolic,
        species=around.species,
        method=around.method,
        rules=rules,
        organs=organs,
        background=background if background.breed else replace(background, breed=around.breed),
        situational_likely=situational_likely,
        day_to_day_sd=day_to_day_sd,
        method_sd=method_sd,
        sedation=around.sedation,
        site=around.site,
        place=around.place,
        mean_mmhg=None if charted.mean is None else charted.mean.value,
        low_mean_below=low_mean_below,
        diastolic_mmhg=None if charted.diastolic is None else charted.diastolic.value,
        course=charted.course if charted.systolic is not None else None,
        fall_mmhg=charted.fall_mmhg,
        falling_mmhg_per_min=fall_at_end(charted),
        guideline=charted.guideline,
        readings=sum(
            reading.verdict != "discard" and reading.systolic_weight is not None for reading in charted.readings
        ),
        cuff_width_cm=around.cuff_width_cm,
        limb_circumference_cm=around.limb_circumference_cm,
        cuff_below_heart_cm=around.cuff_below_heart_cm,
        acclimatisation_min=around.acclimatisation_min,
    )
