"""Findings as sentences: what was seen, and what to do about it. The limb moves; nobody is at fault."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping
from dataclasses import dataclass

from quietlimb.engine.findings import Finding
from quietlimb.engine.standards.cuff_width import NARROWEST_ACCEPTED, WIDEST_ACCEPTED
from quietlimb.words.language import _, mark
from quietlimb.words.numerals import with_percent


@dataclass(frozen=True, slots=True, kw_only=True)
class Wording:
    """says for a finding, `says_at` where the cuff pressure at that moment is known, `says_told` where somebody gave a
    reason, and the remedy.

    `remedy` is None where there is nothing to do; `remedy_of_note` stands in its place where the finding is a note and
    lets the reading count.
    """

    says: str
    says_at: str | None = None
    says_told: str | None = None
    remedy: str | None
    remedy_of_note: str | None = None


WORDINGS: Mapping[str, Wording] = {
    "no-deflation": Wording(
        says=mark("The pressure fell by only {fall_mmhg:.0f} mmHg, so there is no deflation to read."),
        remedy=mark("Record from the full cuff until it is empty."),
    ),
    "fall-not-read": Wording(
        says=mark(
            "The pressure fell by {fall_mmhg:.0f} mmHg, but in no stretch slowly enough, and long enough, to be read."
        ),
        remedy=mark("Let the cuff deflate more slowly, and record from the full cuff until it is empty."),
    ),
    "no-pulse": Wording(
        says=mark("No pulse of the artery could be found in the cuff."),
        remedy=mark(
            "See that the cuff lies snug over the artery and that the tube is free, then take another reading."
        ),
    ),
    "few-pulses": Wording(
        says=mark("Pulses that could be used: {pulses:.0f}; needed: {needed:.0f}."),
        remedy=mark("Let the cuff deflate more slowly and take another reading."),
    ),
    "weak-pulse": Wording(
        says=mark("The largest pulse was {peak_mmhg:.2f} mmHg high, over a noise of {noise_mmhg:.2f} mmHg."),
        remedy=mark("See that the cuff lies snug over the artery, warm a cold limb, then take another reading."),
    ),
    "systolic-side-missing": Wording(
        says=mark(
            "The pulses were already large when the record began at {highest_mmhg:.0f} mmHg, so the systolic pressure "
            "cannot be read."
        ),
        remedy=mark("Inflate to {inflate_to_mmhg:.0f} mmHg next time."),
    ),
    "diastolic-side-missing": Wording(
        says=mark(
            "The pulses were still large when the record ended at {lowest_mmhg:.0f} mmHg, so the diastolic pressure "
            "cannot be read."
        ),
        remedy=mark("Let the cuff deflate further before it is emptied."),
    ),
    "limb-moved": Wording(
        says=mark("The limb moved: pulses over {seconds:.1f} s are disturbed. It may have moved for longer."),
        says_at=mark(
            "The limb moved while the pressure fell through {at_mmhg:.0f} mmHg: pulses over {seconds:.1f} s are "
            "disturbed. It may have moved for longer."
        ),
        remedy=mark("Let the limb rest and take another reading."),
        remedy_of_note=mark("By itself this spoils no reading; let the limb rest before the next one."),
    ),
    "limb-kept-moving": Wording(
        says=mark(
            "The limb kept moving: pulses over {seconds:.1f} s are disturbed, {share_percent:.0f} % of the part that "
            "counts."
        ),
        remedy=mark("Empty the cuff, let the animal rest, then take another reading."),
    ),
    "limb-loaded": Wording(
        says=mark(
            "Beside its fall the cuff pressure wandered by {wander_mmhg:.1f} mmHg, as when weight comes upon the "
            "limb and goes."
        ),
        remedy=mark("See that the animal does not lean or lie on the cuff, and take another reading."),
    ),
    "irregular-rhythm": Wording(
        says=mark("The pulses came irregularly: their intervals vary by {interval_cv_percent:.0f} %."),
        remedy=mark("Take more readings, and let the veterinarian listen to the heart."),
    ),
    "vibration": Wording(
        says=mark(
            "A vibration of {frequency_hz:.0f} Hz, {amplitude_mmhg:.1f} mmHg high, rode on the pressure, as purring or "
            "shivering makes it."
        ),
        remedy=mark("Wait until it has passed and take another reading."),
        remedy_of_note=mark("By itself this spoils no reading; wait until it has passed before the next one."),
    ),
    "vibration-alias": Wording(
        says=mark(
            "A vibration rode on the pressure, seen at {frequency_hz:.1f} Hz; at {sampling_hz:.0f} samples a second "
            "its overtone looks like a pulse of {looks_like_per_min:.0f} a minute."
        ),
        remedy=mark("Record at 100 or more samples a second, or wait until the vibration has passed."),
    ),
    "rate-doubled": Wording(
        says=mark(
            "Every second pulse is {share_percent:.0f} % smaller than its neighbours; if these are no pulses, the rate "
            "is {other_per_min:.0f} a minute."
        ),
        remedy=mark("Count the pulse by hand or with a stethoscope."),
    ),
    "rate-halved": Wording(
        says=mark(
            "Between two pulses stands a wave {share_percent:.0f} % as high; if it is a pulse, the rate is "
            "{other_per_min:.0f} a minute."
        ),
        remedy=mark("Count the pulse by hand or with a stethoscope."),
    ),
    "one-pulse-a-step": Wording(
        says=mark(
            "Between {share_percent:.0f} % of the pulses and the next the valve opened; it may have hidden pulses, and "
            "the rate may be higher."
        ),
        remedy=mark("Let the cuff stay on each step until two pulses have passed."),
    ),
    "deflation-too-fast": Wording(
        says=mark("The pressure fell by {mmhg_per_pulse:.1f} mmHg from one pulse to the next."),
        remedy=mark("Let the cuff deflate more slowly."),
    ),
    "leak": Wording(
        says=mark("On the level stretches between the steps the cuff lost {mmhg_per_s:.1f} mmHg a second: it leaks."),
        remedy=mark("Check cuff, tube and connections before the next reading."),
    ),
    "no-envelope": Wording(
        says=mark(
            "The {pulses:.0f} pulses hardly rise and fall with the cuff pressure, as pulses of an artery do; a valve, "
            "a movement or an empty cuff can look like this."
        ),
        remedy=mark("See that the cuff sits on the artery and that the animal is at rest, then take another reading."),
    ),
    "two-peaked": Wording(
        says=mark(
            "The pulse heights have two peaks, at {lower_mmhg:.0f} and {upper_mmhg:.0f} mmHg, with a dip of "
            "{dip_percent:.0f} % between them."
        ),
        remedy=mark("See that the cuff has not shifted and that the limb rests, then take another reading."),
    ),
    "poor-fit": Wording(
        says=mark(
            "The pulse heights do not follow the course that an artery under a cuff takes (misfit {misfit:.1f})."
        ),
        remedy=mark("Look at the picture before this reading is used, and take another."),
    ),
    "families-disagree": Wording(
        says=mark(
            "Kinds of artery that explain these pulse heights equally well put the systolic pressure up to "
            "{spread_mmhg:.0f} mmHg apart."
        ),
        remedy=mark("Take more readings; if they agree, the interval still holds what they cannot tell."),
    ),
    "wide-interval": Wording(
        says=mark("{quantity}: known only to within {half_width_mmhg:.0f} mmHg either way."),
        remedy=mark("Take more readings."),
    ),
    "coarse-steps": Wording(
        says=mark(
            "The sensor shows steps of {step_mmhg:.2g} mmHg, and the largest pulse is {peak_mmhg:.2g} mmHg high."
        ),
        remedy=mark(
            "Record with a sensor whose steps are under a third of the pulse, 0.1 mmHg or finer; if it has those, see "
            "that the cuff lies snug over the artery and warm a cold limb."
        ),
    ),
    "saturated": Wording(
        says=mark("The sensor stood at its limit of {at_mmhg:.0f} mmHg for {seconds:.1f} s."),
        remedy=mark("Inflate less, or use a sensor that reaches higher."),
    ),
    "samples-missing": Wording(
        says=mark(
            "No samples came for {seconds:.1f} s in all; gaps: {gaps:.0f}. What the pulse did there is not known."
        ),
        says_at=mark(
            "No samples came for {seconds:.1f} s in all; gaps: {gaps:.0f}, the longest at {at_mmhg:.0f} mmHg. What the "
            "pulse did there is not known."
        ),
        remedy=mark("See that sensor, line and plug hold, and take another reading."),
        remedy_of_note=mark(
            "By itself this spoils no reading; see that sensor, line and plug hold before the next one."
        ),
    ),
    "cut-above": Wording(
        says=mark("The recording was cut off by the sensor at {pressure_mmhg:.0f} mmHg; what lies above is not in it."),
        remedy=mark("Check the sensor's connection and read again."),
        remedy_of_note=mark("By itself this spoils no reading; check the sensor's connection before the next one."),
    ),
    "cut-below": Wording(
        says=mark("The recording was cut off by the sensor at {pressure_mmhg:.0f} mmHg; what lies below is not in it."),
        remedy=mark("Check the sensor's connection and read again."),
        remedy_of_note=mark("By itself this spoils no reading; check the sensor's connection before the next one."),
    ),
    "capture-cut": Wording(
        says=mark("The capture broke off at {pressure_mmhg:.0f} mmHg; what lies below is not in the recording."),
        remedy=mark("Take another reading."),
        remedy_of_note=mark("By itself this spoils no reading."),
    ),
    "cuff-loose": Wording(
        says=mark(
            "The largest pulse was only {peak_mmhg:.2f} mmHg high, as under a cuff that hangs loosely; a loose cuff "
            "reads high."
        ),
        remedy=mark("See that the cuff lies snug around the limb."),
    ),
    "cuff-narrow": Wording(
        says=mark(
            "The cuff is {width_cm:g} cm wide, {ratio_percent:.1f} % of the {circumference_cm:g} cm around the limb: a "
            "narrow cuff reads high."
        ),
        remedy=mark("Take a cuff {narrowest_cm:.1f} to {widest_cm:.1f} cm wide."),
    ),
    "cuff-wide": Wording(
        says=mark(
            "The cuff is {width_cm:g} cm wide, {ratio_percent:.1f} % of the {circumference_cm:g} cm around the limb: a "
            "wide cuff reads low."
        ),
        remedy=mark("Take a cuff {narrowest_cm:.1f} to {widest_cm:.1f} cm wide."),
    ),
    "set-aside": Wording(
        says=mark("Set aside by whoever took it."),
        says_told=mark("Set aside by whoever took it: {told}."),
        remedy=None,
    ),
    "mean-outside-pulse": Wording(
        says=mark(
            "The mean pressure lies at {share_percent:.0f} % of the way from diastolic to systolic; 25 to 60 % is "
            "usual."
        ),
        remedy=mark("Compare the three numbers with the display."),
    ),
    "diastolic-by-doppler": Wording(
        says=mark("A diastolic pressure by Doppler is not reliable."),
        remedy=mark("Chart the systolic pressure alone."),
    ),
    "far-from-series": Wording(
        # The series gives such a reading little weight by itself; asking for its removal would invite picking.
        says=mark("This reading lies {distance_mmhg:.0f} mmHg from the course of the others and counts for little."),
        remedy=None,
    ),
    "one-reading-only": Wording(
        says=mark("There is one reading only, so nothing shows how far the next would differ."),
        remedy=mark("Take more readings under the same circumstances."),
    ),
    "no-usable-reading": Wording(
        says=mark("No reading could be used (taken: {readings:.0f}), so no pressure is charted."),
        remedy=mark("Let the animal rest, try another cuff or site, and start again."),
    ),
    "not-consistent": Wording(
        says=mark(
            "The systolic readings differ by {spread_percent:.0f} %; the guideline accepts less than "
            "{limit_percent:.0f} %."
        ),
        remedy=mark("Try another cuff, site or room, or a longer rest, and start again."),
    ),
    "still-falling": Wording(
        says=mark("The pressure was still falling by {mmhg_per_min:.1f} mmHg a minute at the end."),
        remedy=mark("Go on until the readings level off."),
    ),
    "same-value-repeated": Wording(
        says=mark("The value {value:g} stands {times:.0f} times in a row."),
        remedy=mark("Compare the numbers with the display."),
    ),
    "long-pause": Wording(
        says=mark(
            "Between two of the readings lay {minutes:.0f} minutes: that is hardly one session, and a level over such "
            "a time is not known from them."
        ),
        remedy=mark("Check the minutes; if they are right, chart each session by itself."),
    ),
}

_UNSIGNED = ("distance_mmhg", "mmhg_per_min", "fall_mmhg", "mmhg_per_pulse")


_QUANTITIES: Mapping[str, str] = {
    "systolic": mark("Systolic pressure"),
    "mean": mark("Mean pressure"),
    "diastolic": mark("Diastolic pressure"),
    "pulse_rate": mark("Pulse rate"),
}


def _quantity(finding: Finding) -> str:
    """What the finding is about, fit to begin a sentence."""
    named = [_(_QUANTITIES[name]) for name in finding.touches]
    return ", ".join(named) if named else _("Pressure")


def _told(finding: Finding) -> dict[str, float | str]:
    return {**_numbers(finding), "quantity": _quantity(finding), "told": finding.told or ""}


def _numbers(finding: Finding) -> dict[str, float]:
    numbers = with_percent(finding.numbers)
    for name in _UNSIGNED:
        if name in numbers:
            numbers[name] = abs(numbers[name])
    if finding.at_mmhg is not None:
        numbers.setdefault("at_mmhg", finding.at_mmhg)
    if "circumference_cm" in numbers:
        numbers["narrowest_cm"] = NARROWEST_ACCEPTED.value * numbers["circumference_cm"]
        numbers["widest_cm"] = WIDEST_ACCEPTED.value * numbers["circumference_cm"]
    return numbers


def says(finding: Finding) -> str:
    """What was seen, in one sentence with its numbers."""
    wording = WORDINGS[finding.code]
    sentence = wording.says
    if wording.says_at is not None and finding.at_mmhg is not None:
        sentence = wording.says_at
    elif wording.says_told is not None and finding.told:
        sentence = wording.says_told
    return _(sentence).format(**_told(finding))


def remedy(finding: Finding) -> str | None:
    """What to do about it, in one sentence; None where there is nothing to do."""
    wording = WORDINGS[finding.code]
    of_note = wording.remedy_of_note if finding.severity == "note" else None
    sentence = of_note or wording.remedy
    return None if sentence is None else _(sentence).format(**_told(finding))


def of_values_given(findings: Iterable[Finding], given: Collection[str]) -> tuple[Finding, ...]:
    """The findings without those that tell how well a value is known that is not given at all.

    given : names of the values that stand in the result: systolic, mean, diastolic, pulse_rate
    """
    return tuple(
        finding
        for finding in findings
        if finding.code != "wide-interval" or not finding.touches or any(name in given for name in finding.touches)
    )
