"""The months of an animal as text."""

from __future__ import annotations

import textwrap
from collections import Counter
from collections.abc import Sequence

from quietlimb.cli.layout import bullets, paragraphs, table, wrapped
from quietlimb.engine.circumstances import Circumstances
from quietlimb.engine.follow_up.change import Change
from quietlimb.engine.follow_up.comparability import BREAKING, Stretch
from quietlimb.engine.follow_up.follow import ODD_FROM, FittedStretch, FollowUp
from quietlimb.engine.follow_up.other_pressures import OtherPressure
from quietlimb.engine.follow_up.recheck import Recheck
from quietlimb.exchange.errors import one_line
from quietlimb.exchange.json_values import iso_date
from quietlimb.figures.invented import invented_words
from quietlimb.reports.phrases import interval, with_interval
from quietlimb.words import follow_up as words
from quietlimb.words.numerals import percent
from quietlimb.words.place import place_name

_REMARK_WIDTH = 22  # what the columns before it leave of 80


def follow_lines(name: str, found: FollowUp) -> list[str]:
    """The answer first, then sessions, changes, what another session could show, the recheck, cautions."""
    history = found.history
    invented = invented_words(Circumstances(species=history.species, animal=history.animal))
    urgent = [line for told in words.cautions(found, urgent=True) for line in wrapped(told)]
    return paragraphs(
        [one_line(name) + (f" ({invented})" if invented else ""), *answer_lines(found), *urgent],
        target_lines(found),
        session_lines(found),
        change_lines(found),
        other_pressure_lines(found),
        least_lines(found),
        recheck_lines(found),
        ["Cautions", *bullets(words.cautions(found, urgent=False))],
    )


def answer_lines(found: FollowUp) -> list[str]:
    """Underlying pressure with its interval, and on how many sessions it rests."""
    who = ", ".join(part for part in (found.history.animal, found.history.species) if part)
    if found.level is None or found.latest is None:
        return wrapped(f"{who}: no session awake up to {words.day_name(found.on_day)}.")
    n, offsets = len(found.latest.sessions), found.latest.stretch.offsets
    sessions = "1 session" if n == 1 else f"{n} comparable sessions"
    if differing := sum(bool(each) for each in offsets):
        sessions += f" ({differing} of them under other circumstances)"
    state = "treated" if found.treated else "not treated"
    place = found.latest.stretch.usual.get("place")
    where = f" {place_name(place)}" if place else ""
    return wrapped(
        f"{who}, {words.day_name(found.on_day)}: underlying systolic pressure{where} {with_interval(found.level)} "
        f"mmHg, by {sessions}, the latest of {words.day_name(found.latest.stretch.last_day)}; {state}."
    )


def target_lines(found: FollowUp) -> list[str]:
    """Where the underlying pressure lies against goals, or categories where it is not treated, and low limits."""
    if not found.targets:
        return []
    rows = [(words.target_name(target), percent(target.probability)) for target in found.targets]
    return [
        f"{words.targets_heading(found.treated)} ({found.rule_set})",
        *table(("", "probability"), rows, left=frozenset({""})),
    ]


def session_lines(found: FollowUp) -> list[str]:
    """Sessions and treatment events in the order of their days; one table for each group that can be compared."""
    stretches = [*found.earlier, *([] if found.latest is None else [found.latest])]
    lines = []
    for stretch in stretches:
        told = _measured(stretch.stretch)
        lines += wrapped("Sessions" + (f" ({told})" if told else ""), indent="")
        lines += _session_table(stretch, found)
        lines += [line for told in words.difference_sentences(stretch.stretch) for line in wrapped(told)]
    if found.comparison.left_out:
        days = ", ".join(
            f"{words.day_name(session.day)} ({session.circumstances.sedation})" for session in found.comparison.left_out
        )
        lines += wrapped(f"Left out: {days}.")
    return lines


def _measured(stretch: Stretch) -> str:
    return ", ".join(
        f"{words.circumstance_name(name)} {value}"
        for name, value in zip(BREAKING, stretch.measured_as_told, strict=True)
        if value is not None
    )


def _session_table(fitted: FittedStretch, found: FollowUp) -> list[str]:
    header = ("date", "charted", "own SD", "level then", "95 % interval", "")
    entries: list[tuple[int, int, tuple[str, ...]]] = []
    offsets = fitted.stretch.offsets
    for k, each in enumerate(fitted.sessions):
        session = each.session
        remarks = [words.difference(offset) for offset in offsets[k]]
        if each.odd >= ODD_FROM:
            remarks.append(f"odd ({percent(each.odd)})")
        row = (
            iso_date(session.day),
            f"{session.systolic_mmhg:.0f}",
            f"{session.own_sd_mmhg:.1f}",
            f"{each.level.value:.0f}",
            interval(each.level),
        )
        first, *more = textwrap.wrap("; ".join(remarks), _REMARK_WIDTH) or [""]
        entries.append((session.day, 0, (*row, first)))
        entries += [(session.day, 0, ("", "", "", "", "", line)) for line in more]
    for event in found.history.events:
        event_row = (iso_date(event.day), "", "", "", "", words.step_name(event.step))
        entries.append((event.day, 1, event_row))
    rows = [row for _, _, row in sorted(entries, key=lambda entry: entry[:2])]
    return table(header, rows, left=frozenset({""}))


