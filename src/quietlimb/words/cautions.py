"""Cautions as sentences."""

from __future__ import annotations

from collections.abc import Mapping

from quietlimb.engine.interpretation.interpretation import Caution
from quietlimb.engine.standards.cuff_width import NARROWEST_ACCEPTED, WIDEST_ACCEPTED
from quietlimb.words.language import _, mark
from quietlimb.words.numerals import with_percent
from quietlimb.words.sources import sources_and_standings

SENTENCES: Mapping[str, str] = {
    "emergency-signs": mark(
        "Sudden blindness, collapse, fits or breathlessness: see a veterinarian now, whatever the number."
    ),
    "hardly-ever-so-high": mark(
        "A systolic pressure of {from_mmhg:.0f} mmHg and more is hardly ever seen: compare the number with the "
        "display, and repeat the reading at once with the cuff laid anew. The animal is looked at all the same."
    ),
    "may-be-low": mark(
        "The pressure may be under {limit_mmhg:.0f} mmHg, with a probability of {share_percent:.0f} %: look at the "
        "animal, and confirm it at once by another cuff or at another site."
    ),
    "weakness-not-told": mark(
        "Under {below_mmhg:.0f} mmHg under treatment, an animal that is weak, faint or has a fast heart has to be "
        "looked at anew; whether it is was not told."
    ),
    "sedated": mark(
        "The animal was sedated or anaesthetised; the pressure cannot be compared with pressures taken awake, and gets "
        "no risk category."
    ),
    "still-falling": mark(
        "The pressure fell through the session, and may not have come to its end: the level that it comes to may be "
        "lower than the charted pressure."
    ),
    "still-rising": mark(
        "The pressure rose through the session, and may not have come to its end: the level that it comes to may be "
        "higher than the charted pressure."
    ),
    "not-consistent": mark(
        "The readings did not meet the guideline's rule of less than {limit_percent:.0f} % variability: no category is "
        "given, and this session counts for no status."
    ),
    "consistent-but-for-spoiled": mark(
        "With every reading the guideline's rule of less than {limit_percent:.0f} % variability is not met, so its "
        "average gets no category; without those that lie far from the series it is met. The category "
        "is that of the charted pressure."
    ),
    "few-readings": mark(
        "Usable readings: {taken:.0f} taken, {kept:.0f} left after the first is dropped; the guideline asks for "
        "{needed:.0f} or more. The next one may change the picture: take more if the animal allows it, otherwise "
        "repeat the session."
    ),
    "cuff-does-not-fit": mark(
        "The cuff width was {ratio_percent:.1f} % of the limb circumference, outside {narrowest_percent:.0f} to "
        "{widest_percent:.0f} %: a narrow cuff reads high, a wide one low. Repeat with a cuff that fits; the number is "
        "not corrected."
    ),
    "cuff-off-heart-level": mark(
        "The cuff lay {cm_size:g} cm {cm_side} the heart: by the weight of the blood between them the pressure "
        "{cm_effect} by some {mmhg_size:.0f} mmHg. Repeat with the cuff at heart level; the number is not corrected."
    ),
    "height-counted-by-guideline": mark(
        "At more than {limit_cm:.0f} cm the guideline counts the height in. Animals have shown more than the column of "
        "blood weighs, and less, so it is not done here."
    ),
    "short-acclimatisation": mark(
        "The animal had {minutes:g} min to settle; the guideline asks for {needed_minutes:g} min or more."
    ),
    "settled-under-an-hour": mark(
        "The cat had {minutes:g} min to settle. One study asks for {hour_minutes:g} min, and even then healthy cats "
        "stood {above_mmhg:.0f} mmHg above their pressure at home on average."
    ),
    "near-boundary": mark(
        "A category boundary lies within the 95 % interval of this pressure, or within {within_mmhg:.0f} mmHg of it: "
        "the pressure may belong to the next category, and little would move it there."
    ),
    "one-method-one-day": mark(
        "An estimate from readings of one method on one day, and no diagnosis. Usable readings: {readings:.0f}."
    ),
    "one-session": mark(
        "This is one session. Without organ damage a label needs {sessions:.0f} sessions or more on different days."
    ),
    "organs-not-examined": mark(
        "Organs not examined or unclear: {unknown:.0f} of 4. Damage cannot be called absent there."
    ),
    "eyes-not-examined": mark(
        "An examination of both eyes with widened pupils is not in the record; damage there cannot be called absent."
    ),
    "other-eye-not-examined": mark("One eye is damaged and the other was not examined, or is unclear: look at both."),
    "breed-differs": mark(
        "This breed is known to run higher or lower than others. What is printed are means and no limits of normal, so "
        "the category is that of every breed."
    ),
    "drug-in-record": mark(
        "Drugs in the record that can raise or lower the pressure: {count:.0f}. What that means here is for the "
        "veterinarian to weigh."
    ),
    "condition-in-record": mark(
        "Illnesses in the record that go with high pressure: {count:.0f}. They make it more likely and need their own "
        "care."
    ),
    "change-within-variation": mark(
        "The change of {change_mmhg:+.0f} mmHg since the last session is smaller than chance alone makes between two "
        "sessions ({least_mmhg:.0f} mmHg): it proves no change."
    ),
    "not-comparable-with-last": mark(
        "The last session was by another method or at another site: the two pressures are not compared."
    ),
    "usual-first-fall": mark(
        "In cats that begin at 160 to 200 mmHg a first treatment usually lowers the pressure by {from_mmhg:.0f} to "
        "{to_mmhg:.0f} mmHg, which is about what chance alone can make between two sessions."
    ),
    "dogs-often-stay-high": mark(
        "In one series {stayed:.0f} of {treated:.0f} treated dogs with kidney disease stayed high: a look above the "
        "goal is no surprise."
    ),
    "recheck-texts-differ": mark(
        "Published texts differ on when to measure next in this case: from {from_days:.0f} to {to_days:.0f} days."
    ),
    "diastolic-in-higher-category": mark(
        "The diastolic pressure of {diastolic_mmhg:.0f} mmHg would fall into a higher category of this rule set. It is "
        "the least certain by cuff, so the category is that of the systolic pressure."
    ),
    "below-healthy-cats": mark(
        "Under {from_mmhg:g} mmHg, where healthy awake cats by Doppler begin: see how the animal is."
    ),
    "situational-rise": mark(
        "The visit alone can raise a cat's systolic pressure by {from_mmhg:.0f} to {to_mmhg:.0f} mmHg on average, by "
        "{arrival_mmhg:.0f} just after arrival, and did so by {largest_mmhg:.0f} mmHg in one cat; in another it "
        "lowered it by {lowest_mmhg:.0f}. Nothing is subtracted for it."
    ),
    "situational-rise-dogs": mark(
        "The visit alone can raise the pressure: in one study dogs stood {by_mmhg:.0f} mmHg higher in hospital than at "
        "home on average, single animals by far more. Nothing is subtracted for it."
    ),
    "normal-today-only": mark("A normal pressure today does not rule out high pressure at other times."),
    "higher-at-home": mark(
        "Normal here, but {home_mmhg:.0f} mmHg at home: a high pressure that the visit hides has been reported in cats "
        "and dogs."
    ),
    "accuracy-falls-at-extremes": mark(
        "Cuff methods are less accurate at very high, very low and very uneven pressure; at high pressure they tend to "
        "read low."
    ),
    "diastolic-least-certain": mark("Of the pressures by cuff, the diastolic is the least certain."),
    "no-indirect-method-proven": mark(
        "No cuff device is proven to meet every published accuracy criterion in awake cats and dogs at all pressures."
    ),
    "never-compare-methods": mark(
        "Pressures by different methods, devices, sites or cuffs are not comparable with one another."
    ),
    "other-rule-sets-differ": mark(
        "Published rule sets that would say something else here: {count:.0f}. Which to follow is for the veterinarian "
        "to choose."
    ),
    "veterinarian-decides": mark(
        "This is an estimate, not a diagnosis. Diagnosis, drugs and doses are for the licensed veterinarian."
    ),
    "not-a-certified-device": mark("Quietlimb is not a certified medical device."),
}

