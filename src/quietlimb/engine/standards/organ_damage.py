"""How often high pressure was found to damage an organ, cats and dogs, and protein in the urine. For telling only.

The shares come from series of very different animals, so they are never compared, and no probability is made of them:
    [LeBlanc2011]   : 42 dogs with high pressure; seen as quoted.
    [Carter2014]    : 73 cats of 8 years and more; 12 with lesions of the eyes by high pressure, 2 of those normal then.
    [Maggio2000]    : 69 cats with lesions of the retina by high pressure.
    [Jacob2003]     : dogs with kidney disease, 14 of them at 180 mmHg and over.
    [Chetboul2003]  : cats with high pressure; from memory.
    AAFP            : pages of the feline practitioners' association: eyes change from about 168 mmHg on.
As a test for high pressure, lesions of the eye in dogs found 62 % and cleared 61 % (LeBlanc 2011): sound eyes do not
speak against it.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Literal

from quietlimb.engine.circumstances import Species
from quietlimb.engine.values import Cited, Standing

LesionCode = Literal[
    "eyes-of-dogs",
    "eyes-of-older-cats",
    "normal-that-day",
    "sight-lost",
    "brain-of-cats",
    "brain-and-eyes-of-dogs-with-kidney-disease",
    "heart-of-cats",
    "left-ventricle-of-cats",
]


@dataclass(frozen=True, slots=True, kw_only=True)
class LesionShare:
    """Of how many animals how many were so.

    found : animals so; None where only the share is printed
    among : all animals of the series; None where only the share is printed
    share : found / among, or as printed
    """

    code: LesionCode
    found: int | None = None
    among: int | None = None
    share: Cited


def _counted(
    code: LesionCode, found: int, among: int, source: str, place: str, standing: Standing = "published"
) -> LesionShare:
    return LesionShare(
        code=code, found=found, among=among, share=Cited(found / among, "share", source, place, standing)
    )


EYES_OF_DOGS = _counted("eyes-of-dogs", 26, 42, "LeBlanc2011", "dogs with high pressure", "as quoted")
EYES_OF_OLDER_CATS = _counted("eyes-of-older-cats", 12, 73, "Carter2014", "cats of 8 years and more")
NORMAL_THAT_DAY = _counted("normal-that-day", 2, 12, "Carter2014", "of the cats with lesions")
SIGHT_LOST = _counted("sight-lost", 47, 69, "Maggio2000", "printed as 68.1 % of 69 cats")
BRAIN_OF_CATS = _counted("brain-of-cats", 20, 69, "Maggio2000", "signs of the brain")
BRAIN_AND_EYES_OF_DOGS = _counted(
    "brain-and-eyes-of-dogs-with-kidney-disease", 3, 14, "Jacob2003", "dogs at 180 mmHg and over"
)
HEART_OF_CATS = _counted("heart-of-cats", 37, 69, "Maggio2000", "abnormalities of the heart")
LEFT_VENTRICLE_OF_CATS = LesionShare(
    code="left-ventricle-of-cats",
    share=Cited(0.85, "share", "Chetboul2003", "changes of the left ventricle", "from memory"),
)
LESIONS: Mapping[tuple[Species, str], tuple[LesionShare, ...]] = {
    ("dog", "eyes"): (EYES_OF_DOGS,),
    ("cat", "eyes"): (EYES_OF_OLDER_CATS, NORMAL_THAT_DAY, SIGHT_LOST),
    ("dog", "brain"): (BRAIN_AND_EYES_OF_DOGS,),
    ("cat", "brain"): (BRAIN_OF_CATS,),
    ("cat", "heart"): (HEART_OF_CATS, LEFT_VENTRICLE_OF_CATS),
}

EYES_CHANGE_FROM = Cited(168.0, "mmHg", "AAFP", "eyes of cats", "published")
EYES_FOUND_OF_HYPERTENSIVE_DOGS = Cited(0.62, "share", "LeBlanc2011", "sensitivity, seen as quoted", "as quoted")
EYES_CLEARED_OF_OTHER_DOGS = Cited(0.61, "share", "LeBlanc2011", "specificity, seen as quoted", "as quoted")

# Urine protein to creatinine ratio: under the first no protein, over the second protein, between them and on them open.
URINE_RATIO: Mapping[Species, tuple[Cited, Cited]] = {
    "dog": (
        Cited(0.2, "ratio", "IRIS2019", "protein in the urine, seen as quoted", "as quoted"),
        Cited(0.5, "ratio", "IRIS2019", "protein in the urine, seen as quoted", "as quoted"),
    ),
    "cat": (
        Cited(0.2, "ratio", "IRIS2019", "protein in the urine, seen as quoted", "as quoted"),
        Cited(0.4, "ratio", "IRIS2019", "protein in the urine, seen as quoted", "as quoted"),
    ),
}
