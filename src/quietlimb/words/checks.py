"""Checks of instruments and cuffs as sentences: what was found, by which limit, what to do, and until when."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass

from quietlimb.engine.values import Cited
from quietlimb.instruments.checks import CheckFinding, CheckResult, CheckVerdict, Figure, Kind
from quietlimb.instruments.drift import Drift, Reach, Rule
from quietlimb.instruments.schedule import DAYS, Due, DueState, Scheduled
from quietlimb.words.dates import date_and_time
from quietlimb.words.language import _, mark, plural
from quietlimb.words.sources import source_and_standing

KINDS: Mapping[Kind, str] = {
    "static": mark("static accuracy"),
    "display": mark("display against manometer"),
    "leak": mark("leak"),
    "exhaust": mark("exhaust"),
    "bleed": mark("bleed valve"),
}

VERDICTS: Mapping[CheckVerdict, str] = {
    "passes": mark("passes"),
    "passes-crossing": mark("passes, but its interval reaches beyond the limit"),
    "fails-crossing": mark("fails, but its interval reaches within the limit"),
    "fails": mark("fails"),
    "not-judged": mark("cannot be judged"),
}

SHORT_VERDICTS: Mapping[CheckVerdict, str] = {
    "passes": mark("passes"),
    "passes-crossing": mark("passes, crossing"),
    "fails-crossing": mark("fails, crossing"),
    "fails": mark("fails"),
    "not-judged": mark("-"),
}

FIGURES: Mapping[str, str] = {
    "worst_error": mark("worst error"),
    "largest_error": mark("largest error"),
    "mean_error": mark("mean error"),
    "hysteresis": mark("falling minus rising"),
    "leak": mark("fastest fall"),
    "hold": mark("hold {number}"),
    "time": mark("time to let out"),
    "rate": mark("rate, all parts"),
    "slowest": mark("slowest part"),
    "fastest": mark("fastest part"),
}


@dataclass(frozen=True, slots=True, kw_only=True)
class CheckWording:
    """What a finding of a check says, and what to do about it; nothing where there is nothing to do."""

    says: str
    remedy: str | None = None


FINDINGS: Mapping[str, CheckWording] = {
    "one-direction-only": CheckWording(
        says=mark("The points were taken in one direction only, so nothing is said of hysteresis."),
        remedy=mark("Take them going up and coming down."),
    ),
    "few-points": CheckWording(
        says=mark("Different pressures: {points:.0f}; usual are {wanted:.0f} or more."),
        remedy=mark("Take 0, 50, 100, 150, 200 and 250 mmHg, as far as manometer and instrument go."),
    ),
    "narrow-range": CheckWording(
        says=mark("The points lie between {lowest_mmhg:.0f} and {highest_mmhg:.0f} mmHg; nothing is said of others."),
        remedy=mark("Take points from 50 or lower to 200 mmHg or higher, as far as manometer and instrument go."),
    ),
    "reference-uncertain": CheckWording(
        says=mark(
            "The manometer's own uncertainty, {expanded_mmhg:.1f} mmHg, is over a third of the limit of "
            "{limit_mmhg:.0f} mmHg."
        ),
        remedy=mark("Use a better manometer for a verdict that lies near the limit."),
    ),
    "zero-off": CheckWording(
        says=mark("Open to the air the instrument is off by {error_mmhg:+z.1f} mmHg."),
        remedy=mark("Set its zero if it has a way to, or have it serviced; then check again."),
    ),
    "hysteresis-large": CheckWording(
        says=mark("Falling and rising differ by {hysteresis_mmhg:+z.1f} mmHg, over the {limit_mmhg:.0f} of a dial."),
        remedy=mark("Have the instrument serviced: it moves with friction, or something in it has come loose."),
    ),
    "error-grows-with-pressure": CheckWording(
        says=mark("The error grows by {mmhg_per_100_mmhg:+.1f} mmHg from 100 mmHg to the next, in a straight line."),
        remedy=mark("Have it adjusted by the service."),
    ),
    "error-alike": CheckWording(
        says=mark("The error is much the same at all pressures, {mean_mmhg:+z.1f} mmHg on average."),
        remedy=mark("Set the zero if there is a way to; otherwise have it adjusted by the service."),
    ),
    "short-hold": CheckWording(
        says=mark("The pressure was held for {seconds:.0f} s; {wanted:.0f} s are the least."),
        remedy=mark("Let the cuff settle, then hold for 60 s, better 300 s."),
    ),
    "no-hold": CheckWording(
        says=mark("In no stretch of this recording was a cuff closed under pressure."),
        remedy=mark(
            "Record from before the inflation, and hold the pressure with all valves closed for {wanted:.0f} s."
        ),
    ),
    "still-settling": CheckWording(
        says=mark(
            "In the last half of {hold_s:.0f} s the pressure fell by {mmhg_per_min:.1f} mmHg/min, more than the limit; "
            "only taken for settling with a time constant of {settling_s:.0f} s does the rest keep it."
        ),
        remedy=mark("Hold for longer, 300 s, until the fall is steady, and check again."),
    ),
    "pressure-rises": CheckWording(
        says=mark("The pressure rises by {mmhg_per_min:.1f} mmHg/min in a closed cuff."),
        remedy=mark("Keep hands, sun and heating off the cuff, and see that no pump runs; then check again."),
    ),
    "low-only": CheckWording(
        says=mark("No pressure above {highest_mmhg:.0f} mmHg was held; a leak may open only at a higher one."),
        remedy=mark("Hold 250 mmHg as well, if manometer and instrument go so far."),
    ),
    "held-too-low": CheckWording(
        says=mark(
            "The highest pressure held was {highest_mmhg:.0f} mmHg. Below {wanted_mmhg:.0f} mmHg (our own figure) a "
            "leak can show, but a tight cuff cannot: it may open only at the pressure of a measurement."
        ),
        remedy=mark("Hold 250 mmHg, or as far as manometer and instrument go, and check again."),
    ),
    "starts-too-low": CheckWording(
        says=mark("The recording reaches {highest_mmhg:.0f} mmHg; the limit speaks of {needed_mmhg:.0f} mmHg."),
        remedy=mark("Inflate higher, if instrument and sensor are made for it, or choose a limit that starts lower."),
    ),
    "ends-too-high": CheckWording(
        says=mark("The recording ends at {lowest_mmhg:.0f} mmHg; the limit speaks of {needed_mmhg:.0f} mmHg."),
        remedy=mark("Record until the cuff is empty."),
    ),
    "no-fall": CheckWording(
        says=mark("No part of the valve's range was recorded from its beginning to its end."),
        remedy=mark("Record from above 250 mmHg to below 50 mmHg with the valve set once."),
    ),
    "opened-too-low": CheckWording(
        says=mark(
            "The fast fall began at {opened_mmhg:.0f} mmHg only; the limit speaks of {needed_mmhg:.0f} mmHg. What went "
            "before was no exhaust."
        ),
        remedy=mark("Open the valve fully above that pressure, and record on. If it was open, it is blocked."),
    ),
    "blocked": CheckWording(
        says=mark(
            "The pressure fell by {fallen_mmhg:.0f} mmHg in {seconds:.0f} s, never faster than "
            "{fastest_mmhg_per_s:.1f} mmHg/s, and ever slower: so does a valve that is open and blocked."
        ),
        remedy=mark(
            "Have it cleaned or replaced before it is used: a cuff that does not empty hurts. If the valve was not "
            "opened fully, record again while it is."
        ),
    ),
    "stayed-closed": CheckWording(
        says=mark(
            "On the whole the pressure fell by less than {slowest_mmhg_per_s:.1f} mmHg/s (our own choice): so does a "
            "cuff that stays closed. No exhaust was recorded."
        ),
        remedy=mark(
            "Record while the valve is opened fully. If it was open, it is blocked altogether: take it out of service, "
            "and have it cleaned or replaced before it is used."
        ),
    ),
    "no-exhaust": CheckWording(
        says=mark(
            "No exhaust was recorded: the pressure never fell faster than {fastest_mmhg_per_s:.1f} mmHg/s, and a fall "
            "under {wanted_mmhg_per_s:.0f} mmHg/s is taken for none (our own choice)."
        ),
        remedy=mark(
            "Record while the valve is opened fully. If it was open, it is blocked: have it cleaned or replaced before "
            "it is used."
        ),
    ),
    "no-bleed": CheckWording(
        says=mark(
            "The pressure fell by {slowest_mmhg_per_s:.2f} to {fastest_mmhg_per_s:.0f} mmHg/s: somewhere the cuff was "
            "closed or let out, and that is no bleed."
        ),
        remedy=mark(
            "Set the bleed valve once and record from above 250 mmHg to below 50 mmHg. If it was set and open, have it "
            "cleaned or replaced before it is used."
        ),
    ),
    "uneven-bleed": CheckWording(
        says=mark(
            "With the valve set once the pressure fell by {slowest_mmhg_per_s:.1f} to {fastest_mmhg_per_s:.1f} mmHg/s."
        ),
        remedy=mark("If the valve was not touched, have it cleaned or replaced."),
    ),
}

CAUTIONS: tuple[str, ...] = (
    mark("Never check on an animal or a person: the cuff belongs on a rigid cylinder or a rigid volume."),
    mark("Never go beyond the range of the manometer or of the instrument."),
    mark(
        "This proves sensor, tube, cuff and valve, not the way in which the instrument finds a pressure from pulses. "
        "The limits are those for people; a manometer certified elsewhere and the rules of your place come before them."
    ),
)

STATES: Mapping[DueState, str] = {"good": mark("good"), "due soon": mark("due soon"), "overdue": mark("overdue")}
SCHEDULED: Mapping[Scheduled, str] = {
    "look": mark("zero, tube and cuff looked at"),
    "static-aneroid": mark("static accuracy and leak of a dial"),
    "static-electronic": mark("static accuracy and leak of an electronic instrument"),
    "paired": mark("paired reading with another instrument"),
    "cuff": mark("leak and hook-and-loop of the cuff"),
}
RULES: Mapping[Rule, str] = {
    "jump": mark("{day}: the error lies outside what this instrument used to show."),
    "slow-drift": mark(
        "{day}: the weighted mean of the errors lies off the mean of the first five checks, or of all while fewer."
    ),
    "restless": mark("{day}: the error changed from the check before by more than it used to."),
}
REACHES: Mapping[Reach, str] = {
    "too-few": mark("Four checks since the last adjustment are needed to say where the error is going."),
    "passed": mark("The last check lies beyond the limit. Do not use the instrument; have it serviced."),
    "within-reach": mark("By a straight line the error passes {limit:g} mmHg {when}. Have it serviced before {by}."),
    "not-in-reach": mark(
        "By a straight line, its interval included, the error does not pass {limit:g} mmHg before {end}. That is as "
        "far as these checks reach; of later they say nothing."
    ),
}


def kind_name(kind: Kind) -> str:
    """Readable kind of check."""
    return _(KINDS[kind])


def verdict_words(verdict: CheckVerdict) -> str:
    """Readable verdict."""
    return _(VERDICTS[verdict])


def short_verdict(verdict: CheckVerdict) -> str:
    """The verdict in a table; a hyphen for a figure that is not judged."""
    return _(SHORT_VERDICTS[verdict])


def figure_name(name: str) -> str:
    """Readable name of a figure; `hold_2` is hold 2."""
    stem, _underscore, number = name.rpartition("_")
    return _(FIGURES["hold"]).format(number=number) if stem == "hold" else _(FIGURES[name])


def decimals(figure: Figure) -> int:
    """With how many decimals a figure is told: so many that rounding does not put it, or an end, across a limit."""
    edges = [limit.value for limit in (figure.least, figure.most) if limit is not None]
    for digits in (1, 2, 3):
        ends = [end for end in (figure.value, figure.low, figure.high) if math.isfinite(end)]
        if all(_side(float(f"{end:.{digits}f}"), edge) == _side(end, edge) for end in ends for edge in edges):
            return digits
    return 4


def _side(value: float, edge: float) -> int:
    """Below, on or above an edge; what is within rounding error of it counts as on it."""
    return 0 if math.isclose(value, edge, abs_tol=1e-9) else 1 if value > edge else -1


def figure_value(figure: Figure) -> str:
    """Value with its interval and unit: `+2.0 (+0.6 to +3.4) mmHg`."""
    sign = "+" if figure.unit == "mmHg" else ""
    form = f"{sign}z.{decimals(figure)}f"
    if math.isinf(figure.high):
        return _("over {value} {unit}").format(value=format(figure.value, form), unit=figure.unit)
    return _("{value} ({low} to {high}) {unit}").format(
        value=format(figure.value, form),
        low=format(figure.low, form),
        high=format(figure.high, form),
        unit=figure.unit,
    )


def at_words(figure: Figure) -> str:
    """` at 250 mmHg`; empty where it is of no one pressure."""
    return "" if figure.at_mmhg is None else _(" at {pressure:.0f} mmHg").format(pressure=figure.at_mmhg)


def limit_words(figure: Figure) -> str:
    """The limit with its source: `within 3 mmHg either way (...)`; empty without one."""
    least, most = figure.least, figure.most
    if most is None:
        return ""
    source = source_and_standing(most.source, most.standing)
    if least is None:
        return _("at most {most:g} {unit} {source}").format(most=most.value, unit=most.unit, source=source)
    if least.value == -most.value:
        return _("within {most:g} {unit} either way {source}").format(most=most.value, unit=most.unit, source=source)
    return _("{least:g} to {most:g} {unit} {source}").format(
        least=least.value, most=most.value, unit=most.unit, source=source
    )


def check_sentence(result: CheckResult) -> str:
    """Kind, first figure, limit and verdict in one sentence."""
    if not result.figures:
        return _("{kind}: {verdict}.").format(kind=kind_name(result.kind), verdict=verdict_words(result.verdict))
    name, figure = next(iter(result.figures.items()))
    return _("{kind}: {name} {value}{at}, {limit}: {verdict}.").format(
        kind=kind_name(result.kind),
        name=_("error worst against its limit") if "largest_error" in result.figures else figure_name(name),
        value=figure_value(figure),
        at=at_words(figure),
        limit=limit_words(figure),
        verdict=verdict_words(result.verdict),
    )


def says(finding: CheckFinding) -> str:
    """What a finding of a check says."""
    return _(FINDINGS[finding.code].says).format(**finding.numbers)


def remedy(finding: CheckFinding) -> str | None:
    """What to do about it."""
    wording = FINDINGS[finding.code].remedy
    return None if wording is None else _(wording).format(**finding.numbers)


def check_cautions() -> list[str]:
    """What must be kept in mind at every check."""
    return [_(caution) for caution in CAUTIONS]


def every_words(every: Cited) -> str:
    """How often, with the source: `every 6 months (...)`."""
    source = source_and_standing(every.source, every.standing)
    if every.unit == DAYS:
        told = plural("every day", "every {count:g} days", every.value)
    else:
        told = plural("every month", "every {count:g} months", every.value)
    return f"{told.format(count=every.value)} {source}"


def due_sentence(due: Due) -> str:
    """How a check stands: `due soon: by 3 March 2031`, `overdue: never done`."""
    state = _(STATES[due.state])
    if due.on is None:
        return _("{state}: never done").format(state=state)
    return _("{state}: by {day}").format(state=state, day=date_and_time(due.on.isoformat()))


def drift_sentences(drift: Drift) -> list[str]:
    """The slope, where the error is going, and what the chart says of the latest check."""
    forecast = drift.forecast
    told = []
    if forecast.slope is not None:
        told.append(
            _(
                "From {first} to {last} the error changed by {slope:+z.2f} mmHg a year (95 % interval {low:+z.2f} to "
                "{high:+z.2f}), from {count} checks."
            ).format(
                first=_day(drift.points[0].on),
                last=_day(drift.points[-1].on),
                slope=forecast.slope,
                low=forecast.slope_low,
                high=forecast.slope_high,
                count=len(drift.points),
            )
        )
    told.append(_forecast_sentence(drift))
    if drift.chart is not None:
        told += [_(RULES[each.rule]).format(day=_day(drift.points[each.at].on)) for each in drift.chart.signals]
        # of few checks the line above says already that they tell nothing yet
        if not drift.chart.signals and forecast.reach != "too-few":
            told.append(_("The control chart is quiet."))
    return told


def _forecast_sentence(drift: Drift) -> str:
    forecast = drift.forecast
    sentence = _(REACHES[forecast.reach])
    if forecast.reach == "within-reach":
        assert forecast.earliest is not None
        return sentence.format(limit=drift.limit.value, when=_when(drift), by=_day(forecast.earliest))
    assert forecast.reach_ends is not None
    return sentence.format(limit=drift.limit.value, end=_day(forecast.reach_ends))


def _when(drift: Drift) -> str:
    forecast = drift.forecast
    assert forecast.earliest is not None
    assert forecast.reach_ends is not None
    earliest, end = _day(forecast.earliest), _day(forecast.reach_ends)
    if forecast.on is None:
        return _("perhaps from {earliest} on, or not before {end}, the end of what these checks reach").format(
            earliest=earliest, end=end
        )
    latest = (
        _("later than {end}, beyond the reach of these checks").format(end=end)
        if forecast.latest is None
        else _day(forecast.latest)
    )
    return _("on {on} (95 % interval {earliest} to {latest})").format(
        on=_day(forecast.on), earliest=earliest, latest=latest
    )


def _day(day: object) -> str:
    return date_and_time(str(day))
