"""Everything that a learner chooses for one inflation."""

from __future__ import annotations

import math
from dataclasses import dataclass, fields
from typing import get_args

from quietlimb.engine.circumstances import Place, Position, Side, Site
from quietlimb.engine.errors import ParameterError
from quietlimb.simulator.cuff_course import Deflation

# Whatever is chosen within these, some beats fall into the deflation.
LOWEST_TOP_MMHG, HIGHEST_TOP_MMHG = 120.0, 300.0
SLOWEST_MMHG_PER_S, FASTEST_MMHG_PER_S = 1.0, 12.0

_WORDS: dict[str, tuple[str, ...]] = {
    "place": get_args(Place),
    "position": get_args(Position),
    "site": get_args(Site),
    "side": get_args(Side),
    "deflation": get_args(Deflation),
}
_REACH: dict[str, tuple[float, float, str]] = {
    "acclimatisation_min": (0.0, 240.0, "minutes"),
    "cuff_width_cm": (0.5, 30.0, "centimetres"),
    "cuff_below_heart_cm": (-60.0, 60.0, "centimetres"),
    "inflate_to_mmhg": (LOWEST_TOP_MMHG, HIGHEST_TOP_MMHG, "mmHg"),
    "fall_mmhg_per_s": (SLOWEST_MMHG_PER_S, FASTEST_MMHG_PER_S, "mmHg a second"),
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Choices:
    """What is chosen for one inflation.

    place               : where the animal is
    acclimatisation_min : from its coming in to the first inflation of the session [min]
    position, site, side: of the animal and the cuff
    cuff_width_cm       : of the inflatable part; with the limb of the case it gives the fit [cm]
    cuff_below_heart_cm : positive when the cuff lies below the heart [cm]
    inflate_to_mmhg     : what the display shows at the top [mmHg]
    fall_mmhg_per_s     : of the pressure while air is let out; in steps, over all of them [mmHg/s]
    deflation           : linear, or by steps
    limb_loaded         : weight upon the limb that wears the cuff
    tail_held           : a hand holds the tail still; matters with the cuff on a tail
    on_table            : on the examination table, which only a consulting room has
    before_examination  : nothing was done to the animal before
    owner_present       : its owner is with it
    drug_free           : no calming drug was given
    setup_checked       : the display was held against a manometer and cuff and tube were looked over just before, so
                          that a fault of the instrument is put right

    Raises
    ------
    ParameterError : `unknown-choice` or `impossible-choice`, which one, and what it may be.
    """

    place: Place = "consulting-room"
    acclimatisation_min: float = 10.0
    position: Position = "chest-down"
    site: Site = "forelimb"
    side: Side | None = None
    cuff_width_cm: float
    cuff_below_heart_cm: float = 0.0
    inflate_to_mmhg: float = 200.0
    fall_mmhg_per_s: float = 3.0
    deflation: Deflation = "linear"
    limb_loaded: bool = False
    tail_held: bool = True
    on_table: bool = False
    before_examination: bool = True
    owner_present: bool = True
    drug_free: bool = True
    setup_checked: bool = True

    def __post_init__(self) -> None:
        for name, words in _WORDS.items():
            given = getattr(self, name)
            if given not in words and not (name == "side" and given is None):
                raise ParameterError("unknown-choice", f"{name} is {given!r}", f"use one of: {', '.join(words)}")
        for name, (least, most, unit) in _REACH.items():
            value: object = getattr(self, name)
            if isinstance(value, bool) or not isinstance(value, int | float) or not math.isfinite(value):
                raise ParameterError("impossible-choice", f"{name} is {value!r}", f"give a number of {unit}")
            if not least <= value <= most:
                raise ParameterError("impossible-choice", f"{name} is {value:g}", f"give {least:g} to {most:g} {unit}")
        for name in YES_OR_NO:
            if not isinstance(getattr(self, name), bool):
                raise ParameterError("impossible-choice", f"{name} is {getattr(self, name)!r}", "give true or false")
        if self.on_table and self.place != "consulting-room":
            raise ParameterError(
                "impossible-choice",
                f"on_table is true but place is {self.place!r}",
                "choose the consulting room, or take the animal off the table",
            )


CHOICE_NAMES = tuple(each.name for each in fields(Choices))
YES_OR_NO = (
    "limb_loaded",
    "tail_held",
    "on_table",
    "before_examination",
    "owner_present",
    "drug_free",
    "setup_checked",
)
