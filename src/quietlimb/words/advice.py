"""What to do next, as sentences. Treatment is named as the veterinarian's; no drug and no dose ever is."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from quietlimb.engine.interpretation.categories import category_of
from quietlimb.engine.interpretation.interpretation import Advice
from quietlimb.words.categories import category_name
from quietlimb.words.language import _, mark
from quietlimb.words.numerals import days, with_percent
from quietlimb.words.sources import all_by, source_and_standing

SENTENCES: Mapping[str, str] = {
    "measure-by-risk": mark(
        "This pressure by itself asks for no further step; measure again as age and illness call for it."
    ),
    "look-for-another-cause": mark("Look for another cause of the organ damage."),
    "recheck-soon": mark("Measure again soon; the veterinarian sets the day."),
    "recheck": mark("Measure again {when}."),
    "repeat-session": mark(
        "Repeat the session {when}, on another day: {sessions:.0f} sessions or more carry the label where no organ "
        "damage was seen."
    ),
    "repeat-session-watch-closely": mark(
        "Repeat the session {when}. If {sessions:.0f} sessions agree, look for a cause and measure more often."
    ),
    "no-treatment-on-this-alone": mark("This pressure alone is no reason to treat."),
    "treatment-on-judgement": mark("Whether to treat is for the veterinarian to judge."),
    "treatment-if-persistent": mark(
        "Treatment is for the veterinarian to consider when {sessions:.0f} sessions or more agree and the visit itself "
        "does not explain the pressure."
    ),
    "established-by-one-session": mark("With organ damage, one session establishes high pressure."),
    "treatment-now": mark("The rule set asks for treatment now; the veterinarian decides."),
    "treatment-today": mark("The rule set asks for treatment {when}; the veterinarian decides."),
    "organ-check-first": mark(
        "Before the animal is called hypertensive, examine eyes, nervous system, heart and urine {when} (organs not "
        "yet known: {unknown:.0f})."
    ),
    "eye-examination-urgent": mark(
        "At {from_mmhg:.0f} mmHg and over the examination of the eyes is urgent: have both looked at, with widened "
        "pupils, {when}."
    ),
    "situational-likely": mark(
        "The visit itself may have raised the pressure. Measure again in a calmer place, at home if possible; it is no "
        "reason to treat and none to forget it."
    ),
    "situational-not-assumed": mark(
        "Organ damage speaks against a rise by the visit alone: take the pressure for true until shown otherwise."
    ),
    "not-dismissed-as-situational": mark(
        "A pressure of {from_mmhg:.0f} mmHg or more is not put down to the visit before the eyes have been examined."
    ),
    "confirm-low-pressure": mark(
        "A systolic pressure under {below_mmhg:.0f} mmHg is low: confirm it at once with another cuff or at another "
        "site."
    ),
    "confirm-low-mean-pressure": mark(
        "A mean pressure under {below_mmhg:.0f} mmHg is low: confirm it at once with another cuff or at another site."
    ),
    "look-at-the-animal-and-call": mark("Look at the animal now, and call the veterinarian."),
    "sedated-outside-the-flow": mark(
        "The animal was sedated or anaesthetised: this pressure says nothing about high pressure. Measure again awake."
    ),
    "measure-again": mark(
        "Let the animal rest, then start again with another cuff, site or room. If that fails too, chart that no "
        "pressure was obtained."
    ),
    "wait-until-level": mark(
        "The pressure was still falling, as it does when the visit has raised it. Go on measuring until it levels off."
    ),
    "take-more-readings": mark(
        "The guideline averages {needed:.0f} readings or more and has {kept:.0f}: take more if the animal allows it."
    ),
    "start-again": mark(
        "The readings vary by more than the guideline's {limit_percent:.0f} %: try another cuff, site or room, or a "
        "longer rest, and start again."
    ),
    "two-values-two-categories": mark(
        "The charted pressure of {charted_mmhg:.1f} mmHg is {charted_category}, the guideline average of "
        "{guideline_mmhg:.1f} mmHg is {guideline_category}: the veterinarian chooses which to act on."
    ),
}


def sentence(advice: Advice) -> str:
    """What to do, in one or two sentences, with its numbers and its time."""
    told: dict[str, float | str] = {**with_percent(advice.numbers)}
    if advice.within_days is not None:
        told["when"] = days(advice.within_days)
    if "charted_mmhg" in advice.numbers:
        told["charted_category"] = category_name(category_of(advice.numbers["charted_mmhg"])).lower()
        told["guideline_category"] = category_name(category_of(advice.numbers["guideline_mmhg"])).lower()
    return _(SENTENCES[advice.code]).format(**told)


def source_line(advice: Advice) -> str:
    """Which rule says so, and how far it was checked."""
    return source_and_standing(advice.source, advice.standing)


def shared_source_line(advices: Sequence[Advice]) -> str | None:
    """The rule behind all of them in one sentence; None where they differ, or where there are fewer than two."""
    behind = {(advice.source, advice.standing) for advice in advices}
    if len(advices) < 2 or len(behind) > 1:
        return None
    return all_by(advices[0].source, advices[0].standing)
