"""Cautions: when each applies. Their sentences are in `quietlimb.words`."""

from __future__ import annotations

from collections.abc import Callable, Mapping

from quietlimb.engine.interpretation.case import Case
from quietlimb.engine.interpretation.categories import CLOSE_MMHG
from quietlimb.engine.interpretation.decision import is_low
from quietlimb.engine.interpretation.interpretation import Caution
from quietlimb.engine.interpretation.organs import UNKNOWN_STATES, unknown_organs
from quietlimb.engine.interpretation.status import too_low_under_treatment
from quietlimb.engine.standards import acvim_2018 as acvim
from quietlimb.engine.standards import follow_up_in_print as printed
from quietlimb.engine.standards import low_pressure, situational_rise
from quietlimb.engine.standards.breeds import breed_remark
from quietlimb.engine.standards.cuff_height import BLOOD, MATTERS_OVER, column_mmhg, height_matters
from quietlimb.engine.standards.cuff_width import NARROWEST_ACCEPTED, WIDEST_ACCEPTED, judge_width
from quietlimb.engine.standards.day_to_day import BETWEEN_SESSION_SD, WITHIN_SESSION_SD, least_believable_change
from quietlimb.engine.standards.rule_sets import protocol_of
from quietlimb.engine.values import Cited

MAY_BE_LOW_FROM = 0.05  # probability [invented]
# An error of reading or typing is as likely from here on.
HARDLY_EVER_FROM = Cited(260.0, "mmHg", "Quietlimb", "systolic pressure hardly ever seen", "invented")
_CLOSE = Cited(CLOSE_MMHG, "mmHg", "Quietlimb", "near a boundary", "invented")

# code -> the numbers that it carries; in the order in which they are told
CAUTION_CODES: Mapping[str, tuple[str, ...]] = {
    "emergency-signs": (),
    "hardly-ever-so-high": ("from_mmhg",),
    "may-be-low": ("share", "limit_mmhg"),
    "weakness-not-told": ("below_mmhg",),
    "sedated": (),
    "still-falling": (),
    "still-rising": (),
    "not-consistent": ("limit",),
    "consistent-but-for-spoiled": ("limit",),
    "few-readings": ("taken", "kept", "needed"),
    "cuff-does-not-fit": ("ratio",),
    "cuff-off-heart-level": ("cm", "mmhg"),
    "height-counted-by-guideline": ("limit_cm",),
    "short-acclimatisation": ("minutes", "needed_minutes"),
    "settled-under-an-hour": ("minutes", "hour_minutes", "above_mmhg"),
    "near-boundary": ("within_mmhg",),
    "one-method-one-day": ("readings",),
    "one-session": ("sessions",),
    "organs-not-examined": ("unknown",),
    "eyes-not-examined": (),
    "other-eye-not-examined": (),
    "breed-differs": (),
    "drug-in-record": ("count",),
    "condition-in-record": ("count",),
    "change-within-variation": ("change_mmhg", "least_mmhg"),
    "not-comparable-with-last": (),
    "usual-first-fall": ("from_mmhg", "to_mmhg"),
    "dogs-often-stay-high": ("stayed", "treated"),
    "recheck-texts-differ": ("from_days", "to_days"),
    "diastolic-in-higher-category": ("diastolic_mmhg",),
    "below-healthy-cats": ("from_mmhg",),
    "situational-rise": ("from_mmhg", "to_mmhg", "arrival_mmhg", "largest_mmhg", "lowest_mmhg"),
    "situational-rise-dogs": ("by_mmhg",),
    "normal-today-only": (),
    "higher-at-home": ("home_mmhg",),
    "accuracy-falls-at-extremes": (),
    "diastolic-least-certain": (),
    "no-indirect-method-proven": (),
    "never-compare-methods": (),
    "other-rule-sets-differ": ("count",),
    "veterinarian-decides": (),
    "not-a-certified-device": (),
}

# Of these, what moves the value itself so far that its category may be another's: told before a category wherever
# little is read. Which they are is a choice of our own [invented]; their limits have their sources.
BEND_THE_VALUE = frozenset(
    {"hardly-ever-so-high", "sedated", "cuff-does-not-fit", "cuff-off-heart-level", "short-acclimatisation"}
)


