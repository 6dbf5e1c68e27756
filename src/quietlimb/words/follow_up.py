"""The months of an animal as sentences. Treatment is named as the veterinarian's; no drug and no dose ever is."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date

from quietlimb.engine.follow_up.change import Change, ChangeVerdict, HighDay
from quietlimb.engine.follow_up.comparability import CONVERTED, NOT_TOLD, Offset, Stretch
from quietlimb.engine.follow_up.follow import URGENT_CODES, FollowUp, UntoldStep
from quietlimb.engine.follow_up.history import TreatmentStep
from quietlimb.engine.follow_up.recheck import DueState, Recheck, RuleCode
from quietlimb.engine.follow_up.target import TargetProbability
from quietlimb.engine.interpretation.organs import ORGANS
from quietlimb.engine.values import Cited
from quietlimb.words.advice import Reader
from quietlimb.words.dates import date_and_time
from quietlimb.words.language import _, in_a_sentence, mark, plural
from quietlimb.words.organs import organ_name
from quietlimb.words.sources import OURS, source_and_standing, source_name, standing_name

CAUTIONS: Mapping[str, str] = {
    "low-may-be": mark(
        "The pressure may be low: look at the animal, call the veterinarian, and confirm it at once with another cuff "
        "or at another site."
    ),
    "latest-severe": mark(
        "The latest session, or one of the same day, is severely raised. It is to be acted on as the rule set says, "
        "whatever the course over the months, or another session of that day, makes of it."
    ),
    "latest-too-low": mark(
        "Under treatment the latest session, or one of the same day, is too low by this rule set: look at the animal, "
        "and have the veterinarian look at the treatment today."
    ),
    "low-if-weak": mark(
        "The latest session under treatment, or one of the same day, is so low that an animal that is weak, faint or "
        "has a fast heart has to be looked at anew; whether it is does not stand in the history."
    ),
    "break": mark(
        "Sessions by another method, with another instrument or at another site are not compared with these; each "
        "group stands by itself. A conversion with its uncertainty would join them."
    ),
    "converted": mark(
        "Some sessions were carried over by a conversion. They are listed as measured, and the error of the conversion "
        "is in the intervals."
    ),
    "marked-differences": mark(
        "Some sessions differ from the usual ones in place, position, cuff or person, or do not tell site or "
        "instrument. They are marked, count for less, and widen the interval; nothing is subtracted for them."
    ),
    "odd-session": mark(
        "A session that does not belong to the others is marked as odd. It hardly moves the result; what it means is "
        "for the veterinarian to judge."
    ),
    "latest-unsettled": mark(
        "What was measured last lies further from the rest than the rest from each other. One session cannot tell an "
        "odd day from the beginning of a change: the level follows only once further sessions agree, and until then it "
        "may lie outside its interval. Another session soon tells more."
    ),
    "untold-step": mark(
        "The pressure seems to have stepped although no treatment event is told. Look whether an event is missing, or "
        "for a cause."
    ),
    "not-measured-since-treatment": mark(
        "Since treatment was last begun, changed or stopped there is no session that can be compared. How far that "
        "moved the pressure is not known: that is why the intervals of the level and of the next session are wide."
    ),
    "begun-on-a-high-day": mark(
        "Treatment was begun or changed after a session that stood above the animal's own level. Part of a fall since "
        "then would have come without it; the change given here allows for that, the difference of two sessions does "
        "not."
    ),
    "low-on-the-day-of-treatment": mark(
        "On a day on which treatment was begun or changed the pressure was low. Was it measured before the treatment "
        "or after it? It is taken for one before it, as is every session of such a day."
    ),
    "asked-before-first-session": mark(
        "The day asked about lies before the first session that can be compared: the change is told from that session "
        "on."
    ),
    "nothing-in-the-time-asked": mark(
        "Of the time asked about there are no sessions that can be compared, so no change is told for it."
    ),
    "one-session": mark(
        "This rests on one session: the interval comes from what is usual of other animals, not from this one."
    ),
    "few-sessions": mark(
        "This rests on few sessions: how much this animal varies from day to day is still mostly taken from others."
    ),
    "long-ago": mark("The latest session lies more than half a year back; the level may have moved since."),
    "sedated-left-out": mark("Sessions under sedation or anaesthesia are left out."),
    "this-method-only": mark(
        "All pressures are by this method, instrument and site; how far they lie from the pressure in the artery is "
        "not in the intervals."
    ),
    "veterinarian-decides": mark(
        "This is an estimate, not a diagnosis. Diagnosis, drugs and doses are for the licensed veterinarian."
    ),
    "not-a-certified-device": mark("Quietlimb is not a certified medical device."),
}

TO_THE_VETERINARIAN: Mapping[str, str] = {
    "low-may-be": mark(
        "The pressure may be low: look at the animal, and confirm it at once with another cuff or at another site."
    ),
    "latest-too-low": mark(
        "Under treatment the latest session, or one of the same day, is too low by this rule set: look at the animal "
        "and at the treatment today."
    ),
}

RULES: Mapping[RuleCode, str] = {
    "low-pressure": mark("a low pressure is confirmed at once"),
    "too-low-under-treatment": mark("too low under treatment; the veterinarian looks at the treatment"),
    "nothing-obtained": mark("the last session brought no valid value; it is repeated"),
    "after-treatment-step": mark("first look after treatment was begun, changed or stopped"),
    "after-treatment-step-severe": mark("first look after treatment was begun or changed at a severe pressure"),
    "severe-under-treatment": mark("severely raised under treatment"),
    "until-at-goal": mark("treated and not yet at the goal"),
    "goal-to-be-confirmed": mark("at the goal once; a second session confirms it"),
    "at-goal": mark("treated, at the goal in two sessions running"),
    "severe": mark("severely raised pressure, to be confirmed"),
    "severe-established": mark("severely raised pressure, established over sessions; no treatment is told"),
    "severe-with-organ-damage": mark("severely raised pressure with organ damage"),
    "raised": mark("raised pressure, to be confirmed"),
    "raised-established": mark("raised pressure, established over sessions; no treatment is told"),
    "raised-at-visits": mark("raised at visits and normal at home; at home where it can be done"),
    "raised-with-organ-damage": mark("raised pressure with organ damage"),
    "lower-than-before": mark("lower than the high session or sessions before; one more tells which holds"),
    "normal-with-organ-damage": mark(
        "normal pressure with organ damage; look for another cause of it, and measure soon"
    ),
    "high-at-visits": mark("high at visits and normal at home; under watch, at home where it can be done"),
    "at-risk": mark("an illness that goes with high pressure"),
    "older-cat": mark("an older cat"),
    "adult-cat": mark("a grown cat, once a year"),
}

# Why those days, where no text names them.
DAYS: Mapping[RuleCode, str] = {
    "high-at-visits": mark("No text names its days; those of an animal at risk are taken."),
    "normal-with-organ-damage": mark("The text says soon and names no days; those at 140 to 159 mmHg are taken."),
    "too-low-under-treatment": mark("No text names its days; those of a low pressure are taken."),
    "nothing-obtained": mark("No text names its days; these are our own."),
    "goal-to-be-confirmed": mark(
        "One session cannot prove it; no text names its days, so those after a change are taken."
    ),
}

STATES: Mapping[DueState, str] = {
    "not yet": mark("not due yet"),
    "due": mark("due"),
    "overdue": mark("overdue"),
}

STEPS: Mapping[TreatmentStep, str] = {
    "begun": mark("treatment begun"),
    "changed": mark("treatment changed"),
    "stopped": mark("treatment stopped"),
}

TARGETS: Mapping[str, str] = {
    "boundary": mark("below {below:.0f}"),
    "least-goal": mark("least goal, below {below:.0f}"),
    "ideal-goal": mark("ideal goal, below {below:.0f}"),
    "reassess-with-signs": mark("below {below:.0f}: to be reassessed if weak or faint"),
    "reassess": mark("below {below:.0f}: to be reassessed"),
    "low": mark("low, below {below:.0f}"),
}

_VERDICTS: Mapping[ChangeVerdict, str] = {
    "fell": mark("fell by more than {by:g}"),
    "rose": mark("rose by more than {by:g}"),
    "about the same": mark("within {by:g} of each other"),
    "cannot tell": mark("cannot tell whether by more than {by:g}"),
}

_CIRCUMSTANCES: Mapping[str, str] = {
    "place": mark("place"),
    "position": mark("position"),
    "cuff": mark("cuff"),
    "read_by": mark("person"),
    "site": mark("site"),
    "instrument": mark("instrument"),
    "method": mark("method"),
}

_OTHER_PRESSURES = mark(
    "No rule looks at these. How far they vary from session to session is less known than of the systolic pressure, "
    "and the diastolic is the least certain by cuff."
)

_UNHURRIED_DAYS = 7  # a shorter window is kept for what it is


def day_name(day: int) -> str:
    """`3 March 2031`."""
    return date_and_time(date.fromordinal(day).isoformat())


def caution(code: str, limit: Cited | None = None, *, to: Reader = "anyone") -> str:
    """A caution in one or two sentences, told to whoever reads it, and where the figure stands that it rests on."""
    sentences = {**CAUTIONS, **TO_THE_VETERINARIAN} if to == "veterinarian" else CAUTIONS
    told = _(sentences[code])
    return told if limit is None else f"{told} {source_and_standing(limit.source, limit.standing)}"


def cautions(found: FollowUp, *, urgent: bool, to: Reader = "anyone") -> list[str]:
    """All urgent cautions, or all others, in their order."""
    return [caution(code, found.limits.get(code), to=to) for code in found.cautions if (code in URGENT_CODES) is urgent]


def step_name(step: TreatmentStep) -> str:
    """`treatment begun`."""
    return _(STEPS[step])


def missed_name() -> str:
    """What stands at a day on which a tablet was missed: neither a beginning nor an end."""
    return _("tablet missed")


def targets_heading(treated: bool) -> str:
    """What stands above the limits: goals are of treated animals."""
    if treated:
        return _("Underlying pressure against the goals")
    return _("Underlying pressure against the risk categories")


def target_name(target: TargetProbability) -> str:
    """What a limit stands for, with the limit [mmHg] and how far it was verified."""
    told = _(TARGETS[target.code]).format(below=target.below.value)
    return f"{told} ({standing_name(target.below.standing)})"


def verdict(change: Change) -> str:
    """What can be said of a change."""
    return _(_VERDICTS[change.verdict]).format(by=change.by_mmhg)


def circumstance_name(name: str) -> str:
    """A circumstance in which sessions differ."""
    return _(_CIRCUMSTANCES[name])


def difference(offset: Offset) -> str:
    """In what a session differs from the usual ones: `place home`, `site not told`, `converted by -4`."""
    if offset.circumstance == CONVERTED:
        return _("converted by {add:+g}").format(add=-offset.mean_mmhg + 0.0)
    value = _(NOT_TOLD) if offset.value == NOT_TOLD else offset.value
    return f"{circumstance_name(offset.circumstance)} {value}"


def other_pressures_remark() -> str:
    """What stands under mean and diastolic pressure."""
    return _(_OTHER_PRESSURES)


def difference_sentences(stretch: Stretch) -> list[str]:
    """What the level of a stretch is the level of, and what is allowed for the sessions that stand apart from that."""
    offsets = {offset for each in stretch.offsets for offset in each}
    converted = {offset.sd_mmhg for offset in offsets if offset.circumstance == CONVERTED}
    kinds = {(o.circumstance, o.value == NOT_TOLD, o.sd_mmhg) for o in offsets if o.circumstance != CONVERTED}
    differing = {name for name, not_told, _sd in kinds if not not_told}
    told = []
    if differing:
        usual = ", ".join(
            f"{circumstance_name(name)} {value}" for name, value in stretch.usual.items() if name in differing
        )
        told.append(_("The level is that of the usual sessions here: {usual}.").format(usual=usual))
    if kinds:
        allowed = ", ".join(
            (_("{name} not told {sd:g} mmHg") if not_told else _("{name} {sd:g} mmHg")).format(
                name=circumstance_name(name), sd=sd
            )
            for name, not_told, sd in sorted(kinds)
        )
        told.append(
            _(
                "Where a session differs, an unknown difference, the same each time, is allowed for, of standard "
                "deviation: {allowed} {standing}. Nothing is subtracted."
            ).format(allowed=allowed, standing=source_and_standing(OURS, "invented"))
        )
    if stretch.untold:
        names = ", ".join(circumstance_name(name) for name in stretch.untold)
        told.append(_("Sessions that do not tell this are taken for usual ones: {names}.").format(names=names))
    for sd in sorted(converted):
        told.append(_("What was converted shares an error of standard deviation {sd:g} mmHg.").format(sd=sd))
    return told


def unless_a_change_begins() -> str:
    """What is added to a verdict of no change where what was measured last lies apart from the rest."""
    return _("if what was measured last is an odd day, not the beginning of a change")


def high_day_sentence(found: HighDay) -> str:
    """How the session before an event stood against the animal's level then."""
    if found.above_mmhg >= 0.0:
        text = _(
            "The session of {day} stood {by:.0f} mmHg above the level that the sessions up to then speak for; that "
            "much of a fall would be expected without any treatment."
        )
    else:
        text = _(
            "The session of {day} stood {by:.0f} mmHg below the level that the sessions up to then speak for; a rise "
            "by that much would be expected without any treatment."
        )
    return text.format(day=day_name(found.day), by=abs(found.above_mmhg))


