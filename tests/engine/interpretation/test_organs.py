"""What is known of the target organs."""

from __future__ import annotations

import pytest

from quietlimb.engine.errors import ParameterError
from quietlimb.engine.interpretation.organs import organ_checks, organ_damage, unknown_organs

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
    ("told", "code"), [({"liver": "absent"}, "unknown-organ"), ({"eyes": "fine"}, "unknown-organ-state")]
)
def test_unknown_words_are_refused(told, code):
    """An organ or a state that does not exist is an error that lists those that do.

    Oracle: by construction.
    """
    with pytest.raises(ParameterError) as caught:
        organ_checks(told)
    assert caught.value.code == code