_FEW_READINGS_NONE_DROPPED = mark(
    "Usable readings: {taken:.0f}; the guideline asks for {needed:.0f} or more. The next one may change the picture: "
    "take more if the animal allows it, otherwise repeat the session."
)


def sentence(caution: Caution) -> str:
    """The caution in one or two sentences, with its numbers and where those stand that are not of this session."""
    told = _without_sources(caution)
    return f"{told} {sources_and_standings(caution.sources)}" if caution.sources else told


def _without_sources(caution: Caution) -> str:
    told: dict[str, float | str] = {**with_percent(caution.numbers)}
    if "ratio" in caution.numbers:
        told["narrowest_percent"] = 100.0 * NARROWEST_ACCEPTED.value
        told["widest_percent"] = 100.0 * WIDEST_ACCEPTED.value
    if "cm" in caution.numbers:
        below = caution.numbers["cm"] > 0
        told["cm_size"] = round(abs(caution.numbers["cm"]), 1)
        told["mmhg_size"] = abs(caution.numbers["mmhg"])
        told["cm_side"] = _("below") if below else _("above")
        told["cm_effect"] = _("reads high") if below else _("reads low")
    if caution.code == "few-readings" and caution.numbers["taken"] == caution.numbers["kept"]:
        return _(_FEW_READINGS_NONE_DROPPED).format(**told)
    return _(SENTENCES[caution.code]).format(**told)
