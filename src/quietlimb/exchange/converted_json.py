"""A converted value beside the measured one, as JSON."""

from __future__ import annotations

from dataclasses import dataclass, field

from quietlimb.engine.circumstances import Circumstances
from quietlimb.engine.conversion import Converted, convert
from quietlimb.engine.errors import ConversionError
from quietlimb.engine.standards.rule_set import RuleSet
from quietlimb.engine.values import Estimate
from quietlimb.exchange.conversion_json import ConversionFile
from quietlimb.exchange.json_values import JsonObject, estimate_or_null, share_or_null


@dataclass(frozen=True, slots=True, kw_only=True)
class Beside:
    """What a chosen conversion makes of a charted pressure.

    measured : None where nothing was charted
    found    : None where it was refused
    refused  : why; None where it was not
    shares   : probability of each category of the rule set for the converted systolic pressure, its whole prediction
               interval counted; empty where there is no such pressure, or no category may be named
    """

    file: ConversionFile
    measured: Estimate | None
    found: Converted | None
    refused: ConversionError | None
    shares: dict[str, float] = field(default_factory=dict)


def beside(
    file: ConversionFile,
    measured: Estimate | None,
    circumstances: Circumstances,
    *,
    rules: RuleSet | None = None,
    invented: bool,
) -> Beside:
    """The converted value beside the measured one, or why there is none.

    rules    : by which categories are told; None where none may be named
    invented : whether the animal is; an invented conversion is for invented animals alone
    """
    refused, found = None, None
    if measured is None:
        refused = ConversionError(
            "nothing-charted", f"no {file.conversion.quantity} pressure is charted", "nothing can be converted"
        )
    elif file.invented and not invented:
        refused = ConversionError(
            "invented-conversion",
            "this conversion rests on invented pairs, and this is not an invented animal",
            "use a conversion from a study",
        )
    else:
        try:
            found = convert(measured, file.conversion, circumstances, file.conversion.quantity)
        except ConversionError as error:
            refused = error
    shares: dict[str, float] = {}
    if found is not None and rules is not None and file.conversion.quantity == "systolic":
        shares = dict(zip(rules.categories, rules.shares(found.converted), strict=True))
    return Beside(file=file, measured=measured, found=found, refused=refused, shares=shares)


def beside_object(told: Beside) -> JsonObject:
    """The same as JSON; what each member means is written in `schemas/chart.json`."""
    conversion, refused = told.file.conversion, told.refused
    return {
        **{name: getattr(conversion, name) for name in ("quantity", "converts_to", "study", "version")},
        "invented": told.file.invented,
        "measured": estimate_or_null(told.measured),
        "converted": None if told.found is None else estimate_or_null(told.found.converted),
        "categories": {name: share_or_null(share) for name, share in told.shares.items()},
        "refused": None if refused is None else {"code": refused.code, "says": refused.says, "remedy": refused.remedy},
        "fingerprint": told.file.fingerprint,
    }
