"""How far pressures of one animal differ from reading to reading and from session to session.

Within a session, one reading
    cat, Doppler          : 4.55 and 5.09 mmHg in 35 cats (ACVIM Forum 2023 abstract); the larger is taken.
    dog, Doppler and      : 95 % of pairs within 25 and within 37 mmHg in 29 dogs (Wernick et al. 2012, JAVMA
    dog, oscillometric      240:962-968), so SD = 25 or 37 / (1.96 sqrt 2).
    cat, oscillometric    : no figure was found; the dogs' is borrowed.

From session to session, with perfect averaging
    No figure stands in print for that part alone. Chetboul et al. 2010 (Am J Vet Res 71:766-772, 6 dogs, 4 observers)
    give within- and between-day coefficients of variation from 4.1 to 12.4 % by Doppler: the middle is 8.3 %, which is
    11.6 mmHg at 140. A mean of five readings with 9 mmHg within-session SD still carries 4 mmHg; without it 10.8 mmHg
    remain, rounded to 10. Beagles in strange surroundings varied far more (21 to 27 mmHg, five dogs, conference
    abstract of 2008), so 10 mmHg is what to expect of an animal that knows the place. For cats no figure was found; the
    dogs' is borrowed.
"""

from __future__ import annotations

import math

from quietlimb.engine.circumstances import Species, Technique
from quietlimb.engine.errors import ParameterError
from quietlimb.engine.values import ONE_SIDED_95, TWO_SIDED_95, Cited

_REPEATABILITY_FACTOR = 1.96 * math.sqrt(2.0)
REPEATABILITY_DOPPLER = Cited(25.0, "mmHg", "Wernick2012", "JAVMA 240:962-968, 29 dogs", "published")
REPEATABILITY_OSCILLOMETRIC = Cited(37.0, "mmHg", "Wernick2012", "JAVMA 240:962-968, 29 dogs", "published")

WITHIN_SESSION_SD: dict[tuple[Species, Technique], Cited] = {
    ("cat", "doppler"): Cited(5.09, "mmHg", "AcvimForum2023Tape", "35 cats, larger of two SDs", "published"),
    ("cat", "oscillometric"): Cited(
        REPEATABILITY_OSCILLOMETRIC.value / _REPEATABILITY_FACTOR,
        "mmHg",
        "Wernick2012",
        "borrowed from 29 dogs: no figure for cats",
        "invented",
    ),
    ("dog", "doppler"): Cited(
        REPEATABILITY_DOPPLER.value / _REPEATABILITY_FACTOR, "mmHg", "Wernick2012", "repeatability / 2.77", "derived"
    ),
    ("dog", "oscillometric"): Cited(
        REPEATABILITY_OSCILLOMETRIC.value / _REPEATABILITY_FACTOR,
        "mmHg",
        "Wernick2012",
        "repeatability / 2.77",
        "derived",
    ),
}

_DOG_BETWEEN = Cited(10.0, "mmHg", "Chetboul2010", "from the coefficients of variation, rounded", "derived")
_CAT_BETWEEN = Cited(10.0, "mmHg", "Chetboul2010", "borrowed from 6 dogs: no figure for cats", "invented")

BETWEEN_SESSION_SD: dict[tuple[Species, Technique], Cited] = {
    ("cat", "doppler"): _CAT_BETWEEN,
    ("cat", "oscillometric"): _CAT_BETWEEN,
    ("dog", "doppler"): _DOG_BETWEEN,
    ("dog", "oscillometric"): _DOG_BETWEEN,
}


def least_believable_change(
    within_sd_mmhg: float,
    between_sd_mmhg: float,
    *,
    readings: float,
    sessions_before: int = 1,
    sessions_after: int = 1,
    one_sided: bool = False,
) -> float:
    """The least change between means of sessions that is worth believing at 95 %. [mmHg]

    z sqrt(1/k + 1/m) sqrt(between^2 + within^2 / n), z = 1.96, or 1.645 to ask in one direction only; n readings in
    each of k sessions before and m after. More readings cannot beat the day-to-day part; more sessions can.

    Raises
    ------
    ParameterError : a negative spread, or fewer than one reading or session.
    """
    if not (within_sd_mmhg >= 0.0 and between_sd_mmhg >= 0.0 and readings >= 1.0):
        raise ParameterError(
            "impossible-spread",
            f"spreads are {within_sd_mmhg:g} and {between_sd_mmhg:g} mmHg over {readings:g} readings",
            "give 0 mmHg or more and at least one reading",
        )
    if sessions_before < 1 or sessions_after < 1:
        raise ParameterError(
            "too-few-sessions", f"{sessions_before} sessions before and {sessions_after} after", "give one or more each"
        )
    z = ONE_SIDED_95 if one_sided else TWO_SIDED_95
    of_a_session = math.sqrt(between_sd_mmhg**2 + within_sd_mmhg**2 / readings)
    return z * math.sqrt(1.0 / sessions_before + 1.0 / sessions_after) * of_a_session
