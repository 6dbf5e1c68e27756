"""A converted value in sentences: never without the measured one, its source and its limits."""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType

from quietlimb.engine.conversion import Conversion, Converted
from quietlimb.engine.errors import ConversionError
from quietlimb.words.categories import category_name
from quietlimb.words.language import _, in_a_sentence, mark

WORTH_TELLING = 0.005  # smaller shares would be shown as 0 %

ONLY_BESIDE = mark(
    "The converted value stands beside what was measured: the charted pressure, its category and all advice rest on "
    "the measured one."
)


def converted_sentence(found: Converted, shares: Mapping[str, float] = MappingProxyType({})) -> str:
    """Measured and converted value, with the study; with the probability of each category that is worth telling."""
    told = _(
        "{quantity} as measured {measured:.0f} mmHg; converted to {to}: {value:.0f} mmHg (95 % prediction "
        "interval {low:.0f} to {high:.0f}), by {label}, from {animals} animals."
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
    worth = {category_name(name): share for name, share in shares.items() if share >= WORTH_TELLING}
    likely = [f"{in_a_sentence(name)} {100 * share:.0f} %" for name, share in worth.items()]
    return f"{told} {_('Of the converted value:')} {', '.join(likely)}." if likely else told


def refused_sentence(conversion: Conversion, refused: ConversionError) -> str:
    """Why nothing was converted."""
    return _("Not converted to {to}: {says}; {remedy}.").format(
        to=conversion.converts_to, says=refused.says, remedy=refused.remedy
    )
