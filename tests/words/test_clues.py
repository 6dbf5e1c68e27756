"""Clues to a rise by the visit, as sentences."""

from __future__ import annotations

import pytest

from quietlimb.engine.interpretation.clues import CLUE_CODES
from quietlimb.words import clues
from words.examples import a_clue


@pytest.mark.parametrize("code", [code for code, numbers in CLUE_CODES.items() if numbers])
def test_every_number_of_a_clue_shows(code):
    """The pressure or the fall.

    Oracle: by construction.
    """
    assert "130" in clues.clue_sentence(a_clue(code))
