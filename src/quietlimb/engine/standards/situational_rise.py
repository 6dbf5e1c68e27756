"""How much the visit itself can raise systolic pressure, cats and dogs.

The average and the spread are for telling, never for subtracting: single cats stood between 27 mmHg below and 75 mmHg
above their pressure at rest (Belew, Barlett, Brown 1999, J Vet Intern Med 13:134-142, 13 cats). Just after arrival 30
healthy cats stood 43 mmHg above their pressure at home and after an hour still 12 (Sastravaha et al., about 2020);
another 30 did not differ at all between home and hospital (Conti et al. 2017, J Feline Med Surg 19:165-170). The
reverse, normal at the clinic and high at home, is reported of both species (Carr 2015, seen as quoted).
"""

from __future__ import annotations

from quietlimb.engine.values import Cited

USUAL_RISE_FROM = Cited(15.0, "mmHg", "Caney2021", "situational rise, cats", "published")
USUAL_RISE_TO = Cited(20.0, "mmHg", "Caney2021", "situational rise, cats", "published")
LARGEST_RISE = Cited(75.3, "mmHg", "Belew1999", "simulated visit minus 24 h mean, largest of 13 cats", "published")
LARGEST_FALL = Cited(27.2, "mmHg", "Belew1999", "simulated visit minus 24 h mean, lowest of 13 cats", "published")
ON_ARRIVAL = Cited(43.3, "mmHg", "Sastravaha2020", "30 cats, on arrival minus at home", "derived")
AFTER_AN_HOUR = Cited(12.2, "mmHg", "Sastravaha2020", "30 cats, after 60 min minus at home", "derived")
SETTLED_AFTER = Cited(60.0, "min", "Sastravaha2020", "the least that its authors ask for", "published")
DOGS_IN_HOSPITAL = Cited(154.7, "mmHg", "CienciaRural2012", "45 dogs by Doppler, in hospital", "published")
DOGS_AT_HOME = Cited(136.3, "mmHg", "CienciaRural2012", "45 dogs by Doppler, at home", "published")
RISE_IN_DOGS = Cited(
    DOGS_IN_HOSPITAL.value - DOGS_AT_HOME.value, "mmHg", "CienciaRural2012", "in hospital minus at home", "derived"
)

# Clues to a rise by the visit. A fall of 10 to 20 mmHg through the session is called strong; the smaller is taken.
FALL_THROUGH_SESSION = Cited(10.0, "mmHg", "practice", "clues to a situational rise", "common practice")
FIRST_VISIT = Cited(39.0, "cats", "Visits2021", "visit 1 above visits 2 and 4", "published")
