"""Breeds whose pressure is known to differ. Remarks only: these are means by mixed methods, no limits of normal, so no
category is changed by them.

Means and standard deviations of systolic and diastolic pressure by oscillometry in dogs: [Egner2007], seen as quoted.
Sighthounds about 10 to 20 mmHg above other dogs: from memory, ACVIM 2018; the Irish wolfhound is the exception.
Retired greyhounds stood at 132 mmHg at home and at 165 in hospital (n = 22, seen as quoted); in apparently healthy
greyhounds higher pressure went with protein in the urine and lesions of the kidney, so the breed is no excuse.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Literal

from quietlimb.engine.circumstances import Species
from quietlimb.engine.values import Cited, Standing

Tendency = Literal["higher", "lower", "as printed"]

# name -> mean and SD of systolic, mean and SD of diastolic pressure [mmHg]
MEANS: Mapping[str, tuple[float, float, float, float]] = {
    "labrador": (118, 17, 66, 13),
    "golden retriever": (122, 14, 70, 11),
    "great pyrenees": (120, 16, 66, 6),
    "yorkshire terrier": (121, 12, 69, 13),
    "west highland": (126, 6, 83, 7),
    "border collie": (131, 14, 75, 12),
    "king charles spaniel": (131, 16, 72, 14),
    "german shepherd": (132, 13, 75, 10),
    "bull terrier": (134, 12, 77, 17),
    "terrier": (136, 16, 76, 12),
    "chihuahua": (134, 9, 84, 12),
    "miniature breeds": (136, 13, 74, 17),
    "pomeranian": (136, 12, 76, 13),
    "beagle": (140, 15, 79, 13),
    "dachshund": (142, 10, 85, 15),
    "saluki": (143, 16, 88, 10),
    "pointer": (145, 17, 83, 15),
    "greyhound": (149, 20, 87, 16),
}
# Words for an animal of no breed, of which no figure is missing.
OF_NO_BREED = ("domestic", "mixed", "cross", "crossbreed", "crossbred", "mongrel", "moggy", "unknown")
SIGHTHOUNDS = ("greyhound", "whippet", "saluki", "borzoi", "afghan", "deerhound", "sloughi", "azawakh")
SIGHTHOUND_RISE_FROM = Cited(10.0, "mmHg", "ACVIM2018", "sighthounds", "from memory")
SIGHTHOUND_RISE_TO = Cited(20.0, "mmHg", "ACVIM2018", "sighthounds", "from memory")
GREYHOUND_HOME = Cited(132.0, "mmHg", "Marino2011", "retired racers at home, n = 22, seen as quoted", "as quoted")
GREYHOUND_HOSPITAL = Cited(165.0, "mmHg", "Marino2011", "the same in hospital, seen as quoted", "as quoted")
# [Surman2012]: in apparently healthy greyhounds, with albumin in the urine and lesions of the kidney.
GREYHOUND_KIDNEY_SOURCE = "Surman2012"
IRISH_WOLFHOUND = Cited(116.0, "mmHg", "Bright2002", "JAAHA 38:521-526, 158 dogs", "published")
IRISH_WOLFHOUND_MEAN = Cited(87.8, "mmHg", "Bright2002", "the same, mean pressure", "published")
IRISH_WOLFHOUND_DIASTOLIC = Cited(69.2, "mmHg", "Bright2002", "the same, diastolic pressure", "published")
# Lower than domestic shorthair and Norwegian forest cats; no figure for the breed was at hand, only the number of cats.
BIRMAN = Cited(94.0, "cats", "Hanas2021", "by oscillometry, three breeds", "published")


@dataclass(frozen=True, slots=True, kw_only=True)
class BreedRemark:
    """What is printed about a breed.

    tendency               : against other animals of the species
    systolic_mmhg, sd_mmhg : mean and standard deviation in print; None where none is at hand
    diastolic_mmhg         : the same of the diastolic pressure, its mean alone
    kidneys                : higher pressure went with lesions of the kidney
    """

    breed: str
    tendency: Tendency
    systolic_mmhg: float | None
    sd_mmhg: float | None
    diastolic_mmhg: float | None
    kidneys: bool
    source: str
    standing: Standing


def breed_remark(species: Species, breed: str | None) -> BreedRemark | None:
    """What is known of a breed; None where nothing is, or no breed is told. Upper and lower case are the same."""
    if breed is None:
        return None
    told = " ".join(breed.casefold().replace("-", " ").split())
    if species == "cat":
        if "birman" not in told:
            return None
        return _remark(breed, "lower", BIRMAN)
    if "irish wolfhound" in told:
        low_diastolic = IRISH_WOLFHOUND_DIASTOLIC.value
        return _remark(breed, "lower", IRISH_WOLFHOUND, (IRISH_WOLFHOUND.value, None, low_diastolic))
    known = next((name for name in MEANS if _names(name, told)), None)
    means: tuple[float | None, float | None, float | None] = MEANS[known][:3] if known else (None, None, None)
    if "italian" not in told and any(name in told for name in SIGHTHOUNDS):
        return _remark(breed, "higher", SIGHTHOUND_RISE_FROM, means, kidneys="greyhound" in told)
    if known is None:
        return None
    systolic, sd, diastolic = means
    return BreedRemark(
        breed=breed,
        tendency="as printed",
        systolic_mmhg=systolic,
        sd_mmhg=sd,
        diastolic_mmhg=diastolic,
        kidneys=False,
        source="Egner2007",
        standing="as quoted",
    )


def is_a_breed(breed: str) -> bool:
    """Whether what is told names a breed, not that there is none."""
    return not set(breed.casefold().replace("-", " ").split()) & set(OF_NO_BREED)


def _names(name: str, told: str) -> bool:
    """A whole name, so that `bull terrier` is not taken for `terrier`, nor `pointer` for part of another name."""
    if name == "terrier":
        return told == "terrier"
    if name == "greyhound":
        return told in ("greyhound", "retired greyhound")
    return f" {name} " in f" {told} "


def _remark(
    breed: str,
    tendency: Tendency,
    cited: Cited,
    means: tuple[float | None, float | None, float | None] = (None, None, None),
    *,
    kidneys: bool = False,
) -> BreedRemark:
    """means : systolic, its standard deviation, diastolic"""
    systolic, sd, diastolic = means
    return BreedRemark(
        breed=breed,
        tendency=tendency,
        systolic_mmhg=systolic,
        sd_mmhg=sd,
        diastolic_mmhg=diastolic,
        kidneys=kidneys,
        source=cited.source,
        standing=cited.standing,
    )