def untold_step_sentence(found: UntoldStep) -> str:
    """When the level stepped although nothing was told; its probability stands beside it."""
    return _("The level seems to have stepped between {first} and {last}, with no event told").format(
        first=day_name(found.from_day), last=day_name(found.to_day)
    )


def rule_name(rule: RuleCode) -> str:
    """Why a recheck is asked for."""
    return _(RULES[rule])


def due_name(state: DueState) -> str:
    """`due`, `not due yet`, `overdue`."""
    return _(STATES[state])


def state_name(found: Recheck) -> str:
    """`due`, `not due yet`, `overdue by 12 days`."""
    if found.state != "overdue":
        return due_name(found.state)
    by = plural("overdue by {days} day", "overdue by {days} days", found.overdue_days)
    return by.format(days=found.overdue_days)


def window(found: Recheck) -> str:
    """`between 10 and 17 March 2031`, in full where the months differ."""
    return _("{first} to {last}").format(first=day_name(found.earliest_day), last=day_name(found.latest_day))


def recheck_sentence(found: Recheck) -> str:
    """When the next session is due, and why."""
    told = _("Next session {first} to {last}: {why}; {state}.").format(
        first=day_name(found.earliest_day),
        last=day_name(found.latest_day),
        why=rule_name(found.rule),
        state=state_name(found),
    )
    return f"{told} {_(DAYS[found.rule])}" if found.rule in DAYS else told


