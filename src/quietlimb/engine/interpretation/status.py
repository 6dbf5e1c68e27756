"""Where the animal stands over its sessions, by the persistence rules of a rule set.

Sessions that were sedated, anaesthetised, not consistent or gave no pressure stay out, and so do those by another
method or at another site than the last. Of the untreated ones:

    confirmed        a line of the rule set is reached: by one session with the organ damage that it asks for, otherwise
                     by as many sessions running as it asks for, on separate days and at least as far apart as the
                     earliest day of the window for the lowest of them
    situational      high away from home and normal at home every time, no damage, every organ examined
    suspected        the last session is high (from the third category on, or over a line) and not confirmed; or one
                     lower session stands alone behind high ones
    not established  otherwise, also after two lower sessions running

A confirmed animal stays so until two sessions running are lower. Under treatment the last session decides: at target
when it and one before it since the last change of treatment are under the minimum goal, `target not proven` with one,
off target when it is above that goal or too low.

That sessions close together do not confirm, that two lower ones undo, and that two are asked for at the target are our
reading of rules that print windows and counts (from memory); the last follows from the least believable change.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from quietlimb.engine.interpretation.background import EarlierSession
from quietlimb.engine.interpretation.interpretation import AnimalStatus, LeftOut, Organ
from quietlimb.engine.interpretation.organs import damaged, organ_damage
from quietlimb.engine.interpretation.treatment_lines import LineMet, line_met
from quietlimb.engine.standards.low_pressure import SYSTOLIC_BELOW
from quietlimb.engine.standards.rule_set import RuleSet, TreatmentLine, Window
from quietlimb.engine.values import Cited

HIGH_LEVEL = 2
HIGHEST = 3
# Evening and next morning are two days; morning and afternoon are not.
ANOTHER_DAY = Cited(0.5, "day", "Quietlimb", "when two sessions count as on separate days", "invented")
LOWER_SESSIONS_THAT_UNDO = 2
SESSIONS_AT_TARGET = 2
SESSIONS_TO_PERSIST = 2
# Reasons of a status that a last session of normal pressure does not undo: those before it were high.
LOWER_THAN_BEFORE = frozenset({"one-lower-session", "still-confirmed", "confirmed-before-treatment"})

# reason -> the numbers that it carries
STATUS_REASONS: dict[str, tuple[str, ...]] = {
    "no-session": (),
    "confirmed-before-treatment": ("sessions",),
    "never-high": ("sessions",),
    "back-below": ("sessions",),
    "one-lower-session": (),
    "needs-more-sessions": ("have", "need"),
    "sessions-close-together": ("days", "need_days"),
    "high-outside-every-line": (),
    "one-session-with-damage": (),
    "sessions-agree": ("sessions", "days"),
    "still-confirmed": (),
    "normal-at-home": ("home_mmhg", "away_mmhg"),
    "at-target-twice": ("sessions", "goal_mmhg"),
    "at-target-once": ("goal_mmhg",),
    "above-target": ("goal_mmhg",),
    "too-low": ("below_mmhg",),
}


def animal_status(sessions: Sequence[EarlierSession], *, rules: RuleSet) -> AnimalStatus | None:
    """The status by all sessions, today's (0 days ago) included; their order does not matter.

    None for a rule set that is kept for old charts only.
    """
    if rules.old:
        return None
    in_order = sorted(sessions, key=lambda session: -session.days_ago)
    counted = [session for session in in_order if session.counts]
    used = [session for session in counted if _comparable(session, counted[-1])]
    unused = [session for session in in_order if session not in used]
    left_out = _days(unused)
    why = tuple(_why_left_out(session, counted[-1] if counted else session) for session in unused)
    if not used:
        return AnimalStatus(name="not established", reason="no-session", left_out=left_out, left_out_why=why)
    found = _treated(used, rules) if used[-1].treated else _untreated(used, rules)
    goal = rules.goals.minimum_below
    standing = goal.standing if goal is not None and "goal_mmhg" in found.numbers else found.goal_standing
    persists = persistent_category(_run_of_untreated(used), rules)
    return replace(found, left_out=left_out, left_out_why=why, goal_standing=standing, persists=persists)


def _comparable(session: EarlierSession, last: EarlierSession) -> bool:
    """Whether a session was not told to be by another method or at another site than the last: those never agree."""
    return not (_differ(session.method, last.method) or _differ(session.site, last.site))


def _differ(one: str | None, other: str | None) -> bool:
    return None not in (one, other) and one != other


def _why_left_out(session: EarlierSession, last: EarlierSession) -> LeftOut:
    """Why a session is not used; where several reasons hold, the one that no further measuring would mend."""
    if session.sedation in ("sedated", "anaesthetised"):
        return session.sedation
    if session.systolic_mmhg is None:
        return "no pressure"
    if not session.consistent:
        return "not consistent"
    return "other method" if _differ(session.method, last.method) else "other site"


def too_low_under_treatment(systolic_mmhg: float, *, weak: bool, rules: RuleSet) -> Cited | None:
    """The guard that a treated animal has fallen under; None where it has not. [mmHg]

    A pressure that is low in any animal awake is too low under treatment as well, whatever the rule set prints.
    """
    with_signs = rules.goals.too_low_with_signs_below if weak else None
    guards = (rules.goals.too_low_below, with_signs, SYSTOLIC_BELOW)
    return next((guard for guard in guards if guard is not None and systolic_mmhg < guard.value), None)


def _treated(used: list[EarlierSession], rules: RuleSet) -> AnimalStatus:
    since = _since_last_change(used)
    separate = _on_separate_days(since, rules)
    last = min((each for each in since if each.days_ago - since[-1].days_ago < ANOTHER_DAY.value), key=_value)
    low = too_low_under_treatment(_value(last), weak=last.weak, rules=rules)
    if low is not None:
        return AnimalStatus(
            name="treated, off target",
            reason="too-low",
            numbers={"below_mmhg": low.value},
            rests_on=(last.days_ago,),
            goal_standing=low.standing,
            too_low=True,
        )
    goal = rules.goals.minimum_below
    assert goal is not None, f"{rules.name} has no goal"
    at_goal = next((k for k, each in enumerate(reversed(separate)) if _value(each) >= goal.value), len(separate))
    if at_goal == 0:
        return AnimalStatus(
            name="treated, off target",
            reason="above-target",
            numbers={"goal_mmhg": goal.value},
            rests_on=(separate[-1].days_ago,),
        )
    if at_goal < SESSIONS_AT_TARGET:
        return AnimalStatus(
            name="treated, target not proven",
            reason="at-target-once",
            numbers={"goal_mmhg": goal.value},
            rests_on=(separate[-1].days_ago,),
        )
    return AnimalStatus(
        name="treated, at target",
        reason="at-target-twice",
        numbers={"sessions": float(at_goal), "goal_mmhg": goal.value},
        rests_on=_days(separate[-at_goal:]),
    )


def _since_last_change(used: list[EarlierSession]) -> list[EarlierSession]:
    """The treated sessions at the end, from the one that first saw the present treatment."""
    start = len(used) - 1
    while start > 0 and used[start - 1].treated and not _is_first_since_a_change(used[start], used[start - 1]):
        start -= 1
    return used[start:]


def _is_first_since_a_change(session: EarlierSession, before: EarlierSession) -> bool:
    """Whether treatment moved between two sessions; of two on one day it moved before both, where both say so."""
    same_day = before.days_ago - session.days_ago < ANOTHER_DAY.value
    return session.treatment_moved and not (before.treatment_moved and same_day)


def _untreated(used: list[EarlierSession], rules: RuleSet) -> AnimalStatus:
    found, before = AnimalStatus(name="not established", reason="no-session"), False
    for k in range(len(used)):
        if used[k].treated:
            before = before or found.name == "confirmed"
            found = AnimalStatus(name="not established", reason="no-session")
        else:
            found = _step(found, _run_of_untreated(used[: k + 1]), rules)
    run = _run_of_untreated(used)
    if (situational := _situational(run, rules)) is not None:
        return situational
    if not before or found.name == "confirmed":
        return found
    separate, organs = _on_separate_days(run, rules), _damaged_in(run)
    if not _undone([_is_high(session, organs, rules) for session in separate]):
        numbers = {"sessions": float(len(separate))}
        return AnimalStatus(
            name="suspected", reason="confirmed-before-treatment", numbers=numbers, rests_on=_days(separate)
        )
    return found


def _run_of_untreated(used: list[EarlierSession]) -> list[EarlierSession]:
    """The untreated sessions at the end; a treatment in between opens a new chapter."""
    start = len(used)
    while start > 0 and not used[start - 1].treated:
        start -= 1
    return used[start:]


def _step(before: AnimalStatus, run: list[EarlierSession], rules: RuleSet) -> AnimalStatus:
    """The status after the last session of a run, from that after the one before."""
    separate = _on_separate_days(run, rules)
    found = line_met_by(run, rules)
    if found.says == "reached":
        assert found.line is not None
        if found.line.sessions.value <= 1:
            return AnimalStatus(name="confirmed", reason="one-session-with-damage", rests_on=(run[-1].days_ago,))
        rests = separate[-found.count :]
        return AnimalStatus(
            name="confirmed",
            reason="sessions-agree",
            numbers={"sessions": float(found.count), "days": rests[0].days_ago - rests[-1].days_ago},
            rests_on=_days(rests),
        )
    organs = _damaged_in(run)
    high = [_is_high(session, organs, rules) for session in separate]
    if before.name == "confirmed" and not _undone(high):
        return AnimalStatus(name="confirmed", reason="still-confirmed", rests_on=before.rests_on)
    if high[-1]:
        return _suspected(found, separate, rules)
    if not any(high):
        return AnimalStatus(
            name="not established",
            reason="never-high",
            numbers={"sessions": float(len(separate))},
            rests_on=_days(separate),
        )
    lower = next(k for k, is_high in enumerate(reversed(high)) if is_high)
    if lower < LOWER_SESSIONS_THAT_UNDO:
        return AnimalStatus(name="suspected", reason="one-lower-session", rests_on=_days(separate[-lower - 1 :]))
    return AnimalStatus(
        name="not established",
        reason="back-below",
        numbers={"sessions": float(lower)},
        rests_on=_days(separate[-lower:]),
    )


def _suspected(found: LineMet, separate: list[EarlierSession], rules: RuleSet) -> AnimalStatus:
    if found.line is None or found.count == 0:
        return AnimalStatus(name="suspected", reason="high-outside-every-line", rests_on=(separate[-1].days_ago,))
    rests = separate[-found.count :]
    if found.count < found.line.sessions.value:
        numbers = {"have": float(found.count), "need": found.line.sessions.value}
        return AnimalStatus(name="suspected", reason="needs-more-sessions", numbers=numbers, rests_on=_days(rests))
    numbers = {"days": rests[0].days_ago - rests[-1].days_ago, "need_days": days_to_persist(rests, rules) or 0.0}
    return AnimalStatus(name="suspected", reason="sessions-close-together", numbers=numbers, rests_on=_days(rests))


def line_met_by(run: list[EarlierSession], rules: RuleSet) -> LineMet:
    """How the lines of the rule set stand to a run of untreated sessions, persistence included.

    Damage seen at any session of the run counts. Persistent is the run where any number of its last sessions, as many
    as the line asks for or more, lies far enough apart for the lowest of them.
    """
    separate = _on_separate_days(run, rules)
    values = [_value(session) for session in separate]
    organs = _damaged_in(run)
    near = line_met(rules.treatment, values, organs, persistent=True)
    if near.says != "reached" or near.line is None or near.line.sessions.value <= 1:
        return near
    count = _persisting(separate[-near.count :], int(near.line.sessions.value), rules)
    if count is not None:
        return LineMet(says="reached", line=near.line, count=count)
    return line_met(rules.treatment, values, organs, persistent=False)


def persistent_category(run: list[EarlierSession], rules: RuleSet) -> str | None:
    """The highest category above the lowest that the last sessions of an untreated run have all reached for as long as
    the rule set asks; None where there is none."""
    separate = _on_separate_days(run, rules)
    for level in range(len(rules.categories) - 1, 0, -1):
        count = next(
            (k for k, each in enumerate(reversed(separate)) if rules.level(_value(each)) < level), len(separate)
        )
        if _persisting(separate[len(separate) - count :], SESSIONS_TO_PERSIST, rules) is not None:
            return rules.categories[level]
    return None


def _persisting(sessions: list[EarlierSession], at_least: int, rules: RuleSet) -> int | None:
    """The fewest of the last sessions that lie as far apart as the lowest of them asks; None if none do."""
    for count in range(at_least, len(sessions) + 1):
        last = sessions[-count:]
        needed = days_to_persist(last, rules)
        if needed is None or last[0].days_ago - last[-1].days_ago >= needed:
            return count
    return None


def latest_run(sessions: Sequence[EarlierSession]) -> list[EarlierSession]:
    """The untreated sessions at the end that may be used, the oldest first."""
    used = sorted((session for session in sessions if session.counts), key=lambda session: -session.days_ago)
    return _run_of_untreated(used)


def treatment_met(sessions: Sequence[EarlierSession], *, rules: RuleSet) -> LineMet:
    """How the lines of a rule set stand to the latest untreated sessions."""
    run = latest_run(sessions)
    return line_met_by(run, rules) if run else LineMet(says="not reached", line=None, count=0)


def lines_met_without_window(lines: Sequence[TreatmentLine], run: list[EarlierSession], rules: RuleSet) -> LineMet:
    """The same of lines that no rule set gives a window for: sessions on separate days are enough."""
    values = [_value(session) for session in _on_separate_days(run, rules)]
    return line_met(lines, values, _damaged_in(run))


def days_to_persist(sessions: list[EarlierSession], rules: RuleSet) -> float | None:
    """How far the first and the last of some sessions must lie apart: the earliest day of the window for the lowest of
    them; None where the rule set names none. [day]"""
    window = rules.repeat[min(rules.level(_value(session)) for session in sessions)]
    return None if window is None else window.earliest.value


def counts_from_the_first(status: AnimalStatus, window: Window) -> bool:
    """Whether sessions agree but lie too close together, and a window is the one that they have to span: then it counts
    from the first of them, `days` before the last."""
    return status.reason == "sessions-close-together" and status.numbers["need_days"] == window.earliest.value


def _situational(run: list[EarlierSession], rules: RuleSet) -> AnimalStatus | None:
    """High away and normal at home every time. Needs a full search of the organs without damage: at 180 mmHg and over
    nothing is put down to the visit before the eyes have been looked at."""
    home = [session for session in run if session.place == "home"]
    away = [session for session in run if session.place != "home" and rules.level(_value(session)) >= HIGH_LEVEL]
    if not home or not away or any(rules.level(_value(session)) > 0 for session in home):
        return None
    searched = any(organ_damage(session.checks) == "absent" for session in run)
    if _damaged_in(run) or not searched:
        return None
    numbers = {
        "home_mmhg": max(_value(session) for session in home),
        "away_mmhg": max(_value(session) for session in away),
    }
    rests = [session for session in run if session in home or session in away]
    return AnimalStatus(name="situational", reason="normal-at-home", numbers=numbers, rests_on=_days(rests))


def _is_high(session: EarlierSession, organs: frozenset[Organ], rules: RuleSet) -> bool:
    lines = line_met(rules.treatment, [_value(session)], organs, persistent=False)
    return rules.level(_value(session)) >= HIGH_LEVEL or lines.says != "not reached"


def _undone(high: list[bool]) -> bool:
    return len(high) >= LOWER_SESSIONS_THAT_UNDO and not any(high[-LOWER_SESSIONS_THAT_UNDO:])


def _damaged_in(run: list[EarlierSession]) -> frozenset[Organ]:
    return frozenset().union(*(damaged(session.checks) for session in run))


def _on_separate_days(run: list[EarlierSession], rules: RuleSet) -> list[EarlierSession]:
    """Of sessions too close together to count as two the highest stays, whichever came later: a night between them, or
    the hours that the rule set allows."""
    apart = ANOTHER_DAY.value if rules.hours_apart is None else rules.hours_apart.value / 24.0
    kept: list[EarlierSession] = []
    last = 0.0  # of those that are too close together, when the last of them was [days ago]
    for session in reversed(run):
        # a minute's grace, so that 2 h told as a part of a day count as 2 h
        if not kept or session.days_ago - last >= apart - 1.0 / 1440.0:
            kept.append(session)
            last = session.days_ago
        elif _value(session) > _value(kept[-1]):
            kept[-1] = session
    return kept[::-1]


def _value(session: EarlierSession) -> float:
    assert session.systolic_mmhg is not None, "sessions without a pressure were left out"
    return session.systolic_mmhg


def _days(sessions: Sequence[EarlierSession]) -> tuple[float, ...]:
    return tuple(session.days_ago for session in sessions)
