"""Sentences of what went wrong on the way."""

from __future__ import annotations

from typing import get_args

import pytest

from quietlimb.exchange.blood_pressure_service import Question, Seen, Sign
from quietlimb.exchange.line_decoder import Trouble
from quietlimb.words.troubles import (
    QUESTIONS,
    SEEN,
    SIGNS,
    TROUBLES,
    question_sentence,
    sign_sentence,
    trouble_sentence,
)


def test_everything_has_its_words() -> None:
    """Each trouble, sign, state and question has a sentence, and there is no sentence for anything else.

    Oracle: by construction, the lists of the code.
    """
    assert set(TROUBLES) == set(get_args(Trouble))
    assert set(SIGNS) == set(get_args(Sign))
    assert set(SEEN) == set(get_args(Seen))
    assert set(QUESTIONS) == set(get_args(Question))


@pytest.mark.parametrize("kind", TROUBLES)
def test_one_and_many(kind: str) -> None:
    """A count stands in the plural, none in the singular, and each is a sentence.

    Oracle: by construction.
    """
    one, many = trouble_sentence(kind, 1), trouble_sentence(kind, 17)
    assert "17" in many
    assert "{" not in one + many
    assert one.endswith((".", "?"))


def test_not_detected_is_not_the_same_as_not_able_to() -> None:
    """The two are different words.

    Oracle: by construction.
    """
    told = {sign_sentence("movement", seen) for seen in SEEN}
    assert len(told) == len(SEEN)
    assert sign_sentence("movement", "not able to detect") == "movement: this instrument is not able to detect it"
    assert question_sentence("pressure-impossible").endswith("?")
