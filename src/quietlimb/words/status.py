"""The status of the animal over its sessions, as sentences."""

from __future__ import annotations

from collections.abc import Mapping

from quietlimb.engine.interpretation.interpretation import AnimalStatus, LeftOut
from quietlimb.words.categories import category_name
from quietlimb.words.language import _, in_a_sentence, mark, plural
from quietlimb.words.sources import standing_name

NAMES: Mapping[str, str] = {
    "not established": mark("High pressure not established"),
    "suspected": mark("High pressure suspected"),
    "confirmed": mark("High pressure confirmed"),
    "situational": mark("High at visits, not at home"),
    "treated, at target": mark("Treated, at target"),
    "treated, target not proven": mark("Treated, target reached once"),
    "treated, off target": mark("Treated, off target"),
}

REASONS: Mapping[str, str] = {
    "confirmed-before-treatment": mark(
        "It was confirmed before treatment; since that was stopped there are too few sessions to undo it "
        "(sessions: {sessions:.0f})."
    ),
    "no-session": mark("No session that could be used."),
    "never-high": mark("No session was high (sessions: {sessions:.0f})."),
    "back-below": mark("The last {sessions:.0f} sessions running were lower."),
    "one-lower-session": mark("One lower session stands behind high ones."),
    "needs-more-sessions": mark("Sessions running that reach the line: {have:.0f}; the rule set asks for {need:.0f}."),
    "sessions-close-together": mark(
        "The sessions agree, but lie {days:.0f} days apart. The rule set prints when to repeat, by the category; we "
        "read it so that sessions that agree have to span {need_days:.0f} days or more."
    ),
    "high-outside-every-line": mark(
        "The pressure is high, and reaches no line from which this rule set considers treatment."
    ),
    "one-session-with-damage": mark("One session with organ damage is enough."),
    "sessions-agree": mark("{sessions:.0f} sessions running agree, over {days:.0f} days."),
    "still-confirmed": mark("Confirmed before; two lower sessions running would undo it."),
    "normal-at-home": mark(
        "Up to {away_mmhg:.0f} mmHg away from home, at most {home_mmhg:.0f} mmHg at home, and no organ damage."
    ),
    "at-target-twice": mark("{sessions:.0f} sessions running under the goal of {goal_mmhg:.0f} mmHg{verified}."),
    "at-target-once": mark(
        "One session under the goal of {goal_mmhg:.0f} mmHg{verified} since treatment last changed."
    ),
    "above-target": mark("The last session was not under the goal of {goal_mmhg:.0f} mmHg{verified}."),
    "too-low": mark("The last session was under {below_mmhg:.0f} mmHg{verified}: too low under treatment."),
}

LEFT_OUT: Mapping[LeftOut, str] = {
    "sedated": mark("sedated"),
    "anaesthetised": mark("anaesthetised"),
    "no pressure": mark("no pressure"),
    "not consistent": mark("readings not consistent"),
    "other method": mark("by another method"),
    "other site": mark("at another site"),
}


def status_name(name: str) -> str:
    """Readable name of a status."""
    return _(NAMES[name])


def status_sentence(status: AnimalStatus) -> str:
    """The status, why, which sessions it rests on and which were left out."""
    goal = "" if status.goal_standing is None else f" ({standing_name(status.goal_standing)})"
    parts = [f"{status_name(status.name)}. {_(REASONS[status.reason]).format(verified=goal, **status.numbers)}"]
    if status.persists is not None:
        category = in_a_sentence(category_name(status.persists))
        at_least = _("Over the time that the rule set asks for, every session was at least {category}.")
        parts.append(at_least.format(category=category))
    if len(status.rests_on) > 1:
        parts.append(_("It rests on the sessions {days}.").format(days=_days_ago(status.rests_on)))
    left = [
        f"{day} ({_(LEFT_OUT[why])})"
        for day, why in zip(_each_days_ago(status.left_out), status.left_out_why, strict=True)
    ]
    if left:
        told = plural("{count} session was left out: {days}.", "{count} sessions were left out: {days}.", len(left))
        parts.append(told.format(count=len(left), days=", ".join(left)))
    return " ".join(parts)


def _days_ago(days: tuple[float, ...]) -> str:
    return ", ".join(_each_days_ago(days))


def _each_days_ago(days: tuple[float, ...]) -> list[str]:
    return [
        _("of today") if day < 0.5 else plural("{day:.0f} day ago", "{day:.0f} days ago", round(day)).format(day=day)
        for day in days
    ]
