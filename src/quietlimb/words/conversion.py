"""A converted value in sentences: never without the measured one, its source and its limits."""

from __future__ import annotations

from quietlimb.engine.conversion import Conversion, Converted
from quietlimb.engine.errors import ConversionError
from quietlimb.words.language import _, mark

ONLY_BESIDE = mark(
    "The converted value stands beside what was measured: the charted pressure, its category and all advice rest on "
    "the measured one."
)


def converted_sentence(found: Converted) -> str:
    """Measured and converted value, with the study."""
    return _(
        "{quantity} as measured {measured:.0f} mmHg; converted to {to}: {value:.0f} mmHg ({low:.0f} to {high:.0f}), by "
        "{label}, from {animals} animals."
    ).format(
        quantity=_(found.conversion.quantity)[:1].upper() + _(found.conversion.quantity)[1:],
        measured=found.measured.value,
        to=found.conversion.converts_to,
        value=found.converted.value,
        low=found.converted.low,
        high=found.converted.high,
        label=found.label,
        animals=found.conversion.animals,
    )


def refused_sentence(conversion: Conversion, refused: ConversionError) -> str:
    """Why nothing was converted."""
    return _("Not converted to {to}: {says}; {remedy}.").format(
        to=conversion.converts_to, says=refused.says, remedy=refused.remedy
    )
