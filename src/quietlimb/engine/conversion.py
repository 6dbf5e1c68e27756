"""A conversion: what carries a pressure by one method over to what another would have shown, with its uncertainty.

It stands beside what was measured and never in its place; none is applied unless it is asked for by name, and none is
built in. It holds for the species, site, technique, instrument and cuffs that it was found in, and within the range of
pressures that it was found over: beyond them it is refused, because nothing was seen there.

Estimated from pairs in the room `agreement`, or entered from a study.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

from scipy.special import stdtrit

from quietlimb.engine.circumstances import Circumstances, Consciousness, Site, Species, Technique
from quietlimb.engine.errors import ConversionError
from quietlimb.engine.values import TWO_SIDED_95, Estimate


@dataclass(frozen=True, slots=True, kw_only=True)
class Conversion:
    """A straight line from a tested method to a reference, and how far a new animal may lie from it.

    quantity    : "systolic", "mean" or "diastolic"
    converts_to : what the reference is, in words: "arterial pressure, dorsal pedal catheter"
    species, site, technique : for which it holds
    instrument  : for which it holds; None where it was found over several
    cuff_shares : least and greatest cuff width over limb circumference that it was found with; None where not told
    sedation    : of the animals it was found in
    middle      : tested pressure about which the line turns [mmHg]
    at_middle   : reference there [mmHg]
    slope       : reference over tested, above 0
    middle_sd, slope_sd, correlation : standard errors of these two, and how they go together
    between_sd  : of animals around the line, the same for every reading of one; None where each had one pair, and then
                  `residual_sd` holds both [mmHg]
    residual_sd : of single pairs around their animal's level; it holds the scatter of either method [mmHg]
    df          : degrees of freedom of the prediction of a new animal
    low, high   : tested pressures that it was found over [mmHg]
    animals, pairs : that it rests on
    study       : citation of the study
    version     : of the conversion, to be told beside each converted pressure
    """

    quantity: str
    converts_to: str
    species: Species
    site: Site
    technique: Technique
    instrument: str | None = None
    cuff_shares: tuple[float, float] | None = None
    sedation: Consciousness
    middle: float
    at_middle: float
    slope: float
    middle_sd: float
    slope_sd: float
    correlation: float
    between_sd: float | None
    residual_sd: float
    df: float
    low: float
    high: float
    animals: int
    pairs: int
    study: str
    version: str

    def __post_init__(self) -> None:
        shares = self.cuff_shares or ()
        numbers = (self.middle, self.at_middle, self.slope, self.low, self.high, self.correlation, self.df, *shares)
        spreads = (self.middle_sd, self.slope_sd, self.residual_sd, self.between_sd or 0.0)
        if not all(math.isfinite(each) for each in (*numbers, *spreads)):
            raise ConversionError("not-finite", "a figure of the conversion is not finite", "give all of its figures")
        if self.slope <= 0.0:
            raise ConversionError(
                "no-relation",
                f"the slope of the conversion is {self.slope:g}: the reference does not rise with the method",
                "do not convert by this method",
            )
        if min(spreads) < 0.0 or abs(self.correlation) > 1.0 or self.df < 1.0 or not self.low < self.high:
            raise ConversionError(
                "impossible-conversion",
                "a spread is below 0, a correlation beyond 1, fewer than 1 degree of freedom, or the range is empty",
                "look at the figures of the conversion again",
            )
        if shares and not 0.0 < shares[0] <= shares[1]:
            raise ConversionError(
                "impossible-conversion",
                f"the cuffs were from {shares[0]:g} to {shares[1]:g} of the limb",
                "give the least share first, above 0",
            )
        if not self.study.strip() or not self.version.strip():
            raise ConversionError(
                "no-source",
                "the conversion names no study or no version",
                "name the study it comes from, and a version",
            )

    def line_sd(self, pressure: float) -> float:
        """Standard error of the line at a tested pressure. [mmHg]"""
        by_slope = (pressure - self.middle) * self.slope_sd
        return math.sqrt(max(0.0, self.middle_sd**2 + by_slope**2 + 2.0 * self.correlation * self.middle_sd * by_slope))

    @property
    def level_sd(self) -> float:
        """How far the level of a new animal may lie from the line. [mmHg]

        The spread between animals, with what scatter leaves in the mean of an animal's pairs: a spread that a small
        study took for none is not none. Where each animal had one pair, their whole scatter.
        """
        if self.between_sd is None:
            return self.residual_sd
        return math.hypot(self.between_sd, self.residual_sd * math.sqrt(self.animals / self.pairs))

    @property
    def scatter_sd(self) -> float:
        """By how much more one pair may lie from the line than an animal's level. [mmHg]"""
        whole = math.hypot(self.between_sd or 0.0, self.residual_sd)
        return math.sqrt(max(0.0, whole**2 - self.level_sd**2))

    def prediction_sd(self, pressure: float) -> float:
        """Standard deviation of one reference value of a new animal whose tested value is known. [mmHg]"""
        return math.hypot(self.line_sd(pressure), self.between_sd or 0.0, self.residual_sd)


