"""The status of the animal, as sentences; and every sentence about the animal."""

from __future__ import annotations

import pytest

from quietlimb.engine.interpretation.status import STATUS_REASONS
from quietlimb.words import status
from words.examples import a_status, sentences_about_the_animal


def test_every_sentence_is_whole():
    """A capital at the front, a full stop at the end, no placeholder left.

    Oracle: by construction.
    """
    told = sentences_about_the_animal()
    assert len(told) > 60
    for sentence in told:
        assert sentence[0].isupper(), sentence
        assert sentence.endswith("."), sentence
        assert "{" not in sentence


@pytest.mark.parametrize("reason", [reason for reason, numbers in STATUS_REASONS.items() if numbers])
def test_every_number_of_a_reason_shows(reason):
    """Another number, another sentence.

    Oracle: by construction.
    """
    told = a_status(reason)
    for name in STATUS_REASONS[reason]:
        other = a_status(reason, numbers={**told.numbers, name: 77.0})
        assert status.status_sentence(other) != status.status_sentence(told)


def test_a_status_names_the_sessions_that_it_rests_on_and_those_left_out():
    """Thirty days ago and today; one left out, several left out.

    Oracle: invented, the wording that we agreed on.
    """
    told = status.status_sentence(a_status("sessions-agree"))
    assert "the sessions 30 days ago, of today" in told
    assert "the sessions 1 day ago, of today" in status.status_sentence(a_status("sessions-agree", rests_on=(1.0, 0.0)))
    assert "1 session was left out: 5 days ago (sedated)." in told
    two = a_status("sessions-agree", left_out=(16.0, 0.0), left_out_why=("other method", "not consistent"))
    assert (
        "2 sessions were left out: 16 days ago (by another method), of today (readings not consistent)."
        in status.status_sentence(two)
    )
    assert "rests on" not in status.status_sentence(a_status("sessions-agree", rests_on=(0.0,)))


def test_what_persists_does_not_contradict_a_confirmed_status():
    """The lowest category of all sessions is told as the least that they reached.

    Oracle: by construction.
    """
    told = status.status_sentence(a_status("sessions-agree", name="confirmed", persists="prehypertensive"))
    assert "every session was at least prehypertensive" in told


def test_a_goal_is_told_with_how_far_it_was_verified():
    """Beside the goal, where there is one.

    Oracle: by construction.
    """
    told = a_status("at-target-once", numbers={"goal_mmhg": 160.0}, goal_standing="from memory")
    assert "under the goal of 160 mmHg (from memory) since" in status.status_sentence(told)