def _when(applies: bool, code: str, *by: Cited | None, **numbers: float) -> Caution | None:
    """The caution where it applies. by : the figures in it that stand somewhere"""
    sources = dict.fromkeys((cited.source, cited.standing) for cited in by if cited is not None)
    return Caution(code=code, numbers=numbers, sources=tuple(sources)) if applies else None


def _guard_for_the_weak(case: Case) -> Cited | None:
    """The guard that a treated animal has fallen under if it is weak, where nobody told whether it is. [mmHg]"""
    guard = case.rules.goals.too_low_with_signs_below
    told = case.background
    if guard is None or case.systolic is None or not (told.treated and told.weak is None and case.awake):
        return None
    lower = too_low_under_treatment(case.systolic.value, weak=False, rules=case.rules)
    return guard if case.systolic.value < guard.value and lower is None else None


def _of_the_animal(case: Case) -> tuple[Caution | None, ...]:
    is_too_low = is_low(case)
    limit = low_pressure.SYSTOLIC_BELOW
    low = 0.0 if case.systolic is None else case.systolic.share_below(limit.value)
    weak_below = _guard_for_the_weak(case)
    return (
        _when(True, "emergency-signs"),
        _when(
            case.systolic is not None and case.systolic.value >= HARDLY_EVER_FROM.value,
            "hardly-ever-so-high",
            HARDLY_EVER_FROM,
            from_mmhg=HARDLY_EVER_FROM.value,
        ),
        _when(low >= MAY_BE_LOW_FROM and not is_too_low, "may-be-low", limit, share=low, limit_mmhg=limit.value),
        _when(
            weak_below is not None,
            "weakness-not-told",
            weak_below,
            below_mmhg=0.0 if weak_below is None else weak_below.value,
        ),
        _when(not case.awake, "sedated"),
    )


def _of_the_series(case: Case) -> tuple[Caution | None, ...]:
    if case.systolic is None:
        return ()
    guideline = case.guideline
    protocol = protocol_of(case.rules) if guideline is None else guideline.protocol
    kept = case.readings if guideline is None else len(guideline.kept)
    few = (guideline is not None and not guideline.enough) or (
        guideline is None and kept is not None and kept < protocol.keep_at_least.value
    )
    return (
        _when(case.course == "falling", "still-falling"),
        _when(case.course == "rising", "still-rising"),
        _when(case.uneven, "not-consistent", protocol.most_variability, limit=protocol.most_variability.value),
        _when(
            guideline is not None and guideline.varies_too_much and not case.uneven,
            "consistent-but-for-spoiled",
            protocol.most_variability,
            limit=protocol.most_variability.value,
        ),
        _when(
            few,
            "few-readings",
            protocol.keep_at_least,
            taken=float(case.readings or kept or 0),
            kept=float(kept or 0),
            needed=protocol.keep_at_least.value,
        ),
    )


def _of_the_setup(case: Case) -> tuple[Caution | None, ...]:
    ratio = None
    if case.cuff_width_cm is not None and case.limb_circumference_cm is not None:
        width = judge_width(case.cuff_width_cm, case.limb_circumference_cm, case.species)
        ratio = None if width.fit == "fits" else width.ratio
    height, minutes = case.cuff_below_heart_cm, case.acclimatisation_min
    gap, settle = acvim.WIDEST_HEIGHT_GAP, acvim.SHORTEST_ACCLIMATISATION
    return (
        _when(ratio is not None, "cuff-does-not-fit", NARROWEST_ACCEPTED, WIDEST_ACCEPTED, ratio=ratio or 0.0),
        _when(
            height is not None and height_matters(height),
            "cuff-off-heart-level",
            BLOOD,
            MATTERS_OVER,
            cm=height or 0.0,
            mmhg=column_mmhg(height or 0.0),
        ),
        _when(
            height is not None and abs(height) > gap.value,
            "height-counted-by-guideline",
            gap,
            limit_cm=gap.value,
        ),
        _when(
            minutes is not None and minutes < settle.value,
            "short-acclimatisation",
            settle,
            minutes=minutes or 0.0,
            needed_minutes=settle.value,
        ),
        _when(
            case.species == "cat"
            and bool(case.level)
            and minutes is not None
            and settle.value <= minutes < situational_rise.SETTLED_AFTER.value,
            "settled-under-an-hour",
            situational_rise.SETTLED_AFTER,
            situational_rise.AFTER_AN_HOUR,
            minutes=minutes or 0.0,
            hour_minutes=situational_rise.SETTLED_AFTER.value,
            above_mmhg=situational_rise.AFTER_AN_HOUR.value,
        ),
    )


