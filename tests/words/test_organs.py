"""The state of an organ, in words."""

from __future__ import annotations

from quietlimb.engine.interpretation.interpretation import OrganCheck
from quietlimb.words import organs


def test_each_eye_is_told_where_they_were_told_apart():
    """Left and right.

    Oracle: by construction.
    """
    eyes = (("left eye", "present"), ("right eye", "not examined"))
    check = OrganCheck(organ="eyes", state="present", eyes=eyes)
    assert organs.check_state(check) == "left damage present, right not examined"
    assert organs.check_state(OrganCheck(organ="kidneys", state="known disease")) == (
        "disease known before, not progressing"
    )
