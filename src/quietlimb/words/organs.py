"""The organ check list: what owners notice, what to look for, how to look."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from quietlimb.engine.interpretation.interpretation import OrganCheck
from quietlimb.words.language import _, mark

NAMES: Mapping[str, str] = {
    "eyes": mark("Eyes"),
    "brain": mark("Brain"),
    "heart": mark("Heart and vessels"),
    "kidneys": mark("Kidneys"),
}

EYES: Mapping[str, str] = {"left eye": mark("left"), "right eye": mark("right")}

STATES: Mapping[str, str] = {
    "present": mark("damage present"),
    "absent": mark("no damage"),
    "known disease": mark("disease known before, not progressing"),
    "unclear": mark("unclear"),
    "not examined": mark("not examined"),
}


@dataclass(frozen=True, slots=True, kw_only=True)
class OrganCheckList:
    """One organ: its name, what an owner may notice, what to look for and how."""

    name: str
    noticed_at_home: str
    look_for: str
    examine: str


_LISTS: Mapping[str, OrganCheckList] = {
    "eyes": OrganCheckList(
        name=NAMES["eyes"],
        noticed_at_home=mark("sudden blindness, wide pupils that stay wide, a red eye"),
        look_for=mark(
            "retinal swelling, bleeding or detachment, winding vessels, blood in the eye, a swollen optic disc, raised "
            "eye pressure, later retinal degeneration"
        ),
        examine=mark(
            "fundus of both eyes with widened pupils, menace and pupil reflexes, eye pressure; ultrasound if opaque"
        ),
    ),
    "brain": OrganCheckList(
        name=NAMES["brain"],
        noticed_at_home=mark("fits, circling, odd behaviour, crying at night, stupor, an unsteady gait"),
        look_for=mark("head tilt, flickering eyes, stupor, other signs from within the skull"),
        examine=mark("neurological examination; imaging where the veterinarian asks for it"),
    ),
    "heart": OrganCheckList(
        name=NAMES["heart"],
        noticed_at_home=mark("breathlessness, weakness, nosebleed"),
        look_for=mark("murmur, gallop, irregular rhythm, thickened wall of the left ventricle, bleeding from the nose"),
        examine=mark("listening to the chest; radiographs, ultrasound of the heart and ECG where asked for"),
    ),
    "kidneys": OrganCheckList(
        name=NAMES["kidneys"],
        noticed_at_home=mark("thirst, loss of weight"),
        look_for=mark("falling kidney function, protein in the urine"),
        examine=mark("creatinine, SDMA and urea in blood, urinalysis, urine protein to creatinine ratio; ultrasound"),
    ),
}


def organ_name(organ: str) -> str:
    """Readable name of an organ."""
    return _(NAMES[organ])


def state_name(state: str) -> str:
    """Readable state of an organ: damage present, no damage, unclear, not examined."""
    return _(STATES[state])


def check_state(check: OrganCheck) -> str:
    """The state of an organ, of eyes that were told one by one each: `left damage present, right not examined`."""
    if not check.eyes:
        return state_name(check.state)
    return ", ".join(f"{_(EYES[eye])} {state_name(state)}" for eye, state in check.eyes)


def check_list(organ: str) -> OrganCheckList:
    """The check list of an organ, in the language spoken here."""
    told = _LISTS[organ]
    return OrganCheckList(
        name=_(told.name),
        noticed_at_home=_(told.noticed_at_home),
        look_for=_(told.look_for),
        examine=_(told.examine),
    )