def _of_the_category(case: Case) -> tuple[Caution | None, ...]:
    if case.level is None:
        return (_when(case.uneven, "accuracy-falls-at-extremes"),)
    raised = case.level > 0
    extreme = case.level == len(case.rules.categories) - 1 or is_low(case)
    may_be_the_visit = raised and case.organ_damage != "present"
    unknown = unknown_organs(case.organs)
    alone = not any(session.counts for session in case.background.history)
    return (
        _when(case.near_boundary, "near-boundary", _CLOSE, within_mmhg=_CLOSE.value),
        _when(bool(case.readings), "one-method-one-day", readings=float(case.readings or 0)),
        _when(
            raised and case.organ_damage != "present" and alone and not case.background.treated,
            "one-session",
            acvim.SESSIONS_WITHOUT_ORGAN_DAMAGE,
            sessions=acvim.SESSIONS_WITHOUT_ORGAN_DAMAGE.value,
        ),
        _when(bool(unknown), "organs-not-examined", unknown=float(len(unknown))),
        _when(raised and "eyes" in unknown, "eyes-not-examined"),
        _when("eyes" not in unknown and _an_eye_is_unknown(case), "other-eye-not-examined"),
        _when(
            may_be_the_visit and case.species == "cat",
            "situational-rise",
            situational_rise.USUAL_RISE_FROM,
            situational_rise.ON_ARRIVAL,
            situational_rise.LARGEST_RISE,
            from_mmhg=situational_rise.USUAL_RISE_FROM.value,
            to_mmhg=situational_rise.USUAL_RISE_TO.value,
            arrival_mmhg=situational_rise.ON_ARRIVAL.value,
            largest_mmhg=situational_rise.LARGEST_RISE.value,
            lowest_mmhg=situational_rise.LARGEST_FALL.value,
        ),
        _when(
            may_be_the_visit and case.species == "dog",
            "situational-rise-dogs",
            situational_rise.RISE_IN_DOGS,
            by_mmhg=situational_rise.RISE_IN_DOGS.value,
        ),
        _when(not raised and not is_low(case), "normal-today-only"),
        _higher_at_home(case),
        _when(extreme, "accuracy-falls-at-extremes"),
    )


def _an_eye_is_unknown(case: Case) -> bool:
    return any(state in UNKNOWN_STATES for check in case.organs for _, state in check.eyes)


def _higher_at_home(case: Case) -> Caution | None:
    """The reverse of a rise by the visit: normal here, and in a higher category at home."""
    if case.level != 0 or case.place == "home" or case.background.treated:
        return None
    home = [
        session.systolic_mmhg
        for session in case.background.history
        if session.counts and session.place == "home" and session.systolic_mmhg is not None and not session.treated
    ]
    highest = max(home, default=0.0)
    return _when(case.rules.level(highest) > 0, "higher-at-home", home_mmhg=highest)


