"""How much the visit itself can raise systolic pressure, cats and dogs.

The average and the spread are for telling, never for subtracting: single cats stood between 27 mmHg below and 75 mmHg
above their pressure at rest (Belew, Barlett, Brown 1999, J Vet Intern Med 13:134-142, 13 cats).
"""

from __future__ import annotations

from quietlimb.engine.values import Cited

USUAL_RISE_FROM = Cited(15.0, "mmHg", "Caney2021", "situational rise, cats", "published")
USUAL_RISE_TO = Cited(20.0, "mmHg", "Caney2021", "situational rise, cats", "published")
LARGEST_RISE = Cited(75.3, "mmHg", "Belew1999", "simulated visit minus 24 h mean, largest of 13 cats", "published")
LARGEST_FALL = Cited(27.2, "mmHg", "Belew1999", "simulated visit minus 24 h mean, lowest of 13 cats", "published")

# Clues to a rise by the visit. A fall of 10 to 20 mmHg through the session is called strong; the smaller is taken.
FALL_THROUGH_SESSION = Cited(10.0, "mmHg", "practice", "clues to a situational rise", "common practice")
FIRST_VISIT = Cited(39.0, "cats", "Visits2021", "visit 1 above visits 2 and 4", "published")
