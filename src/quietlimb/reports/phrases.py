"""Phrases that the chart note and the page share: numbers as they are printed, and the parts of a session in words."""

from __future__ import annotations

from collections.abc import Mapping

from quietlimb.engine.findings import Finding
from quietlimb.engine.interpretation.interpretation import Advice, Interpretation
from quietlimb.engine.session.charted import ChartedPressure, GuidelineAverage, ReadingInSeries
from quietlimb.engine.session.two_values import TOLD_FROM_MMHG, Cause, TwoValues
from quietlimb.engine.values import Estimate
from quietlimb.words import advice as advice_words
from quietlimb.words import cautions as caution_words
from quietlimb.words import courses as course_words
from quietlimb.words import findings as finding_words
from quietlimb.words.advice import Reader
from quietlimb.words.categories import decimals
from quietlimb.words.language import _, mark, plural
from quietlimb.words.numerals import days, percent
from quietlimb.words.sources import standing_name

# These two stand at the foot of every page and every note; they are not repeated among the others.
ALWAYS_AT_THE_FOOT = ("veterinarian-decides", "not-a-certified-device")

CAUSES: Mapping[Cause, str] = {
    "fall-averaged-in": mark("a fall averaged in"),
    "rise-averaged-in": mark("a rise averaged in"),
    "far-readings-averaged-in": mark("readings far from the series averaged in"),
    "scatter": mark("scatter"),
}


def digits_of(charted: ChartedPressure, interpretation: Interpretation | None) -> int:
    """Decimals of the charted systolic pressure: as many as keep it on its side of a boundary."""
    return decimals(interpretation, None if charted.systolic is None else charted.systolic.value)


def with_interval(estimate: Estimate, digits: int = 0) -> str:
    """`148 (142 to 155)`; all three with the same decimals."""
    return f"{estimate.value:.{digits}f} ({interval(estimate, digits)})"


def interval(estimate: Estimate, digits: int = 0) -> str:
    """`142 to 155`."""
    low, high = (f"{limit:.{digits}f}" for limit in (estimate.low, estimate.high))
    return _("{low} to {high}").format(low=low, high=high)


def ended(text: str) -> str:
    """The text as a sentence: with a full stop, unless it has its own end already."""
    return text if text.rstrip().endswith((".", "!", "?", "…")) else text + "."


def ordinals(numbers: tuple[int, ...]) -> str:
    """Reading numbers with runs joined: `2, 4 to 6`."""
    runs: list[list[int]] = []
    for number in numbers:
        if runs and number == runs[-1][-1] + 1:
            runs[-1].append(number)
        else:
            runs.append([number])
    told = []
    for run in runs:
        if len(run) > 2:
            told.append(_("{first} to {last}").format(first=run[0], last=run[-1]))
        else:
            told += [str(number) for number in run]
    return ", ".join(told)


def guideline_line(average: GuidelineAverage | None, digits: int = 0) -> str:
    """The guideline average with the readings it took and whether its own rule was met.

    With decimals, of the systolic pressure alone, each value is named: a row of numbers must be all of one kind.
    """
    if average is None:
        return _("none, no reading could be used")
    if average.systolic is None:
        return _("none, no reading was kept after the first was dropped")
    numbers = [f"{average.systolic:.{digits}f}"]
    names = [_("systolic")]
    for name, value in ((_("mean"), average.mean), (_("diastolic"), average.diastolic)):
        if value is not None:
            numbers.append(f"{value:.0f}")
            names.append(name)
    named = ", ".join(f"{number} {name}" for number, name in zip(numbers, names, strict=True))
    enough = "" if average.enough else _(", fewer readings than it asks for")
    return _("{values} from {kept}{but}, {met}{enough}").format(
        values=named if digits else "/".join(numbers),
        kept=_readings(average.kept),
        but=_left_out(average),
        met=_met(average),
        enough=enough,
    )


def _left_out(average: GuidelineAverage) -> str:
    """Whose mean or diastolic value is not in its average, with a comma before each."""
    names = {"mean": _("mean"), "diastolic": _("diastolic")}
    without = _(", {name} without {readings}")
    return "".join(
        without.format(name=names[part], readings=_readings(numbers)) for part, numbers in average.left_out.items()
    )


def rule_line(average: GuidelineAverage) -> str:
    """The rule that it follows, with how far its numbers were verified."""
    return f"{average.rule} ({standing_name(average.protocol.standing)})"


def _met(average: GuidelineAverage) -> str:
    """Whether the rule on consistency was met; one reading has nothing to be consistent with."""
    if average.spread is None:
        return _("whether it is consistent cannot be judged")
    return _("consistent") if average.consistent else _("not consistent")


def _readings(numbers: tuple[int, ...]) -> str:
    """`reading 2`, `readings 2, 4 to 6`."""
    return plural("reading {numbers}", "readings {numbers}", len(numbers)).format(numbers=ordinals(numbers))


def two_values_line(two: TwoValues) -> str:
    """Why the guideline average stands apart from the charted pressure, part by part."""
    parts = [
        _("{mmhg:+.1f} {cause} ({readings})").format(
            mmhg=part.mmhg, cause=_(CAUSES[part.cause]), readings=_readings(part.readings)
        )
        for part in two.parts
        if abs(part.mmhg) >= TOLD_FROM_MMHG
    ]
    return _("guideline average minus charted pressure {difference:+.1f} mmHg: {parts}").format(
        difference=two.difference_mmhg, parts="; ".join(parts)
    )


def course_line(charted: ChartedPressure) -> str:
    """The course with its probability: `level (71 %)`; that there is none of one reading."""
    if charted.systolic is not None and charted.fall_mmhg is None:
        return course_words.no_course()
    name = course_words.charted_course(charted)
    order = ("level", "falling", "rising")
    if charted.course not in order:
        return name
    return f"{name} ({percent(charted.course_probability[order.index(charted.course)])})"


def finding_line(finding: Finding) -> str:
    """What was seen and, where there is something to do, the remedy."""
    remedy = finding_words.remedy(finding)
    return f"{finding_words.says(finding)} {remedy}" if remedy else finding_words.says(finding)


def why(judged: ReadingInSeries) -> str:
    """Why a reading is not simply kept: its worst finding as a sentence, and how many more there are."""
    order = {"spoils": 0, "doubt": 1}
    told = sorted((f for f in judged.findings if f.severity in order), key=lambda f: order[f.severity])
    if not told:
        return ""
    more = _(" (and {count} more)").format(count=len(told) - 1) if len(told) > 1 else ""
    return finding_words.says(told[0]) + more


def advice_line(advice: Advice, *, to: Reader = "anyone") -> str:
    """What to do, told to whoever reads it; the window in front when the sentence itself does not name it."""
    sentence = advice_words.sentence(advice, to=to)
    if advice.within_days is None or days(advice.within_days) in sentence:
        return sentence
    return f"{days(advice.within_days)}: {sentence}"


def caution_lines(interpretation: Interpretation | None) -> list[str]:
    """The cautions that apply here, without those at the foot."""
    if interpretation is None:
        return []
    return [caution_words.sentence(c) for c in interpretation.cautions if c.code not in ALWAYS_AT_THE_FOOT]