def _under_treatment(case: Case) -> tuple[Caution | None, ...]:
    """What treatment does in print, and that texts differ on when to look again."""
    if not case.background.treated or case.level is None or case.systolic is None:
        return ()
    first, last = printed.USUAL_FIRST_FALL_FROM, printed.USUAL_FIRST_FALL_TO
    minimum = case.rules.goals.minimum_below
    above_goal = minimum is not None and case.systolic.value >= minimum.value
    stable = case.status is not None and case.status.name == "treated, at target"
    texts = printed.AT_GOAL_AND_STABLE if stable else printed.AFTER_A_CHANGE
    fitting = [text.window for text in texts if case.species == "cat" or not text.cats_only]
    return (
        _when(
            case.species == "cat" and case.background.treatment_moved,
            "usual-first-fall",
            first,
            from_mmhg=first.value,
            to_mmhg=last.value,
        ),
        _when(
            case.species == "dog" and above_goal,
            "dogs-often-stay-high",
            printed.DOGS_STAYED_HIGH,
            stayed=printed.DOGS_STAYED_HIGH.value,
            treated=printed.DOGS_TREATED.value,
        ),
        _when(
            stable or case.background.treatment_moved,
            "recheck-texts-differ",
            *(window.latest for window in fitting),
            from_days=min(window.days[0] for window in fitting),
            to_days=max(window.days[1] for window in fitting),
        ),
    )


def _of_the_background(case: Case) -> tuple[Caution | None, ...]:
    if case.systolic is None:
        return ()
    drugs, conditions = case.background.drugs or (), case.background.conditions or ()
    diastolic = case.diastolic_mmhg
    higher = None if diastolic is None else case.rules.diastolic_level(diastolic)
    healthy_from = low_pressure.HEALTHY_AWAKE_CAT_SYSTOLIC_FROM
    low_for_a_cat = case.awake and case.species == "cat" and case.method == "doppler" and not is_low(case)
    return (
        _when(_breed_differs(case), "breed-differs"),
        _when(bool(drugs), "drug-in-record", count=float(len(drugs))),
        _when(bool(conditions), "condition-in-record", count=float(len(conditions))),
        *_since_the_last_session(case),
        *_under_treatment(case),
        _when(
            higher is not None and case.level is not None and higher > case.level,
            "diastolic-in-higher-category",
            diastolic_mmhg=diastolic or 0.0,
        ),
        _when(
            low_for_a_cat and case.systolic.value < healthy_from.value,
            "below-healthy-cats",
            healthy_from,
            from_mmhg=healthy_from.value,
        ),
    )


def _breed_differs(case: Case) -> bool:
    remark = breed_remark(case.species, case.background.breed)
    return remark is not None and remark.tendency != "as printed"


def _since_the_last_session(case: Case) -> tuple[Caution | None, ...]:
    """Whether the change since the last session of the animal awake is more than chance makes; sessions by another
    method or at another site are not compared."""
    assert case.systolic is not None
    past = [session for session in case.background.history if session.counts]
    if not past or not case.awake:
        return ()
    last = min(past, key=lambda session: session.days_ago)
    assert last.systolic_mmhg is not None
    if last.method not in (None, case.method) or (last.site and case.site and last.site != case.site):
        return (_when(True, "not-comparable-with-last"),)
    change = case.systolic.value - last.systolic_mmhg
    within, between = WITHIN_SESSION_SD[case.species, case.method], BETWEEN_SESSION_SD[case.species, case.method]
    least = least_believable_change(
        within.value,
        between.value,
        readings=float(max(1, min(case.readings or 1, int(acvim.KEEP_AT_LEAST.value)))),
    )
    return (
        _when(abs(change) < least, "change-within-variation", within, between, change_mmhg=change, least_mmhg=least),
    )


def _of_every_value(case: Case) -> tuple[Caution | None, ...]:
    measured = case.systolic is not None
    return (
        _when(case.diastolic_given, "diastolic-least-certain"),
        _when(measured, "no-indirect-method-proven"),
        _when(measured, "never-compare-methods"),
        _when(case.others > 0, "other-rule-sets-differ", count=float(case.others)),
        _when(True, "veterinarian-decides"),
        _when(True, "not-a-certified-device"),
    )


_GROUPS: tuple[Callable[[Case], tuple[Caution | None, ...]], ...] = (
    _of_the_animal,
    _of_the_series,
    _of_the_setup,
    _of_the_category,
    _of_the_background,
    _of_every_value,
)


def cautions_for(case: Case) -> tuple[Caution, ...]:
    """The cautions that apply to this case, those that bear on it most first."""
    return tuple(caution for group in _GROUPS for caution in group(case) if caution is not None)
