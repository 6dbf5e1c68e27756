"""What a learner may choose."""

from __future__ import annotations

import pytest

from quietlimb.engine.circumstances import Circumstances
from quietlimb.engine.errors import ParameterError
from quietlimb.simulator.training import CHOICE_NAMES, Choices


def test_choices_are_named_as_circumstances_are() -> None:
    """Every choice that a circumstance tells has its name.

    Oracle: by construction, the fields of the circumstances.
    """
    shared = {"place", "acclimatisation_min", "position", "site", "side", "cuff_width_cm", "cuff_below_heart_cm"}
    assert shared <= set(CHOICE_NAMES)
    assert shared <= set(Circumstances.__dataclass_fields__)


@pytest.mark.parametrize(
    ("given", "says"),
    [
        ({"place": "garden"}, "place is 'garden'; use one of: home"),
        ({"position": "upside-down"}, "position is 'upside-down'"),
        ({"cuff_width_cm": 0.0}, "cuff_width_cm is 0; give 0.5 to 30 centimetres"),
        ({"cuff_width_cm": float("nan")}, "cuff_width_cm is nan; give a number of centimetres"),
        ({"cuff_width_cm": True}, "cuff_width_cm is True; give a number"),
        ({"inflate_to_mmhg": 400.0}, "inflate_to_mmhg is 400; give 120 to 300 mmHg"),
        ({"fall_mmhg_per_s": 0.1}, "fall_mmhg_per_s is 0.1"),
        ({"limb_loaded": "no"}, "limb_loaded is 'no'; give true or false"),
        ({"on_table": True, "place": "carrier"}, "on_table is true but place is 'carrier'"),
    ],
)
def test_what_cannot_be_chosen_is_told(given: dict[str, object], says: str) -> None:
    """The error names the choice, what was given and what may be.

    Oracle: by construction.
    """
    with pytest.raises(ParameterError, match=says):
        Choices(**{"cuff_width_cm": 3.0, **given})