def worth_sentence(found: Recheck) -> str | None:
    """From when a session would tell something; None where that was not worked out, or where no day is to be lost."""
    if found.worth_day is None or found.latest_day - found.earliest_day < _UNHURRIED_DAYS:
        return None
    if found.worth_day <= found.earliest_day:
        return _("A session would narrow the interval by a fifth or more from the first day on.")
    if found.worth_day < found.latest_day:
        return _(
            "From {day} on a session would narrow the interval by a fifth or more; before, it adds little."
        ).format(day=day_name(found.worth_day))
    return _("Within this time one more session narrows the interval by less than a fifth.")


def organs_sentence(found: Recheck) -> str | None:
    """Which organs are not known, where the recheck depends on them; None where it does not."""
    if found.damaged_days is None:
        return None
    first, last = (day_name(day) for day in found.damaged_days)
    organs = ", ".join(in_a_sentence(organ_name(organ)) for organ in ORGANS)
    return _(
        "The history does not tell whether organs are damaged ({organs}): with damage in any of them it would be "
        "{first} to {last}."
    ).format(organs=organs, first=first, last=last)


def stand_in_sentence(found: Recheck, rule_set: str) -> str | None:
    """That the rule set names no day, and whose is taken; None where it does."""
    if not found.stands_in:
        return None
    return _("On another day; {rule_set} names none that we know of, so the days are those of {source}.").format(
        rule_set=rule_set, source=source_name(found.window.latest.source)
    )


def recheck_source(found: Recheck) -> str:
    """Which rule says so, and how far it was checked."""
    latest = found.window.latest
    told = source_and_standing(latest.source, latest.standing)
    if not found.window.first_day_is_ours:
        return told
    return _("({told}; the first day is our own choice)").format(told=told[1:-1])
