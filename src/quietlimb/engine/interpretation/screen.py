"""Who asks for the pressure of an animal that was not measured yet, and how often from then on."""

from __future__ import annotations

from collections.abc import Mapping

from quietlimb.engine.circumstances import Species
from quietlimb.engine.interpretation.advising import TODAY, by, windowed
from quietlimb.engine.interpretation.background import NOTHING_TOLD, Background
from quietlimb.engine.interpretation.interpretation import Advice
from quietlimb.engine.standards.rule_sets import DEFAULT, rule_set
from quietlimb.engine.standards.screening import (
    BEFORE_ANAESTHESIA,
    HEALTHY_CAT,
    HEALTHY_CAT_FROM,
    SIGNS,
    WITH_ILLNESS,
    Screening,
    has_illness_beside_the_list,
    is_at_risk,
    screening,
)

# code -> the numbers that it carries
SCREEN_CODES: Mapping[str, tuple[str, ...]] = {
    "first-signs": (),
    "first-before-anaesthesia": (),
    "first-at-risk": (),
    "first-with-illness": (),
    "first-older-cat": ("years",),
    "first-adult-cat": ("years",),
    "first-healthy-cat": ("years",),
    "first-no-routine": (),
    "first-age-not-told": (),
    "first-no-rule": (),
}


def screen(
    species: Species,
    *,
    rules: str = DEFAULT,
    background: Background = NOTHING_TOLD,
    signs: bool = False,
    before_anaesthesia: bool = False,
) -> tuple[Advice, ...]:
    """What asks for a measurement, the most urgent first; that nothing at hand does, where that is so.

    Parameters
    ----------
    rules              : key of the rule set; its own ages where it prints any, otherwise those of ACVIM 2018.
    background         : illnesses, drugs and age count, and that a dog is young and healthy.
    signs              : any sign of damage in eyes, brain, heart or kidneys.
    before_anaesthesia : about to be anaesthetised, and unwell or old.

    Raises
    ------
    ParameterError : as `rule_set`.
    """
    chosen = rule_set(rules, species)
    told = background
    at_risk = told.at_risk or is_at_risk(species, told.conditions or (), told.drugs or ())
    ill = not at_risk and has_illness_beside_the_list(species, told.conditions or ())
    found = screening(species, chosen.source, years=told.age_years, at_risk=at_risk, young=bool(told.young))
    advice = (
        *((by(SIGNS, "first-signs", within_days=TODAY),) if signs else ()),
        *((by(BEFORE_ANAESTHESIA, "first-before-anaesthesia"),) if before_anaesthesia else ()),
        *((by(WITH_ILLNESS, "first-with-illness"),) if ill else ()),
        *(() if found is None or (ill and found.window is None) else (_first(found),)),
    )
    if species == "cat" and not (at_risk or ill) and (told.age_years or 0.0) >= HEALTHY_CAT_FROM.value:
        advice = (*advice, windowed("first-healthy-cat", HEALTHY_CAT, years=HEALTHY_CAT_FROM.value))
    if species == "cat" and told.age_years is None and not at_risk:
        unaged = Advice(code="first-age-not-told", source=chosen.source, place="screening", standing="from memory")
        advice = (*advice, unaged)
    if advice:
        return advice
    return (Advice(code="first-no-rule", source=chosen.source, place="screening", standing="from memory"),)


def _first(found: Screening) -> Advice:
    if found.window is None:
        return by(found.cited, "first-no-routine")
    years = {} if found.from_years is None else {"years": found.from_years.value}
    return windowed(f"first-{found.code}", found.window, **years)
