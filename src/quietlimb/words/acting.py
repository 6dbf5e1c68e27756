"""Whether a pressure can be acted on, in a few words and up to three reasons."""

from __future__ import annotations

from collections.abc import Mapping

from quietlimb.engine.interpretation.acting import MOST_REASONS, Acting, Answer
from quietlimb.engine.interpretation.interpretation import Interpretation
from quietlimb.words.advice import Reader, sentence
from quietlimb.words.categories import heading
from quietlimb.words.language import _, mark

ANSWERS: Mapping[Answer, str] = {
    "yes": mark("Yes"),
    "repeat": mark("Repeat first"),
    "eyes first": mark("Eyes and organs first"),
}


def answer(acting: Acting) -> str:
    """`Yes`, `Yes, at once`, `Repeat first`, `Eyes and organs first`."""
    return _("Yes, at once") if acting.at_once else _(ANSWERS[acting.answer])


def reasons(acting: Acting, interpretation: Interpretation, *, to: Reader = "anyone") -> list[str]:
    """Up to three sentences; an open category is the first of the reasons to repeat."""
    told = [f"{heading(interpretation)}."] if acting.open and acting.answer == "repeat" else []
    return [*told, *(sentence(advice, to=to) for advice in acting.reasons)][:MOST_REASONS]
