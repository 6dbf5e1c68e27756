"""What is known of the target organs."""

from __future__ import annotations

import pytest

from quietlimb.engine.errors import ParameterError
from quietlimb.engine.interpretation.organs import damaged, organ_checks, organ_damage, unknown_organs

ABSENT = {"eyes": "absent", "brain": "absent", "heart": "absent", "kidneys": "absent"}


@pytest.mark.parametrize(
    ("told", "damage"),
    [
        (None, "not examined"),
        ({}, "not examined"),
        (ABSENT, "absent"),
        ({**ABSENT, "heart": "not examined"}, "not examined"),
        ({**ABSENT, "eyes": "unclear"}, "not examined"),
        ({"eyes": "absent", "brain": "absent", "heart": "absent"}, "not examined"),
        ({**ABSENT, "kidneys": "present"}, "present"),
        ({"eyes": "present"}, "present"),
        ({"eyes": "present", "brain": "unclear"}, "present"),
        ({**ABSENT, "kidneys": "known disease"}, "absent"),
        ({"kidneys": "known disease"}, "not examined"),
        ({**ABSENT, "kidneys": "known disease", "eyes": "present"}, "present"),
    ],
)
def test_damage_is_absent_only_when_all_four_are(told, damage):
    """One damaged organ decides; an organ not examined or unclear never counts as absent.

    Oracle: common practice, "not examined must never count as absent".
    """
    assert organ_damage(organ_checks(told)) == damage


def test_every_organ_is_listed_in_a_fixed_order():
    """Eyes, brain, heart, kidneys, whatever was told and in whatever order.

    Oracle: by construction.
    """
    checks = organ_checks({"kidneys": "absent", "eyes": "unclear"})
    assert [(check.organ, check.state) for check in checks] == [
        ("eyes", "unclear"),
        ("brain", "not examined"),
        ("heart", "not examined"),
        ("kidneys", "absent"),
    ]
    assert unknown_organs(checks) == ("eyes", "brain", "heart")


@pytest.mark.parametrize(
    ("told", "code"),
    [
        ({"liver": "absent"}, "unknown-organ"),
        ({"eyes": "fine"}, "unknown-organ-state"),
        ({"left eye": "fine"}, "unknown-organ-state"),
        ({"heart": "known disease"}, "known-disease-of-another-organ"),
        ({"right eye": "known disease"}, "known-disease-of-another-organ"),
        ({"eyes": "absent", "left eye": "absent"}, "eyes-told-twice"),
    ],
)
def test_unknown_words_are_refused(told, code):
    """An organ or a state that does not exist is an error that lists those that do.

    Oracle: by construction.
    """
    with pytest.raises(ParameterError) as caught:
        organ_checks(told)
    assert caught.value.code == code


@pytest.mark.parametrize(
    ("left", "right", "together"),
    [
        ("absent", "absent", "absent"),
        ("present", "absent", "present"),
        ("not examined", "present", "present"),
        ("absent", "unclear", "unclear"),
        ("unclear", "not examined", "unclear"),
        ("absent", "not examined", "not examined"),
        ("absent", None, "not examined"),
        (None, "present", "present"),
    ],
)
def test_each_eye_counts_by_itself(left, right, together):
    """One damaged eye is enough; both must be sound; an eye not named was not examined.

    Oracle: common practice, both eyes are to be examined, and not examined is never absent.
    """
    told = {eye: state for eye, state in (("left eye", left), ("right eye", right)) if state is not None}
    eyes = organ_checks(told)[0]
    assert (eyes.organ, eyes.state) == ("eyes", together)
    assert dict(eyes.eyes) == {"left eye": left or "not examined", "right eye": right or "not examined"}


def test_eyes_told_together_are_not_told_apart():
    """Nothing is invented of either eye.

    Oracle: by construction.
    """
    assert organ_checks({"eyes": "present"})[0].eyes == ()


def test_damaged_organs_are_those_with_new_or_progressing_damage():
    """Known kidney disease is not among them.

    Oracle: from memory, ACVIM 2018: damage of the kidneys is progression.
    """
    checks = organ_checks({"left eye": "present", "heart": "present", "kidneys": "known disease"})
    assert damaged(checks) == {"eyes", "heart"}
