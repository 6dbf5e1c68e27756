"""The organ check list: what owners notice, what to look for, how to look."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from quietlimb.engine.circumstances import Species
from quietlimb.engine.interpretation.interpretation import OrganCheck
from quietlimb.engine.standards.organ_damage import (
    EYES_CHANGE_FROM,
    EYES_CLEARED_OF_OTHER_DOGS,
    EYES_FOUND_OF_HYPERTENSIVE_DOGS,
    LESIONS,
    URINE_RATIO,
    LesionCode,
)
from quietlimb.engine.values import Cited
from quietlimb.words.language import _, mark
from quietlimb.words.sources import source_and_standing

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

SHARES: Mapping[LesionCode, str] = {
    "eyes-of-dogs": mark("Of {among} dogs with high pressure {found} had lesions."),
    "eyes-of-older-cats": mark("Of {among} cats of 8 years and more {found} had lesions of high pressure in the eyes."),
    "normal-that-day": mark("Of the {among} with lesions {found} had a normal pressure that day."),
    "sight-lost": mark("Of {among} cats with lesions {found} came because they had lost their sight."),
    "brain-of-cats": mark("Of {among} cats with lesions in the eyes {found} had signs of the brain."),
    "brain-and-eyes-of-dogs-with-kidney-disease": mark(
        "Of {among} dogs with kidney disease at 180 mmHg and over {found} had damage of eyes and brain."
    ),
    "heart-of-cats": mark("Of {among} cats with lesions in the eyes {found} had an abnormal heart."),
    "left-ventricle-of-cats": mark("About {percent:.0f} % of cats with high pressure had a changed left ventricle."),
}
_EYES_CHANGE = mark("The eyes of cats change from about {mmhg:.0f} mmHg on.")
_EYES_AS_A_TEST = mark(
    "Lesions in the eyes found {found:.0f} % of the dogs with high pressure and cleared {cleared:.0f} % of the others: "
    "sound eyes do not speak against it."
)
_URINE = mark("Urine protein to creatinine ratio: under {low:g} none, over {high:g} protein, open in between.")


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


def figures(organ: str, species: Species) -> list[str]:
    """What is printed about damage of an organ, a sentence each with its source; empty where nothing is at hand."""
    told = []
    for each in LESIONS.get((species, organ), ()):
        numbers = {"found": each.found, "among": each.among, "percent": 100.0 * each.share.value}
        told.append(_with_source(_(SHARES[each.code]).format(**numbers), each.share))
    if organ == "eyes" and species == "cat":
        told.append(_with_source(_(_EYES_CHANGE).format(mmhg=EYES_CHANGE_FROM.value), EYES_CHANGE_FROM))
    if organ == "eyes" and species == "dog":
        found, cleared = EYES_FOUND_OF_HYPERTENSIVE_DOGS, EYES_CLEARED_OF_OTHER_DOGS
        text = _(_EYES_AS_A_TEST).format(found=100.0 * found.value, cleared=100.0 * cleared.value)
        told.append(_with_source(text, found))
    if organ == "kidneys":
        low, high = URINE_RATIO[species]
        told.append(_with_source(_(_URINE).format(low=low.value, high=high.value), low))
    return told


def _with_source(sentence: str, cited: Cited) -> str:
    return f"{sentence} {source_and_standing(cited.source, cited.standing)}"
