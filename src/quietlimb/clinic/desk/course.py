"""What the animal's page says of the months, in words."""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import date
from functools import lru_cache

from django.utils.formats import date_format
from django.utils.translation import gettext as _

from quietlimb.clinic.animals.models import Animal, Event, Recheck
from quietlimb.clinic.desk.months import history_of
from quietlimb.clinic.sessions.forms import recalled_line
from quietlimb.clinic.sessions.models import Series
from quietlimb.engine.follow_up.change import Change
from quietlimb.engine.follow_up.follow import FollowUp, follow
from quietlimb.engine.follow_up.history import History
from quietlimb.engine.follow_up.path import level_path
from quietlimb.figures.export import svg
from quietlimb.figures.history import history_figure
from quietlimb.figures.look import Theme
from quietlimb.reports.phrases import interval, with_interval
from quietlimb.words import follow_up as words
from quietlimb.words.advice import Reader
from quietlimb.words.numerals import percent

REMEMBERED = 128
WORKED_FROM = 3  # readings that count [invented]


@dataclass(frozen=True, slots=True, kw_only=True)
class Course:
    """The sentences, in the order of the page; empty where there is nothing to say.

    changed  : the one change that matters most, since treatment was begun, and its figures; without treatment since
               the first session, or the one before
    expected : how far the session before that treatment stood above the level, which treatment did not bring about
    changes  : the other ones
    """

    level: str
    urgent: tuple[str, ...]
    changed: tuple[str, str]
    expected: str
    changes: tuple[tuple[str, str], ...]
    goals_heading: str
    goals: tuple[tuple[str, str], ...]
    worth: str
    cautions: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Asked:
    """A history, the day to judge from and the rule set; the same question has the same fingerprint.

    missed : days on which a tablet was missed, for the picture alone
    """

    fingerprint: str
    on_day: int
    missed: tuple[int, ...] = ()
    history: History = field(compare=False, repr=False)
    rules: str


def asked_of(animal: Animal, on: date) -> Asked | None:
    """What is asked of an animal, by its practice's rule set; None before its first pressure."""
    history, rules = history_of(animal), animal.practice.rules
    if not history.sessions:
        return None
    missed = animal.events.filter(kind=Event.Kind.MISSED).values_list("on", flat=True)
    return Asked(
        fingerprint=history.fingerprint_with({}),
        on_day=on.toordinal(),
        missed=tuple(day.toordinal() for day in missed),
        history=history,
        rules=rules,
    )


@lru_cache(maxsize=REMEMBERED)
def followed(asked: Asked) -> FollowUp:
    """The engine's answer; worked out once as long as it is remembered, for page and pictures ask the same."""
    return follow(asked.history, on_day=asked.on_day, rules=asked.rules)


def course_of(found: FollowUp, *, to: Reader = "anyone") -> Course:
    """The sentences of a follow-up, told to whoever reads them."""
    changes = [(_("Since the session before"), found.since_last), (_("Since the first session"), found.since_first)]
    changes += [
        (
            _("Since {day} ({step})").format(
                day=words.day_name(since.event.day), step=words.step_name(since.event.step)
            ),
            since.change,
        )
        for since in found.since_events
    ]
    told = [
        (
            f"{name}: {_verdict(change, found)}.",
            _("{value:+.0f} mmHg ({interval})").format(
                value=round(change.change.value) + 0.0, interval=interval(change.change)
            ),
        )
        for name, change in changes[::-1]
        if change is not None
    ]
    if found.untold_step is not None:
        share = percent(found.untold_step.probability)
        told.append((f"{words.untold_step_sentence(found.untold_step)}.", share))
    begun = [since for since in found.since_events if since.event.step == "begun"]
    main = next(iter([*begun[-1:], *found.since_events[-1:]]), None)
    at = 0 if main is None else found.since_events[::-1].index(main)
    stood = None if main is None else main.high_day
    level = ""
    if found.level is not None:
        level = _("Underlying systolic pressure {level} mmHg.").format(level=with_interval(found.level))
    recheck = found.recheck
    return Course(
        level=level,
        urgent=tuple(words.cautions(found, urgent=True, to=to)),
        changed=told[at] if told else ("", ""),
        expected="" if stood is None or stood.above_mmhg < 1.0 else words.high_day_sentence(stood),
        changes=tuple(line for k, line in enumerate(told) if k != at),
        goals_heading=words.targets_heading(found.treated),
        goals=tuple((words.target_name(target), percent(target.probability)) for target in found.targets),
        worth="" if recheck is None else words.worth_sentence(recheck) or "",
        cautions=(
            *(
                words.high_day_sentence(since.high_day)
                for since in found.since_events
                if since is not main and since.high_day and since.high_day.high
            ),
            *(() if found.latest is None else words.difference_sentences(found.latest.stretch)),
            *words.cautions(found, urgent=False, to=to),
        ),
    )


def state_words(row: Recheck, on: date) -> str:
    """`not due yet`, `due`, `overdue since 3 March 2031`."""
    state = row.state_on(on)
    if state == "overdue":
        return _("overdue since {day}").format(day=date_format(row.due_by, "j F Y"))
    return words.due_name(state)


def _verdict(change: Change, found: FollowUp) -> str:
    """The verdict; no change is told with its condition where the latest session lies apart from the rest."""
    verdict = words.verdict(change)
    if change.verdict != "about the same" or "latest-unsettled" not in found.cautions:
        return verdict
    return f"{verdict}, {words.unless_a_change_begins()}"


@lru_cache(maxsize=REMEMBERED)
def months_picture(asked: Asked, *, width: int, theme: Theme) -> str:
    """Sessions with whiskers over the months as SVG."""
    found = followed(asked)
    path = None if found.latest is None else level_path(found.latest.course, found.on_day)
    return svg(history_figure(found, path, width=width, theme=theme, missed=asked.missed))


def worked_at_the_table(animal: Animal) -> str:
    """The circumstances of the latest series with at least three readings that count; empty where there is none."""
    every = Series.objects.filter(session__animal=animal).select_related("session", "instrument", "cuff")
    for series in every.prefetch_related("readings").order_by("-session__started_at", "-ordinal")[:10]:
        if sum(row.counts for row in series.readings.all()) >= WORKED_FROM:
            return recalled_line(series)
    return ""
