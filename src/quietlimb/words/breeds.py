"""What is printed about a breed, as a sentence."""

from __future__ import annotations

from quietlimb.engine.standards import breeds
from quietlimb.engine.standards.breeds import BreedRemark
from quietlimb.words.language import _
from quietlimb.words.sources import source_and_standing


def breed_sentence(remark: BreedRemark) -> str:
    """How the breed's pressures run, with the source, and that the category stays as it is."""
    parts = []
    if remark.tendency == "higher":
        parts.append(
            _("Sighthounds run about {low:.0f} to {high:.0f} mmHg above other dogs {source}.").format(
                low=breeds.SIGHTHOUND_RISE_FROM.value,
                high=breeds.SIGHTHOUND_RISE_TO.value,
                source=source_and_standing(remark.source, remark.standing),
            )
        )
    elif remark.tendency == "lower" and remark.systolic_mmhg is None:
        parts.append(
            _("For {breed} a pressure below that of other cats is in print {source}.").format(
                breed=remark.breed, source=source_and_standing(remark.source, remark.standing)
            )
        )
    if remark.systolic_mmhg is not None:
        parts.append(_mean(remark))
    if remark.kidneys:
        parts.append(
            _(
                "Retired racers stood at {home:.0f} mmHg at home and at {hospital:.0f} mmHg in hospital {source}."
            ).format(
                home=breeds.GREYHOUND_HOME.value,
                hospital=breeds.GREYHOUND_HOSPITAL.value,
                source=source_and_standing(breeds.GREYHOUND_HOME.source, breeds.GREYHOUND_HOME.standing),
            )
        )
        parts.append(
            _(
                "In greyhounds higher pressure went with lesions of the kidney, so the breed excuses nothing {source}."
            ).format(source=source_and_standing(breeds.GREYHOUND_KIDNEY_SOURCE, "published"))
        )
    parts.append(_("These are means, not limits of normal: the category is not changed by them."))
    return " ".join(parts)


def no_figure_sentence(breed: str) -> str:
    """That nothing about a breed is at hand."""
    return _("No figure for the breed {breed} is at hand here; the category is that of every breed.").format(
        breed=" ".join(breed.split())
    )


def _mean(remark: BreedRemark) -> str:
    """Mean in print; of sighthounds it is another source's than that of the rise."""
    if remark.tendency == "higher":
        source = source_and_standing("Egner2007", "as quoted")
    else:
        source = source_and_standing(remark.source, remark.standing)
    if remark.sd_mmhg is None:
        return _(
            "For {breed} the mean in print is {mean:.0f} mmHg systolic and {diastolic:.0f} diastolic, low for a dog "
            "{source}."
        ).format(breed=remark.breed, mean=remark.systolic_mmhg, diastolic=remark.diastolic_mmhg, source=source)
    return _(
        "For {breed} the mean in print is {mean:.0f} mmHg systolic, standard deviation {sd:.0f}, and {diastolic:.0f} "
        "diastolic {source}."
    ).format(
        breed=remark.breed,
        mean=remark.systolic_mmhg,
        sd=remark.sd_mmhg,
        diastolic=remark.diastolic_mmhg,
        source=source,
    )
