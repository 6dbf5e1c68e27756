"""Cautions as sentences."""

from __future__ import annotations

import pytest

from quietlimb.engine.interpretation.cautions import CAUTION_CODES
from quietlimb.engine.interpretation.interpretation import Caution
from quietlimb.words.cautions import SENTENCES, sentence
from words.examples import a_caution


def test_every_code_has_a_sentence_and_no_sentence_lacks_a_code():
    """The tables of the engine and of the words name the same codes.

    Oracle: by construction.
    """
    assert set(SENTENCES) == set(CAUTION_CODES)


@pytest.mark.parametrize("code", CAUTION_CODES)
def test_every_caution_is_told_with_all_its_numbers(code):
    """A full sentence, no placeholder left, and every number shows.

    Oracle: by construction.
    """
    before = a_caution(code)
    told = sentence(before)
    assert told[0].isupper()
    assert told.endswith(".")
    assert "{" not in told
    for name in CAUTION_CODES[code]:
        assert sentence(Caution(code=code, numbers={**before.numbers, name: 77.0})) != told, name


@pytest.mark.parametrize(
    ("cm", "words"), [(12.0, "12 cm below the heart"), (-15.0, "15 cm above the heart"), (6.5, "6.5 cm below")]
)
def test_height_is_told_in_words_not_by_sign(cm, words):
    """Below the heart reads high, above reads low.

    Oracle: common practice, hydrostatics: a cuff below the heart bears the extra column of blood.
    """
    told = sentence(Caution(code="cuff-off-heart-level", numbers={"cm": cm, "mmhg": 0.776 * cm}))
    assert words in told
    assert f"by some {abs(0.776 * cm):.0f} mmHg" in told
    assert ("reads high" in told) is (cm > 0)
    assert ("reads low" in told) is (cm < 0)


def test_veterinarian_and_device_are_named():
    """The two sentences that stand under every result.

    Oracle: by construction, what the project promises.
    """
    assert "licensed veterinarian" in sentence(Caution(code="veterinarian-decides"))
    assert "not a certified medical device" in sentence(Caution(code="not-a-certified-device"))


@pytest.mark.parametrize(
    ("taken", "kept", "words"),
    [(1.0, 0.0, "1 taken, 0 left after the first is dropped"), (3.0, 3.0, "Usable readings: 3;")],
)
def test_few_readings_tell_how_many_were_taken(taken, kept, words):
    """One reading taken is not told as none; nothing is said of dropping where nothing was dropped.

    Oracle: by construction; the protocol of ACVIM 2018, from memory, drops the first reading.
    """
    assert words in sentence(Caution(code="few-readings", numbers={"taken": taken, "kept": kept, "needed": 5.0}))


def test_sources_stand_behind_the_sentence():
    """Each once, in one pair of brackets, with how far it was checked.

    Oracle: by construction.
    """
    caution = Caution(
        code="settled-under-an-hour",
        numbers={"minutes": 20.0, "hour_minutes": 60.0, "above_mmhg": 12.0},
        sources=(("Sastravaha2020", "published"), ("Sastravaha2020", "derived")),
    )
    assert sentence(caution).endswith(
        " on average. (Sastravaha 2020, checked against a copy; calculated by us from Sastravaha 2020)"
    )
