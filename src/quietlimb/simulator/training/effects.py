"""What each choice does to the pressure, to what is shown of it, and to the quiet of the limb, each with its source.

A size that no source gives is invented and says so; where a source is named beside it, that source gives the direction
alone. Single animals differ far more than these figures (examination: -27 to +75 mmHg), so none may be used to correct
a reading. Effects on the animal move its systolic pressure, the diastolic follows by a share (`level_course`); effects
on what is shown move all three. Which limb of two wears the cuff has no effect here.
"""

from __future__ import annotations

import math
from collections.abc import Mapping

from quietlimb.engine.circumstances import Place, Position, Site, Species
from quietlimb.engine.standards import cuff_height
from quietlimb.engine.standards.cuff_width import NARROWEST_ACCEPTED, TOLERANCE, WIDEST_ACCEPTED
from quietlimb.engine.values import Cited

_OURS = "Quietlimb"

# On the animal's own pressure

AT_HOME = Cited(0.0, "share", "Sastravaha2020", "30 cats: home is what arrival is held against", "derived")
WAITING_ROOM = Cited(8.0, "mmHg", _OURS, "other animals near by", "invented")
HOSPITAL_CAGE = Cited(4.0, "mmHg", _OURS, "sounds and smells of a ward", "invented")
QUIET_PLACE = Cited(0.0, "mmHg", _OURS, "the level that the others are held against", "invented")
PLACES: Mapping[Place, Cited] = {
    "home": QUIET_PLACE,
    "carrier": QUIET_PLACE,
    "consulting-room": QUIET_PLACE,
    "waiting-room": WAITING_ROOM,
    "hospital-cage": HOSPITAL_CAGE,
}
# Common practice says higher on the table; 94 cats showed no difference in systolic pressure (Hanås 2021).
ON_TABLE: Mapping[Species, Cited] = {
    "cat": Cited(6.0, "mmHg", _OURS, "examination table, direction by common practice", "invented"),
    "dog": Cited(4.0, "mmHg", _OURS, "examination table, direction by common practice", "invented"),
}
EXAMINATION = Cited(17.6, "mmHg", "Belew1999", "examination minus 24 h mean, healthy cats", "published")
EXAMINATION_SETTLES = Cited(15.0, "min", _OURS, "how slowly it wears off", "invented")
OWNER_AWAY = Cited(5.0, "mmHg", _OURS, "an animal that its owner calms; direction by Höglund 2012", "invented")
CALMING_DRUG = Cited(-0.10, "share", _OURS, "size, and even direction, depend on the drug", "invented")
POSITIONS: Mapping[Species, Mapping[Position, Cited]] = {
    "dog": {
        "sitting": Cited(25.1, "mmHg", "Rondeau2013", "51 dogs sitting minus side-lying, SD 28.5", "published"),
        "standing": Cited(0.0, "mmHg", "Bright2002", "158 dogs standing against side-lying", "published"),
    },
    "cat": {
        "sitting": Cited(10.0, "mmHg", _OURS, "sitting up; no study at hand", "invented"),
        "standing": Cited(5.0, "mmHg", _OURS, "standing; no study at hand", "invented"),
    },
}
AT_EASE = Cited(0.0, "mmHg", _OURS, "the level that other positions and sites are held against", "invented")
SITES: Mapping[Species, Mapping[Site, Cited]] = {
    "dog": {"hindlimb": Cited(2.8, "mmHg", "TopCompanion2021", "108 dogs, hind minus fore by Doppler", "derived")},
    "cat": {
        "hindlimb": Cited(9.0, "mmHg", "Franchino2024", "29 anaesthetised cats, pelvic minus thoracic", "derived"),
        "tail": Cited(3.0, "mmHg", _OURS, "slightly higher on the tail (30 cats, Cannon and Brett 2012)", "invented"),
    },
}

# On what is shown of it

# Five cats with the cuff 5 cm higher showed twice of this (Franchino 2024); the column of blood is what we model.
BLOOD = cuff_height.BLOOD
NARROW = Cited(1.0, "share/share", _OURS, "reads high: 5 % for each 5 % of the limb that is lacking", "invented")
WIDE = Cited(0.4, "share/share", _OURS, "reads low: 2 % for each 5 % of the limb that is too much", "invented")

# On the quiet of the limb, and from reading to reading

BETWEEN_SD = Cited(4.0, "mmHg", _OURS, "systolic of one calm animal from reading to reading", "invented")
RESTLESS: Mapping[Position, Cited] = {
    "sitting": Cited(1.5, "times", _OURS, "movements while sitting, against lying", "invented"),
    "standing": Cited(2.0, "times", _OURS, "movements while standing, against lying", "invented"),
}
LYING = Cited(1.0, "times", _OURS, "the restlessness that others are held against", "invented")
LONG_INFLATED = Cited(45.0, "s", _OURS, "inflated for longer, an animal begins to mind", "invented")
MINDS = Cited(0.01, "share/s", _OURS, "movements more for each second beyond", "invented")
MOST_MOVES = Cited(0.95, "share", _OURS, "no animal moves always", "invented")
MILD = Cited(0.4, "share", _OURS, "movements that are short", "invented")
REPEATED = Cited(0.35, "share", _OURS, "movements that come again and again; the rest never cease", "invented")


def settling_mmhg(raised_mmhg: float, settles_min: float, minute: float, place: Place) -> float:
    """What is left, `minute` minutes after coming in, of the rise at coming in [mmHg]; nothing of it at home."""
    at_home = AT_HOME.value if place == "home" else 1.0
    return at_home * raised_mmhg * math.exp(-minute / settles_min)


def examination_mmhg(minute: float) -> float:
    """What is left, `minute` minutes after an examination, of its rise [mmHg]."""
    return EXAMINATION.value * math.exp(-minute / EXAMINATION_SETTLES.value)


def position_mmhg(species: Species, position: Position) -> float:
    """By how much an animal reads higher in this position than lying at ease [mmHg]."""
    return POSITIONS[species].get(position, AT_EASE).value


def site_mmhg(species: Species, site: Site) -> float:
    """By how much it reads higher here than on the forelimb [mmHg]."""
    return SITES[species].get(site, AT_EASE).value


def cuff_factor(ratio: float) -> float:
    """What is shown over what is so, for a width of `ratio` times the circumference; 1 from 30 to 40 %."""
    if ratio < NARROWEST_ACCEPTED.value - TOLERANCE.value:
        return 1.0 + NARROW.value * (NARROWEST_ACCEPTED.value - ratio)
    if ratio > WIDEST_ACCEPTED.value + TOLERANCE.value:
        return max(0.6, 1.0 - WIDE.value * (ratio - WIDEST_ACCEPTED.value))
    return 1.0


def moves_share(moves: float, position: Position, inflated_s: float) -> float:
    """Probability that the limb moves during one inflation."""
    restless = RESTLESS.get(position, LYING).value
    long = max(0.0, inflated_s - LONG_INFLATED.value) * MINDS.value
    return min(moves * restless + long, MOST_MOVES.value)
