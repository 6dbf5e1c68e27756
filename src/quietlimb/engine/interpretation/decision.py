"""What to do next about the pressure: the decision flow of the chosen rule set, and low pressure.

The flow, with what the ACVIM 2018 rule set makes of it:

| category              | no organ damage                | organ damage                               |
|-----------------------|--------------------------------|--------------------------------------------|
| normotensive          | measure again by risk and age  | another cause; recheck soon                |
| prehypertensive       | repeat in 4-8 weeks            | another cause; recheck in 1-2 weeks        |
| hypertensive          | repeat in 4-8 weeks            | established by one session; treatment now; |
|                       |                                | recheck in 1-2 weeks, as after its start   |
| severely hypertensive | repeat in 1-2 weeks            | treatment today; recheck in 1-3 days       |

Where a line of treatment is reached by one session, that session establishes high pressure; where it is reached but
asks for more, the session is repeated; by as many sessions as it asks for, the pressure is persistent, and sessions go
on in the window of the category until treatment is begun. Rule sets for
old charts give category and window only. An animal under treatment is judged by the goals instead.

Not examined: the organs come first, the same day, and no label before, also beside a damaged one; then as without
damage. In the highest category the examination of the eyes is urgent whenever their state is not known, whatever the
other organs show; with signs of eyes or brain it is an emergency. Two departures from the printed table: a
normotensive animal is not sent for an organ check (a caution names what was not examined), and "recheck soon" gets no
days, because the table gives none.

Treatment is always the veterinarian's: no drug and no dose is ever named.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

from quietlimb.engine.interpretation.advising import OLD_SCHEME, TODAY, by, by_rules, practice, windowed
from quietlimb.engine.interpretation.case import Case
from quietlimb.engine.interpretation.interpretation import Advice
from quietlimb.engine.interpretation.organs import damaged, unknown_organs
from quietlimb.engine.interpretation.status import (
    HIGH_LEVEL,
    HIGHEST,
    LOWER_SESSIONS_THAT_UNDO,
    counts_from_the_first,
)
from quietlimb.engine.interpretation.treatment_lines import line_met
from quietlimb.engine.interpretation.under_treatment import too_low, under_treatment
from quietlimb.engine.standards import acvim_2018 as acvim
from quietlimb.engine.standards import low_pressure
from quietlimb.engine.standards.follow_up_in_print import IN_HOSPITAL_AT_LEAST_EVERY
from quietlimb.engine.standards.rule_set import TreatmentLine
from quietlimb.engine.standards.screening import (
    HIGH_AT_VISITS,
    WITH_ILLNESS,
    has_illness_beside_the_list,
    is_at_risk,
    screening,
)
from quietlimb.engine.values import Cited

_USUAL_DAYS = ("usual_from_days", "usual_to_days")
# code -> the numbers that it carries
DECISION_CODES: Mapping[str, tuple[str, ...]] = {
    "measure-by-risk": (),
    "screen-at-risk": (),
    "screen-with-illness": (),
    "screen-older-cat": ("years",),
    "screen-adult-cat": ("years",),
    "no-routine-screening": (),
    "look-for-another-cause": (),
    "recheck-soon": (),
    "recheck": (),
    "recheck-severe": (),
    "recheck-eyes-or-brain": (),
    "recheck-after-decision": (),
    "recheck-after-emergency": (),
    "repeat-until-treated": (),
    "repeat-until-treated-undated": _USUAL_DAYS,
    "repeat-session-at-home": (),
    "repeat-session-at-home-undated": _USUAL_DAYS,
    "watch-high-at-visits": (),
    "repeat-session": ("sessions",),
    "repeat-session-undated": ("sessions", *_USUAL_DAYS),
    "repeat-session-from-first": ("sessions",),
    "repeat-session-watch-closely": ("sessions",),
    "repeat-session-watch-closely-undated": ("sessions", *_USUAL_DAYS),
    "no-treatment-on-this-alone": (),
    "treatment-on-judgement": (),
    "treatment-if-persistent": ("sessions",),
    "established-by-one-session": (),
    "persistent-over-sessions": ("sessions",),
    "established-before": (),
    "lower-than-established": ("sessions",),
    "earlier-session-high": (),
    "normal-since-treatment-stopped": ("sessions",),
    "treatment-now": (),
    "treatment-today": (),
    "emergency-of-eyes-or-brain": ("from_mmhg",),
    "emergency-pace": ("first", "next"),
    "measure-until-stable": (),
    "measure-in-hospital": (),
    "category-of-an-old-scheme": (),
    "organ-check-first": ("unknown",),
    "organs-still-unknown": ("unknown",),
    "eye-examination-urgent": ("from_mmhg",),
    "situational-likely": (),
    "situational-not-assumed": (),
    "situational-at-home-normal": ("home_mmhg",),
    "not-dismissed-as-situational": ("from_mmhg",),
    "at-ideal-goal": ("goal_mmhg",),
    "at-minimum-goal": ("goal_mmhg", "ideal_mmhg"),
    "at-goal": ("goal_mmhg",),
    "goal-to-be-proven": ("sessions",),
    "check-at-each-visit": (),
    "creatinine-after-a-change": (),
    "above-goal": ("goal_mmhg",),
    "too-low-under-treatment": ("below_mmhg",),
    "look-at-the-animal-and-call": (),
    "confirm-low-pressure": ("below_mmhg",),
    "confirm-low-mean-pressure": ("below_mmhg",),
    "sedated-outside-the-flow": (),
    "measure-again": (),
}

_WITHOUT = acvim.SESSIONS_WITHOUT_ORGAN_DAMAGE


def _repeat(case: Case, level: int, code: str) -> Advice:
    """Repeat the session, as often as the rule set asks for sessions that agree."""
    sessions = max((line.sessions.value for line in case.rules.treatment), default=_WITHOUT.value)
    return _again(case, level, code, sessions=sessions)


def _again(case: Case, level: int, code: str, **numbers: float) -> Advice:
    """Another session, in the window of the rule set or, where it names none, on another day; the days that ACVIM 2018
    names for category and organs are then told beside it, as `follow` takes them."""
    window = case.rules.repeat[level]
    if window is not None:
        return windowed(code, window, **numbers)
    usual = acvim.ACVIM_2018.repeat[level]
    if case.organ_damage == "present":
        usual = acvim.ACVIM_2018.repeat_damaged[level] or acvim.AFTER_A_CHANGE
    assert usual is not None, "the lowest category is not repeated"
    from_days, to_days = usual.days
    numbers |= {"usual_from_days": from_days, "usual_to_days": to_days}
    return replace(by_rules(case, f"{code}-undated"), numbers=numbers)


def _repeat_to_confirm(case: Case, level: int) -> Advice:
    """Repeat the session. Sessions that agree but lie too close together have to span the window: it counts from the
    first of them. In the highest category nothing waits for that."""
    advice, window = _repeat(case, level, "repeat-session"), case.rules.repeat[level]
    if case.status is None or window is None or level == HIGHEST or not counts_from_the_first(case.status, window):
        return advice
    gone = case.status.numbers["days"]
    return Advice(
        code="repeat-session-from-first",
        within_days=(window.earliest.value - gone, window.latest.value - gone),
        numbers=advice.numbers,
        source="Quietlimb",
        place="the window of the rule set, counted from the first of the sessions that agree",
        standing="derived",
    )


def _flow(case: Case) -> tuple[Advice, ...]:
    """The cell of the table, by level, organs, lines of treatment and what earlier sessions have established."""
    level = case.level
    assert level is not None
    assert case.systolic is not None
    if (earlier := _against_earlier_sessions(case)) is not None:
        return earlier
    if level == 0:
        return _lowest_category(case)
    if case.rules.old:
        window = case.rules.repeat[level]
        if window is None or case.organ_damage == "present":
            return (OLD_SCHEME,)  # the windows are of animals without damage
        return (windowed("repeat-session", window, sessions=_WITHOUT.value), OLD_SCHEME)
    status = case.status
    met = line_met(case.rules.treatment, [case.systolic.value], damaged(case.organs), persistent=False)
    if met.says == "reached" or (status is not None and status.reason == "one-session-with-damage"):
        one = next(line for line in case.rules.treatment if line.sessions.value <= 1)
        established = by((met.line or one).sessions, "established-by-one-session")
        return (established, *_treatment(case, level))
    if status is not None and status.name == "confirmed" and status.reason == "sessions-agree":
        line = _line_of_sessions(case)
        persistent = by(line.sessions, "persistent-over-sessions", sessions=status.numbers["sessions"])
        return (persistent, _again(case, level, "repeat-until-treated"))
    if status is not None and status.name == "situational":
        home = status.numbers["home_mmhg"]
        return (
            _again(case, level, "repeat-session-at-home"),
            practice("situational-at-home-normal", "clues", home_mmhg=home),
        )
    if met.says == "when confirmed":
        assert met.line is not None
        sessions = met.line.sessions
        return (
            _repeat_to_confirm(case, level),
            by(sessions, "treatment-if-persistent", sessions=sessions.value),
        )
    if case.organ_damage == "present":
        recheck = case.rules.repeat_damaged[level]
        return (
            by_rules(case, "look-for-another-cause"),
            by_rules(case, "recheck-soon") if recheck is None else windowed("recheck", recheck),
            by_rules(case, "treatment-on-judgement"),
        )
    return (_repeat(case, level, "repeat-session-watch-closely"), by_rules(case, "no-treatment-on-this-alone"))


def _line_of_sessions(case: Case) -> TreatmentLine:
    """The line that several sessions reach: the lowest that asks for more than one."""
    several = (line for line in case.rules.treatment if line.sessions.value > 1)
    return min(several, key=lambda line: line.from_mmhg.value)


def _against_earlier_sessions(case: Case) -> tuple[Advice, ...] | None:
    """What earlier sessions have established stands for now; a lower session behind high ones is no reason to rest.
    None where there is nothing of the kind."""
    reason = None if case.status is None else case.status.reason
    if reason == "still-confirmed" and case.high:
        assert case.level is not None
        return (by(_TWO_LOWER, "established-before"), _again(case, case.level, "repeat-until-treated"))
    if reason == "still-confirmed":
        lower = by(_TWO_LOWER, "lower-than-established", sessions=_TWO_LOWER.value)
        return (lower, _repeat(case, HIGH_LEVEL, "repeat-session"))
    if reason == "one-lower-session" and case.level == 0:
        return (by(_TWO_LOWER, "earlier-session-high"), _repeat(case, HIGH_LEVEL, "repeat-session"))
    if reason == "confirmed-before-treatment" and case.level == 0:
        normal = by(_TWO_LOWER, "normal-since-treatment-stopped", sessions=_TWO_LOWER.value)
        return (normal, _repeat(case, HIGH_LEVEL, "repeat-session"))
    return None


_TWO_LOWER = Cited(float(LOWER_SESSIONS_THAT_UNDO), "sessions", "Quietlimb", "lower sessions that undo", "invented")


def _lowest_category(case: Case) -> tuple[Advice, ...]:
    if case.organ_damage == "present":
        return (by_rules(case, "look-for-another-cause"), by_rules(case, "recheck-soon"))
    if case.status is not None and case.status.name == "situational":
        return (windowed("watch-high-at-visits", HIGH_AT_VISITS),)
    return _screening(case)


def _screening(case: Case) -> tuple[Advice, ...]:
    """When an animal of normal pressure is measured again, by its illnesses, drugs and age as far as they are told."""
    told = case.background
    diseased = any(check.state == "known disease" for check in case.organs)
    at_risk = told.at_risk or diseased or is_at_risk(case.species, told.conditions or (), told.drugs or ())
    ill = not at_risk and has_illness_beside_the_list(case.species, told.conditions or ())
    illness = (by(WITH_ILLNESS, "screen-with-illness"),) if ill else ()
    found = screening(case.species, case.rules.source, years=told.age_years, at_risk=at_risk, young=bool(told.young))
    if ill and (found is None or found.window is None):
        return illness
    if found is None:
        return (by_rules(case, "measure-by-risk", place="screening"),)
    if found.window is None:
        return (by(found.cited, "no-routine-screening"),)
    years = {} if found.from_years is None else {"years": found.from_years.value}
    return (*illness, windowed(f"screen-{found.code}", found.window, **years))


def _treatment(case: Case, level: int) -> tuple[Advice, ...]:
    """Treatment as the rule set asks for it; today in the highest category, with signs of eyes or brain at once. And
    when to measure next: where damage and pressure together call for a decision at once, after that decision."""
    goals, acute = case.rules.goals, bool(damaged(case.organs) & {"eyes", "brain"})
    severe = case.rules.repeat_damaged[HIGHEST] or goals.severe or acvim.RECHECK_SEVERE_WITH_DAMAGE
    if level < HIGHEST:
        after = goals.after_a_change or acvim.AFTER_A_CHANGE
        recheck = windowed("recheck-eyes-or-brain", severe) if acute else windowed("recheck-after-decision", after)
        return (by_rules(case, "treatment-now"), recheck)
    today = by_rules(case, "treatment-today", within_days=TODAY)
    if not acute:
        return (today, windowed("recheck", severe))
    first, then = acvim.FALL_IN_FIRST_HOUR, acvim.FALL_IN_NEXT_HOURS
    return (
        today,
        by(first, "emergency-pace", first=first.value, next=then.value),
        practice("measure-until-stable", "emergency"),
        by(IN_HOSPITAL_AT_LEAST_EVERY, "measure-in-hospital"),
        windowed("recheck-after-emergency", severe),
    )


def _emergency(case: Case) -> tuple[Advice, ...]:
    """Before all else, in the highest category with damage of eyes or brain."""
    if case.level != HIGHEST or not damaged(case.organs) & {"eyes", "brain"}:
        return ()
    from_mmhg = case.rules.systolic_from[-1].value
    return (
        Advice(
            code="emergency-of-eyes-or-brain",
            within_days=TODAY,
            numbers={"from_mmhg": from_mmhg},
            source=acvim.SOURCE,
            place="emergency",
            standing="from memory",
        ),
    )


def _organs_first(case: Case) -> tuple[Advice, ...]:
    """What to examine before the pressure gets a name."""
    unknown = unknown_organs(case.organs)
    advice: list[Advice] = []
    if case.level == HIGHEST and "eyes" in unknown:
        advice.append(
            Advice(
                code="eye-examination-urgent",
                within_days=TODAY,
                numbers={"from_mmhg": case.rules.systolic_from[-1].value},
                source=acvim.SOURCE,
                place="decision flow",
                standing="from memory",
            )
        )
    if case.level != 0 and unknown and not case.background.treated:
        established = case.status is not None and case.status.name == "confirmed"
        # once high pressure is established, the organs do not decide about the name but about the haste
        if established:
            still = practice("organs-still-unknown", "organ check", within_days=TODAY, unknown=float(len(unknown)))
            advice.append(still)
        else:
            advice.append(by_rules(case, "organ-check-first", within_days=TODAY, unknown=float(len(unknown))))
    return tuple(advice)


def _situational(case: Case) -> tuple[Advice, ...]:
    """What a suspected situational rise changes: with organ damage nothing, in the highest category nothing before the
    eyes were seen."""
    if not case.situational_likely or case.level == 0:
        return ()
    if case.organ_damage == "present":
        return (practice("situational-not-assumed", "situational rise"),)
    if case.level == HIGHEST and "eyes" in unknown_organs(case.organs):
        from_mmhg = case.rules.systolic_from[-1].value
        return (practice("not-dismissed-as-situational", "situational rise", from_mmhg=from_mmhg),)
    return (practice("situational-likely", "situational rise"),)


def _low(case: Case) -> tuple[Advice, ...]:
    """Low pressure: the animal is looked at, and the pressure confirmed at once, awake or not."""
    advice: list[Advice] = []
    if case.systolic is not None and case.systolic.value < low_pressure.SYSTOLIC_BELOW.value:
        limit = low_pressure.SYSTOLIC_BELOW
        advice.append(by(limit, "confirm-low-pressure", within_days=TODAY, below_mmhg=limit.value))
    elif case.mean_mmhg is not None and case.mean_mmhg < case.low_mean.value:
        limit = case.low_mean
        advice.append(by(limit, "confirm-low-mean-pressure", within_days=TODAY, below_mmhg=limit.value))
    if advice:
        # the animal before the cuff
        advice.insert(0, by(low_pressure.SYSTOLIC_BELOW, "look-at-the-animal-and-call", within_days=TODAY))
    return tuple(advice)


def _urgent_without_category(case: Case) -> tuple[Advice, ...]:
    """What cannot wait for a set that is consistent: an emergency, the eyes, and too low a pressure under treatment."""
    assert case.systolic is not None
    value = case.systolic.value
    by_value = replace(case, category=case.rules.category_of(value))
    eyes = tuple(each for each in _organs_first(by_value) if each.code == "eye-examination-urgent")
    return (*_emergency(by_value), *eyes, *(too_low(case) if case.background.treated else ()))


def is_low(case: Case) -> bool:
    """Whether systolic or mean pressure is low enough to act on at once."""
    return bool(_low(case))


def decide(case: Case) -> tuple[Advice, ...]:
    """What to do next, the most urgent first.

    Low pressure stands in place of the flow for high pressure; so does sedation. Readings that were not consistent give
    no category and so no flow, but what is urgent is told. Without a systolic pressure the only advice is to measure
    again.
    """
    low = _low(case)
    if not case.awake:
        return (*low, by_rules(case, "sedated-outside-the-flow", place="protocol"))
    if low and case.level in (None, 0) and not case.background.treated:
        another = (by_rules(case, "look-for-another-cause"),) if case.organ_damage == "present" else ()
        return (*low, *another)
    if case.category is None and case.uneven and case.systolic is not None:
        return (*low, *_urgent_without_category(case))
    if case.category is None:
        return low or (by_rules(case, "measure-again", place="protocol"),)
    if case.background.treated:
        return (
            *low,
            *_emergency(case),
            *_organs_first(case),
            *under_treatment(case, low=bool(low) and case.level == 0),
        )
    return (*low, *_emergency(case), *_organs_first(case), *_flow(case), *_situational(case))
