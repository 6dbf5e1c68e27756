"""Remarks about breeds, as sentences."""

from __future__ import annotations

from quietlimb.engine.standards.breeds import breed_remark
from quietlimb.words.breeds import breed_sentence, no_figure_sentence


def test_a_greyhound_is_told_with_all_that_is_known_and_no_excuse():
    """Sighthounds from memory, the mean from Egner 2007, the kidneys from Surman 2012; the category stays.

    Oracle: published and from memory, as marked in the remark.
    """
    remark = breed_remark("dog", "Greyhound")
    told = breed_sentence(remark)
    for words in (
        "10 to 20 mmHg above other dogs (ACVIM 2018, from memory",
        "149 mmHg systolic, standard deviation 20, and 87 diastolic (Egner 2007",
        "132 mmHg at home and at 165 mmHg in hospital (Marino 2011",
        "the breed excuses nothing (Surman 2012",
        "the category is not changed",
    ):
        assert words in told


def test_a_breed_without_a_figure_is_named_as_such():
    """The breed as told, on one line, and that the category stays.

    Oracle: by construction.
    """
    told = no_figure_sentence("Maine\n Coon")
    assert told == "No figure for the breed Maine Coon is at hand here; the category is that of every breed."