@dataclass(frozen=True, slots=True, kw_only=True)
class Converted:
    """What was measured, and beside it what the other method would have shown."""

    measured: Estimate
    converted: Estimate
    conversion: Conversion

    @property
    def label(self) -> str:
        """Study and version, to be told beside the converted pressure."""
        return f"{self.conversion.study}, version {self.conversion.version}"


def convert(measured: Estimate, conversion: Conversion, circumstances: Circumstances, quantity: str) -> Converted:
    """The estimate converted, with the measured one beside it.

    Parameters
    ----------
    measured      : charted pressure or reading; only its value is held against the range of the conversion. [mmHg]
    circumstances : under which it was measured; a species, site, technique, instrument, cuff or sedation other than the
                    conversion's is refused, as is one that is not told; an animal of which nothing is told is awake.
    quantity      : of the estimate.

    Returns
    -------
    Converted : its `converted` can be passed to `interpret_systolic` like any estimate. The shared part is that of the
                level of an animal new to the conversion, in place of what was assumed of the method; the own part is
                the estimate's times the slope, or the scatter of single pairs where it tells none. Its 95 % use the t
                law of the study's degrees of freedom.

    Raises
    ------
    ConversionError : another quantity or unit, circumstances that it was not found under, a pressure beyond its range.
    """
    _check_circumstances(conversion, circumstances, quantity)
    if measured.unit != "mmHg":
        raise ConversionError(
            "not-mmhg", f"the estimate is in {measured.unit}", "a conversion takes mmHg: change the unit first"
        )
    x = measured.value
    if not conversion.low <= x <= conversion.high:
        raise ConversionError(
            "beyond-range",
            f"{x:.0f} mmHg lies beyond {conversion.low:.0f} to {conversion.high:.0f} mmHg, where {conversion.study} "
            "compared the methods",
            "report the pressure as measured",
        )
    slope = conversion.slope
    value = conversion.at_middle + slope * (x - conversion.middle)
    level_sd = math.hypot(conversion.line_sd(x), conversion.level_sd)
    # How single values scatter is in the estimate's own part already, where it has one.
    scatter = conversion.scatter_sd if measured.own_sd == 0.0 else 0.0
    assumed = measured.shared_sd or 0.0
    ends = []
    for spread in measured.spread_below_and_above:
        own = slope * math.sqrt(max(0.0, spread**2 - assumed**2))
        ends.append(math.hypot(_t_quantile(conversion.df) * math.hypot(level_sd, scatter), TWO_SIDED_95 * own))
    converted = replace(
        measured,
        value=value,
        low=value - ends[0],
        high=value + ends[1],
        own_sd=math.hypot(slope * measured.own_sd, scatter),
        shared_sd=level_sd,
    )
    return Converted(measured=measured, converted=converted, conversion=conversion)


def _t_quantile(df: float) -> float:
    return float(stdtrit(df, 0.975))


def _check_circumstances(conversion: Conversion, circumstances: Circumstances, quantity: str) -> None:
    wanted = {
        "quantity": (conversion.quantity, quantity),
        "species": (conversion.species, circumstances.species),
        "site": (conversion.site, circumstances.site),
        "method": (conversion.technique, circumstances.method),
        "sedation": (conversion.sedation, circumstances.sedation or "awake"),
    }
    if conversion.instrument is not None:
        wanted["instrument"] = (conversion.instrument, circumstances.instrument)
    for name, (of_conversion, given) in wanted.items():
        if of_conversion != given:
            raise ConversionError(
                f"other-{name}",
                f"{name} is {given or 'not told'}, and the conversion of {conversion.study} is for {of_conversion}",
                "report the pressure as measured, or use a conversion found under these circumstances",
            )
    if conversion.cuff_shares is None:
        return
    width, circumference = circumstances.cuff_width_cm, circumstances.limb_circumference_cm
    low, high = conversion.cuff_shares
    if width is None or circumference is None or not low <= width / circumference <= high:
        raise ConversionError(
            "other-cuff",
            "cuff width or limb circumference is not told"
            if width is None or circumference is None
            else f"the cuff is {width / circumference:.0%} of the limb",
            f"the conversion of {conversion.study} is for cuffs of {low:.0%} to {high:.0%} of the limb: report the "
            "pressure as measured",
        )
