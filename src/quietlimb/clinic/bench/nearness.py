"""How high a session in doubt was, and how near to a boundary: what somebody who decides on it has to know first."""

from __future__ import annotations

from django.utils.translation import gettext as _

from quietlimb.clinic.desk.months import value_of
from quietlimb.clinic.pressures import as_chosen, kpa, mmhg
from quietlimb.clinic.sessions.models import Session, SignedValue
from quietlimb.clinic.sessions.selectors import height_of
from quietlimb.clinic.sessions.table import is_kept_back
from quietlimb.engine.circumstances import Species
from quietlimb.engine.interpretation.categories import category_of
from quietlimb.engine.standards.rule_sets import rule_set
from quietlimb.words.categories import value_name


def height_words(session: Session, unit: str) -> str:
    """`signed 165 mmHg, hypertensive; the nearest boundary, 160 mmHg, is 5 mmHg away`.

    Of a signed session by the value that counts now, amendments included; of another as it is charted.

    unit : the person's, mmHg or kPa; of kPa the pressure stands in both
    """
    signed = SignedValue.objects.filter(session=session).first()
    if signed is None:
        if is_kept_back(session):
            return _("its pressure is kept back until the series has ended")
        value, told = height_of(session).systolic_mmhg, _("charted {value}")
    else:
        value, told = value_of(signed), _("signed {value}")
    if value is None:
        return _("no valid value")
    species: Species = session.animal.species  # type: ignore[assignment]  # the column's choices are the engine's words
    rules = rule_set(session.practice.rules, species)
    shown = mmhg if signed is None or value == signed.charted else as_chosen
    number = f"{shown(value, rules=session.practice.rules, species=species)} mmHg"
    if unit == "kPa":
        number = f"{number} ({kpa(value)} kPa)"
    nearest = min((line.value for line in rules.systolic_from), key=lambda line: abs(value - line))
    return _("{pressure}, {category}; the nearest boundary, {line:g} mmHg, is {away:.0f} mmHg away").format(
        pressure=told.format(value=number),
        category=value_name(value, category_of(value, rules)),
        line=nearest,
        away=abs(value - nearest),
    )
