"""Whether a session's pressure can be acted on, by the advice that it brings: yes, repeat first, or eyes first."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Literal

from quietlimb.engine.interpretation.interpretation import Advice, Interpretation

Answer = Literal["yes", "repeat", "eyes first"]
MOST_REASONS = 3
OPEN_BELOW = 0.5  # a category not more probable than all others together is not settled [invented]

# What cannot wait for anything: it is acted on, whatever else is advised.
AT_ONCE = frozenset({"emergency-of-eyes-or-brain", "look-at-the-animal-and-call"})
LOOK_FIRST = frozenset({"eye-examination-urgent", "organ-check-first", "organs-still-unknown"})
MEASURE_FIRST = frozenset(
    {
        "confirm-low-pressure",
        "confirm-low-mean-pressure",
        "measure-again",
        "wait-until-level",
        "settle-while-rising",
        "take-more-readings",
        "start-again",
        "two-values-two-categories",
        "sedated-outside-the-flow",
        "repeat-session",
        "repeat-session-undated",
        "repeat-session-from-first",
        "repeat-session-at-home",
        "repeat-session-at-home-undated",
        "repeat-session-watch-closely",
        "repeat-session-watch-closely-undated",
        "treatment-if-persistent",
        "no-treatment-on-this-alone",
        "lower-than-established",
        "earlier-session-high",
        "normal-since-treatment-stopped",
        "situational-likely",
        "situational-at-home-normal",
        "goal-to-be-proven",
    }
)
ACT = frozenset(
    {
        "measure-by-risk",
        "screen-at-risk",
        "screen-with-illness",
        "screen-older-cat",
        "screen-adult-cat",
        "no-routine-screening",
        "look-for-another-cause",
        "recheck-soon",
        "recheck",
        "recheck-severe",
        "recheck-eyes-or-brain",
        "recheck-after-decision",
        "recheck-after-emergency",
        "repeat-until-treated",
        "repeat-until-treated-undated",
        "watch-high-at-visits",
        "treatment-on-judgement",
        "established-by-one-session",
        "persistent-over-sessions",
        "established-before",
        "treatment-now",
        "treatment-today",
        "emergency-pace",
        "category-of-an-old-scheme",
        "not-dismissed-as-situational",
        "situational-not-assumed",
        "at-ideal-goal",
        "at-minimum-goal",
        "at-goal",
        "check-at-each-visit",
        "above-goal",
        "too-low-under-treatment",
        "creatinine-after-a-change",
        "measure-until-stable",
        "measure-in-hospital",
    }
)
# Every code of the advice by the answer that it speaks for.
SPEAKS_FOR: Mapping[str, Answer] = {
    **dict.fromkeys(AT_ONCE | ACT, "yes"),
    **dict.fromkeys(MEASURE_FIRST, "repeat"),
    **dict.fromkeys(LOOK_FIRST, "eyes first"),
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Acting:
    """Whether the pressure can be acted on.

    answer  : `eyes first` where organs that decide are not known; `repeat` where the measuring is not enough yet
    at_once : it cannot wait
    open    : the category of the value is open, a reason to repeat by itself
    reasons : the advice that speaks for the answer, up to three
    """

    answer: Answer
    at_once: bool
    open: bool
    reasons: tuple[Advice, ...]


def category_is_open(interpretation: Interpretation) -> bool:
    """Whether the category of the value is not the most probable one today, or does not reach 50 %."""
    if not interpretation.today or interpretation.category is None:
        return False
    likeliest = max(each.probability for each in interpretation.today)
    own = next(each for each in interpretation.today if each.name == interpretation.category)
    return own.probability < max(OPEN_BELOW, likeliest)


def can_act(interpretation: Interpretation) -> Acting:
    """The answer: what cannot wait goes before eyes, those before a repetition.

    An order of our own, as good practice has it: invented; the advice itself has its sources.
    """
    spoken = {SPEAKS_FOR[advice.code] for advice in interpretation.next}
    at_once = tuple(advice for advice in interpretation.next if advice.code in AT_ONCE)
    is_open = category_is_open(interpretation)
    answer: Answer = "yes"
    if not at_once:
        if "eyes first" in spoken:
            answer = "eyes first"
        elif "repeat" in spoken or is_open:
            answer = "repeat"
    reasons = at_once or tuple(advice for advice in interpretation.next if SPEAKS_FOR[advice.code] == answer)
    return Acting(answer=answer, at_once=bool(at_once), open=is_open, reasons=reasons[:MOST_REASONS])
