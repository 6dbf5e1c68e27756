"""What to do next, as sentences. Treatment is named as the veterinarian's; no drug and no dose ever is."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Literal

from quietlimb.engine.interpretation.interpretation import Advice
from quietlimb.engine.standards.rule_sets import rule_set_of
from quietlimb.words.categories import category_name
from quietlimb.words.language import _, in_a_sentence, mark
from quietlimb.words.numerals import days, decimals_beside, with_percent
from quietlimb.words.sources import all_by, source_and_standing

SENTENCES: Mapping[str, str] = {
    "measure-by-risk": mark(
        "This pressure by itself asks for no further step; measure again as age and illness call for it."
    ),
    "screen-at-risk": mark(
        "An animal with an illness or a drug in the record that goes with high pressure is measured again {when}, also "
        "when the pressure is normal."
    ),
    "screen-with-illness": mark(
        "An illness in the record goes with high pressure: measure again while it lasts, also when the pressure is "
        "normal. No text at hand names the days; the veterinarian sets them."
    ),
    "screen-older-cat": mark(
        "Cats of {years:.0f} years and more are measured from time to time, also when the pressure is normal: again "
        "{when}."
    ),
    "screen-adult-cat": mark(
        "Cats from {years:.0f} years on are measured once a year, so that their own normal pressure is known: again "
        "{when}."
    ),
    "no-routine-screening": mark(
        "Healthy young dogs need no routine measuring; this pressure may serve as a baseline."
    ),
    "first-signs": mark("Measure {when}: a sign of damage in eyes, brain, heart or kidneys asks for it."),
    "first-before-anaesthesia": mark("Measure once, awake, before an unwell or old animal is anaesthetised."),
    "first-at-risk": mark(
        "Measure once an illness or a drug that goes with high pressure is found, and from then on again {when} each "
        "time."
    ),
    "first-with-illness": mark(
        "An illness in the record goes with high pressure: measure now, and again while it lasts. No text at hand "
        "names the days; the veterinarian sets them."
    ),
    "first-older-cat": mark(
        "Measuring is to be considered in cats from {years:.0f} years on, and from the first time on again {when} each "
        "time."
    ),
    "first-adult-cat": mark(
        "Cats from {years:.0f} years on are measured, so that their own normal pressure is known, and again {when} "
        "each time."
    ),
    "first-healthy-cat": mark(
        "A programme of care that a review quotes wants healthy cats measured from {years:.0f} years on, and again "
        "{when} each time."
    ),
    "first-no-routine": mark("Healthy young dogs need no routine measuring."),
    "first-age-not-told": mark(
        "From which age on cats are measured is printed, but the age of this one is not told: tell it."
    ),
    "first-no-rule": mark(
        "No text at hand asks for the pressure of this animal by routine; the veterinarian may wish for it all the "
        "same."
    ),
    "look-for-another-cause": mark("Look for another cause of the organ damage."),
    "recheck-soon": mark("Measure again soon; the veterinarian sets the day."),
    "recheck": mark("Measure again {when}."),
    "recheck-severe": mark("Measure again {when}, because the pressure is severely raised under treatment."),
    "recheck-eyes-or-brain": mark("Measure again {when}, because of the damage in eyes or brain."),
    "recheck-after-decision": mark("Measure again {when}, as after treatment is begun."),
    "recheck-after-emergency": mark("Measure again {when}, also where the animal is no longer in hospital."),
    "repeat-until-treated": mark(
        "As long as no treatment is begun, measure again {when}; once it is, as the rule set asks under treatment."
    ),
    "repeat-until-treated-undated": mark(
        "As long as no treatment is begun, measure again on another day; this rule set names none, ACVIM 2018 says "
        "{usual_when}. Once it is, as the rule set asks under treatment."
    ),
    "repeat-session-at-home": mark("Repeat the session {when}, at home where it can be done."),
    "repeat-session-at-home-undated": mark(
        "Repeat the session on another day, at home where it can be done; this rule set names none, ACVIM 2018 says "
        "{usual_when}."
    ),
    "watch-high-at-visits": mark(
        "Normal here, and high at visits: such animals stay under watch. Measure again {when}, at home where it can be "
        "done; no text names the days."
    ),
    "repeat-session": mark(
        "Repeat the session {when}, on another day: without organ damage high pressure is established by "
        "{sessions:.0f} sessions or more that agree, not by one."
    ),
    "repeat-session-from-first": mark(
        "Repeat the session {when}: the days of the rule set, counted from the first of the sessions that agree. "
        "Without organ damage high pressure is established by {sessions:.0f} sessions or more that agree, far enough "
        "apart."
    ),
    "repeat-session-undated": mark(
        "Repeat the session on another day; this rule set names none, ACVIM 2018 says {usual_when}. With what is known "
        "of the organs high pressure is established by {sessions:.0f} sessions or more that agree, not by one."
    ),
    "repeat-session-watch-closely-undated": mark(
        "Repeat the session on another day; this rule set names none, ACVIM 2018 says {usual_when}. If "
        "{sessions:.0f} sessions agree, look for a cause and measure more often."
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
    "persistent-over-sessions": mark(
        "By this rule set the pressure is persistently high: {sessions:.0f} sessions running agree. Whether the visits "
        "explain it, and whether to treat, is for the veterinarian to judge."
    ),
    "established-before": mark(
        "Earlier sessions have established high pressure, and this one is high again. Whether the visits explain it, "
        "and whether to treat, is for the veterinarian to judge."
    ),
    "lower-than-established": mark(
        "Earlier sessions have established high pressure, and this one is lower. The label stands until {sessions:.0f} "
        "sessions running are lower."
    ),
    "earlier-session-high": mark(
        "An earlier session was high and this one is not: one more tells which of the two holds."
    ),
    "normal-since-treatment-stopped": mark(
        "High pressure was established before treatment, and without it this session is normal: whether it stays so is "
        "told by {sessions:.0f} sessions running."
    ),
    "emergency-of-eyes-or-brain": mark(
        "An emergency, to be seen {when}: {from_mmhg:.0f} mmHg or more with damage in eyes or brain. Call the "
        "veterinarian now."
    ),
    "emergency-pace": mark(
        "In an emergency the pressure is brought down step by step, by about {first_percent:.0f} % in the first hour "
        "and {next_percent:.0f} % more over the next hours: too fast harms too. How is for the veterinarian alone."
    ),
    "measure-until-stable": mark(
        "Until the pressure is down and stable, measure at short intervals, which the veterinarian sets."
    ),
    "measure-in-hospital": mark("From then on, in hospital, measure every day or more often."),
    "category-of-an-old-scheme": mark(
        "This scheme is kept so that old charts can be read. For a decision choose a rule set in use."
    ),
    "treatment-now": mark("The rule set asks for treatment now; the veterinarian decides."),
    "treatment-today": mark("The rule set asks for treatment {when}; the veterinarian decides."),
    "organ-check-first": mark(
        "Before the animal is called hypertensive, examine eyes, nervous system, heart and urine {when} (organs not "
        "yet known: {unknown:.0f})."
    ),
    "organs-still-unknown": mark(
        "Of eyes, nervous system, heart and urine, examine {when} what is not yet known (organs: {unknown:.0f}): high "
        "pressure is established, and damage there makes it more urgent."
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
    "situational-at-home-normal": mark(
        "At home the pressure was normal ({home_mmhg:.0f} mmHg at most) and no organ damage was found: the visits "
        "explain the high values. Keep measuring, at home where it can be done; such animals stay under watch."
    ),
    "at-ideal-goal": mark("Under the ideal goal of {goal_mmhg:.0f} mmHg."),
    "at-minimum-goal": mark(
        "Under the minimum goal of {goal_mmhg:.0f} mmHg, not yet under the ideal one of {ideal_mmhg:.0f} mmHg."
    ),
    "at-goal": mark("Under the goal of {goal_mmhg:.0f} mmHg."),
    "goal-to-be-proven": mark(
        "One session cannot prove it: {sessions:.0f} sessions running under the goal are asked for before the pressure "
        "is called controlled."
    ),
    "above-goal": mark(
        "Under treatment, and not under the minimum goal of {goal_mmhg:.0f} mmHg: the veterinarian looks at the "
        "treatment anew."
    ),
    "too-low-under-treatment": mark(
        "Under {below_mmhg:.0f} mmHg under treatment is too low: the veterinarian looks at the treatment today."
    ),
    "check-at-each-visit": mark(
        "At each visit under treatment also look at the fundus of both eyes, kidney values with potassium, the urine "
        "with its protein, and the weight, and write down what was given and when."
    ),
    "creatinine-after-a-change": mark("With kidney disease, look at creatinine {when} after any change of treatment."),
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
    "settle-while-rising": mark(
        "The pressure went up through the session. Let the animal settle, then go on measuring until it is level."
    ),
    "take-more-readings": mark(
        "The guideline averages {needed:.0f} readings or more and has {kept:.0f}: take more if the animal allows it, "
        "otherwise repeat the session on another day."
    ),
    "start-again": mark(
        "The readings vary by more than the guideline's {limit_percent:.0f} %: try another cuff, site or room, or a "
        "longer rest, and start again."
    ),
    "two-values-two-categories": mark(
        "The charted pressure of {charted_shown} mmHg is {charted_category}, the guideline average of "
        "{guideline_shown} mmHg is {guideline_category}: the veterinarian chooses which to act on."
    ),
}


Reader = Literal["anyone", "veterinarian"]
# Where the sentence sends for the veterinarian, and she is the one who reads it.
TO_THE_VETERINARIAN: Mapping[str, str] = {
    "look-at-the-animal-and-call": mark("Look at the animal now: at a pressure this low it cannot wait."),
}


def sentence(advice: Advice, *, to: Reader = "anyone") -> str:
    """What to do, in one or two sentences, with its numbers and its time.

    to : who reads it
    """
    told: dict[str, float | str] = {**with_percent(advice.numbers)}
    if advice.within_days is not None:
        told["when"] = days(advice.within_days)
    if "usual_to_days" in advice.numbers:
        told["usual_when"] = days((advice.numbers["usual_from_days"], advice.numbers["usual_to_days"]))
    if "charted_mmhg" in advice.numbers:
        rules = rule_set_of(advice.source)
        for name in ("charted", "guideline"):
            value = advice.numbers[f"{name}_mmhg"]
            decimals = decimals_beside(value, [edge.value for edge in rules.systolic_from], least=1)
            told[f"{name}_shown"] = f"{value:.{decimals}f}"
            category = rules.category_of(value)
            told[f"{name}_category"] = in_a_sentence(category_name(category))
    sentences = {**SENTENCES, **TO_THE_VETERINARIAN} if to == "veterinarian" else SENTENCES
    return _(sentences[advice.code]).format(**told)


def source_line(advice: Advice) -> str:
    """Which rule says so, and how far it was checked."""
    return source_and_standing(advice.source, advice.standing)


def shared_source_line(advices: Sequence[Advice]) -> str | None:
    """The rule behind all of them in one sentence; None where they differ, or where there are fewer than two."""
    behind = {(advice.source, advice.standing) for advice in advices}
    if len(advices) < 2 or len(behind) > 1:
        return None
    return all_by(advices[0].source, advices[0].standing)