def change_lines(found: FollowUp) -> list[str]:
    """What has changed, how surely, and how a high day bears on it."""
    changes: list[tuple[str, Change]] = []
    if found.since_last is not None:
        changes.append(("the session before", found.since_last))
    if found.since_first is not None:
        changes.append(("the first session", found.since_first))
    if found.between_days is not None:
        changes.append(("the day asked about", found.between_days))
    changes += [(words.step_name(since.event.step), since.change) for since in found.since_events]
    if not changes:
        return []
    by = changes[0][1].by_mmhg
    header = ("since", "date", "change", "95 % interval", f"fell > {by:g}", f"rose > {by:g}")
    rows = [
        (
            name,
            iso_date(change.from_day),
            _signed(change.change.value),
            f"{_signed(change.change.low)} to {_signed(change.change.high)}",
            percent(change.fell),
            percent(change.rose),
        )
        for name, change in changes
    ]
    before = [since.high_day for since in found.since_events if since.high_day is not None]
    high = [words.high_day_sentence(each) for each in before if each.high]
    untold = found.untold_step
    step = [] if untold is None else [f"{words.untold_step_sentence(untold)} ({percent(untold.probability)})."]
    return [
        "Change of the underlying pressure up to the latest session, mmHg",
        *table(header, rows, left=frozenset({"since"})),
        *wrapped(f"A change is called one from {percent(changes[0][1].certainty)} on:"),
        *bullets(f"since {name}{_until(change, found)}: {_verdict(change, found)}" for name, change in changes),
        *bullets(high),
        *bullets(step),
    ]


def _verdict(change: Change, found: FollowUp) -> str:
    """The verdict; no change is told with its condition where the latest session lies apart from the rest."""
    verdict = words.verdict(change)
    if change.verdict != "about the same" or "latest-unsettled" not in found.cautions or _until(change, found):
        return verdict
    return f"{verdict}, {words.unless_a_change_begins()}"


def _until(change: Change, found: FollowUp) -> str:
    """The day up to which, where that is not the latest session."""
    assert found.latest is not None
    until = int(change.to_day)
    return "" if until == found.latest.stretch.last_day else f", up to {words.day_name(until)}"


def _signed(mmhg: float) -> str:
    whole = round(mmhg)
    return f"{whole:+d}" if whole else "0"


def other_pressure_lines(found: FollowUp) -> list[str]:
    """Mean and diastolic pressure where sessions tell them."""
    if not found.others:
        return []
    rows = [
        (
            f"{other.pressure} ({other.sessions})",
            f"{other.level.value:.0f}",
            interval(other.level),
            *_latest_change(other),
        )
        for other in found.others
    ]
    header = ("(sessions)", "level", "95 % interval", "change", "its interval", "since")
    return [
        "Beside it, mmHg",
        *table(header, rows, left=frozenset({"(sessions)", "since"})),
        *wrapped(words.other_pressures_remark()),
    ]


def _latest_change(other: OtherPressure) -> tuple[str, str, str]:
    """The change since treatment last moved, or since the session before; blanks where there is neither."""
    if other.since_events:
        event, change = other.since_events[-1]
        since = words.step_name(event.step)
    elif other.since_last is not None:
        change, since = other.since_last, "the session before"
    else:
        return "", "", ""
    told = change.change
    return _signed(told.value), f"{_signed(told.low)} to {_signed(told.high)}", since


def least_lines(found: FollowUp) -> list[str]:
    """What a further session could show."""
    if found.least is None:
        return []
    least = found.least
    return [
        "What another session could show",
        *wrapped(
            f"From session to session this animal varies with a standard deviation of "
            f"{with_interval(least.between_sd)} mmHg. Two single sessions differ by up to {least.two_sessions:.0f} "
            f"mmHg (95 %) without any change, and by up to {least.one_way:.0f} mmHg where only a fall, or only a "
            f"rise, is asked about. If nothing changes, the next one lies between {least.next_low:.0f} and "
            f"{least.next_high:.0f} mmHg (95 %), odd sessions aside."
        ),
    ]


def recheck_lines(found: FollowUp) -> list[str]:
    """When to measure again, by which rule, and from when it tells something."""
    recheck = found.recheck
    if recheck is None:
        return ["Recheck", *wrapped("No rule sets a day; measure again as age and illness call for it.")]
    further = (
        words.stand_in_sentence(recheck, found.rule_set),
        words.worth_sentence(recheck),
        words.organs_sentence(recheck),
    )
    return [
        "Recheck",
        *wrapped(f"{words.recheck_sentence(recheck)} {words.recheck_source(recheck)}"),
        *(line for sentence in further if sentence is not None for line in wrapped(sentence)),
    ]


def due_lines(rechecks: Sequence[tuple[str, FollowUp, Recheck]], on_day: int) -> list[str]:
    """The recheck list of several histories, in the order given, then why each.

    A file is named beside its animal, in the table only where two have the same name.
    """
    animals = Counter(found.history.animal for _, found, _ in rechecks)
    rows = [
        (
            who(name, found) if animals[found.history.animal] > 1 else one_line(found.history.animal or name),
            words.state_name(recheck),
            iso_date(recheck.earliest_day),
            iso_date(recheck.latest_day),
        )
        for name, found, recheck in rechecks
    ]
    return [
        f"Rechecks, seen on {words.day_name(on_day)}",
        *table(("", "state", "from", "to"), rows, left=frozenset({"", "state"})),
        *bullets(
            f"{who(name, found)}: {words.rule_name(recheck.rule)} {words.recheck_source(recheck)}"
            for name, found, recheck in rechecks
        ),
    ]


def who(name: str, found: FollowUp) -> str:
    """`Moss (moss.csv)`; the file alone where it tells no name."""
    animal = found.history.animal
    return one_line(f"{animal} ({name})" if animal else name)
