"""Under which circumstances a recording, a reading or a series was taken."""

from __future__ import annotations

import math
from dataclasses import dataclass, fields
from typing import Literal, get_args

from quietlimb.engine.errors import CircumstancesError

Species = Literal["cat", "dog"]
Site = Literal["forelimb", "hindlimb", "tail"]
Side = Literal["left", "right"]
Position = Literal["chest-down", "side-lying", "sitting", "standing", "on-lap"]
Place = Literal["home", "carrier", "waiting-room", "consulting-room", "hospital-cage"]
Technique = Literal["oscillometric", "doppler"]
Consciousness = Literal["awake", "sedated", "anaesthetised"]

SIMULATOR = "simulator"  # the instrument by which invented recordings are known everywhere

_CHOICES: dict[str, tuple[str, ...]] = {
    "species": get_args(Species),
    "site": get_args(Site),
    "side": get_args(Side),
    "position": get_args(Position),
    "place": get_args(Place),
    "method": get_args(Technique),
    "sedation": get_args(Consciousness),
}
_TEXTS = ("animal", "breed", "instrument", "cuff", "read_by", "held_by", "started_at", "remarks")


@dataclass(frozen=True, slots=True, kw_only=True)
class Circumstances:
    """What was true while measuring. Only the species must be known; None means not told.

    cuff_width_cm          : width of the inflatable bladder [cm]
    limb_circumference_cm  : at the middle of the cuff [cm]
    cuff_below_heart_cm    : vertical gap, positive when the cuff lies below the heart [cm]. Never corrected for
    acclimatisation_min    : minutes in the place before the first reading
    started_at             : ISO 8601 date and time, as given
    """

    species: Species
    animal: str | None = None
    breed: str | None = None
    site: Site | None = None
    side: Side | None = None
    position: Position | None = None
    place: Place | None = None
    method: Technique = "oscillometric"
    instrument: str | None = None
    cuff: str | None = None
    cuff_width_cm: float | None = None
    limb_circumference_cm: float | None = None
    cuff_below_heart_cm: float | None = None
    acclimatisation_min: float | None = None
    sedation: Consciousness | None = None
    read_by: str | None = None
    held_by: str | None = None
    started_at: str | None = None
    remarks: str | None = None

    def __post_init__(self) -> None:
        for name in _TEXTS:
            text: object = getattr(self, name)
            if text is not None and not isinstance(text, str):
                raise CircumstancesError(
                    "not-text",
                    f"{name} is {text!r}",
                    "give text; a date and time by its isoformat(), a number by str()",
                )
        for name, choices in _CHOICES.items():
            value = getattr(self, name)
            if value is not None and value not in choices:
                raise CircumstancesError(
                    "unknown-circumstance", f"{name} is {value!r}", f"use one of: {', '.join(choices)}"
                )
        for name in ("cuff_width_cm", "limb_circumference_cm"):
            value = getattr(self, name)
            if value is not None and not (math.isfinite(value) and 0.5 <= value <= 100.0):
                raise CircumstancesError(
                    "impossible-circumstance", f"{name} is {value:g}", "give centimetres between 0.5 and 100"
                )
        for name, reach in (("cuff_below_heart_cm", 200.0), ("acclimatisation_min", 1440.0)):
            value = getattr(self, name)
            if value is not None and not (math.isfinite(value) and abs(value) <= reach):
                raise CircumstancesError(
                    "impossible-circumstance", f"{name} is {value:g}", f"give a number up to {reach:g}"
                )

    @property
    def is_invented(self) -> bool:
        """Whether this is of no patient: the instrument is the simulator, or the animal's name says that it is
        simulated or invented."""
        instrument = (self.instrument or "").strip().casefold()
        animal = (self.animal or "").strip().casefold()
        return instrument == SIMULATOR or animal.startswith(("simulated", "invented"))


CIRCUMSTANCE_NAMES = tuple(f.name for f in fields(Circumstances))
NUMERIC_CIRCUMSTANCES = frozenset(
    {"cuff_width_cm", "limb_circumference_cm", "cuff_below_heart_cm", "acclimatisation_min"}
)
