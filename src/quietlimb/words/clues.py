"""Clues for and against a rise by the visit, as sentences."""

from __future__ import annotations

from collections.abc import Mapping

from quietlimb.engine.interpretation.interpretation import Clue
from quietlimb.words.language import _, in_a_sentence, mark

SENTENCES: Mapping[str, str] = {
    "nothing-found-to-explain": mark(
        "All organs examined and sound, no illness and no drug in the record that would explain the pressure"
    ),
    "fell-through-session": mark("The pressure fell by {fall_mmhg:.0f} mmHg through the session"),
    "still-falling": mark("The pressure fell through the session"),
    "lower-at-home": mark("Lower at home: {home_mmhg:.0f} mmHg at most"),
    "excited": mark("The animal was excited, panting, crying or struggling"),
    "first-visit": mark("A first visit"),
    "lower-at-later-visits": mark("Lower than at the first visit, {first_mmhg:.0f} mmHg then"),
    "young-and-healthy": mark("A young and healthy animal"),
    "calm-and-level": mark("A calm animal with level readings"),
    "organ-damage": mark("Organ damage: the pressure is taken for true until shown otherwise"),
}

_WEIGHTS: Mapping[tuple[str, str], str] = {
    ("for", "strong"): mark("Speaks strongly for the visit"),
    ("for", "moderate"): mark("Speaks for the visit"),
    ("against", "strong"): mark("Speaks strongly against the visit"),
    ("against", "moderate"): mark("Speaks against the visit"),
}


def clue_sentence(clue: Clue) -> str:
    """Which way a clue speaks, and the clue."""
    weight = _(_WEIGHTS[clue.direction, clue.strength])
    return f"{weight}: {in_a_sentence(_(SENTENCES[clue.code]).format(**clue.numbers))}."
