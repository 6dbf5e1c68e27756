"""Forms for learning."""

from __future__ import annotations

from typing import Any

from django import forms
from django.core.exceptions import ValidationError
from django.utils.text import slugify
from django.utils.translation import gettext_lazy as _

from quietlimb.engine.errors import ParameterError
from quietlimb.simulator.training import Case, case_from
from quietlimb.simulator.training.case import FAULT_SIZES
from quietlimb.simulator.training.choices import (
    FASTEST_MMHG_PER_S,
    HIGHEST_TOP_MMHG,
    LOWEST_TOP_MMHG,
    SLOWEST_MMHG_PER_S,
)

FAULTS = (
    ("", _("none")),
    ("offset", _("the display is off, by mmHg")),
    ("leak", _("cuff or tube leaks, mmHg a second")),
    ("slipped", _("the cuff has slipped, share of the pressure lost")),
)
RHYTHMS = (
    ("regular", _("regular")),
    ("ectopic", _("with ectopic beats")),
    ("atrial fibrillation", _("atrial fibrillation")),
    ("alternans", _("strong and weak by turns")),
    ("pulse deficit", _("beats without a pulse")),
)


class InflateForm(forms.Form):
    """What is chosen at the cuff for one inflation."""

    inflate_to = forms.FloatField(
        label=_("Inflate to, mmHg"), min_value=LOWEST_TOP_MMHG, max_value=HIGHEST_TOP_MMHG, initial=180
    )
    fall = forms.FloatField(
        label=_("Let it fall, mmHg a second"), min_value=SLOWEST_MMHG_PER_S, max_value=FASTEST_MMHG_PER_S, initial=6
    )
    steps = forms.BooleanField(label=_("By steps"), required=False)
    limb_free = forms.BooleanField(label=_("A hand sees that no weight rests on the limb"), required=False)
    tail_held = forms.BooleanField(label=_("A hand holds the tail still"), required=False)
    on_table = forms.BooleanField(label=_("Up on the examination table"), required=False)


class CaseForm(forms.Form):
    """A case of the practice's own, told as the nurse will meet it, and the truth behind it."""

    title = forms.CharField(label=_("title"), max_length=80)
    animal = forms.CharField(label=_("animal, invented"), max_length=40)
    species = forms.ChoiceField(label=_("species"), choices=(("cat", _("cat")), ("dog", _("dog"))))
    breed = forms.CharField(label=_("breed"), max_length=60)
    age_years = forms.FloatField(label=_("age, years"))
    weight_kg = forms.FloatField(label=_("weight, kg"))
    temper = forms.CharField(label=_("how it behaves, as the nurse sees it"), max_length=200)
    remarks = forms.CharField(label=_("what is known of it"), max_length=300)
    difficulty = forms.TypedChoiceField(
        label=_("difficulty"),
        coerce=int,
        choices=((1, _("one thing at a time")), (2, _("look closely")), (3, _("several things at once"))),
    )
    systolic = forms.FloatField(label=_("systolic at rest, mmHg"))
    mean = forms.FloatField(label=_("mean at rest, mmHg"))
    diastolic = forms.FloatField(label=_("diastolic at rest, mmHg"))
    pulse_rate = forms.FloatField(label=_("pulse at rest, a minute"))
    rhythm = forms.ChoiceField(label=_("rhythm"), choices=RHYTHMS)
    raised_mmhg = forms.FloatField(label=_("raised when it comes in, mmHg"), initial=15)
    settles_min = forms.FloatField(label=_("a third of that is left after, minutes"), initial=3)
    moves = forms.FloatField(label=_("share of inflations in which a limb moves"), initial=0.1)
    wags = forms.FloatField(label=_("share in which a free tail wags"), initial=0.2)
    owner_calms = forms.BooleanField(label=_("calmer with its owner"), required=False)
    forelimb = forms.FloatField(label=_("circumference of the forelimb, cm"), required=False)
    hindlimb = forms.FloatField(label=_("circumference of the hindlimb, cm"), required=False)
    tail = forms.FloatField(label=_("circumference of the tail, cm"), required=False)
    fault = forms.ChoiceField(label=_("fault of the instrument"), choices=FAULTS, required=False)
    fault_size = forms.FloatField(label=_("size of the fault"), required=False)
    treated = forms.BooleanField(label=_("under treatment against high pressure"), required=False)
    seed = forms.IntegerField(
        label=_("number from which chance is drawn"), min_value=0, max_value=10**9, initial=1, widget=forms.HiddenInput
    )

    def clean(self) -> dict[str, Any]:
        """The case itself under `case`; what no animal could have is told as the case tells it."""
        told = super().clean() or {}
        if self.errors:
            return told
        try:
            told["case"] = self._case(told)
        except ParameterError as error:
            raise ValidationError(f"{error.says}; {error.remedy}.") from None
        return told

    def _case(self, told: dict[str, Any]) -> Case:
        sites = {site: told[site] for site in ("forelimb", "hindlimb", "tail") if told[site] is not None}
        fault = None
        if told["fault"]:
            if told["fault_size"] is None:
                unit, least, most = FAULT_SIZES[told["fault"]]
                raise ParameterError("impossible-case", "the fault has no size", f"give {least:g} to {most:g} ({unit})")
            fault = {"kind": told["fault"], "size": told["fault_size"]}
        return case_from(
            {
                "key": slugify(told["title"]) or "own",
                "title": told["title"],
                "story": {
                    name: told[name] for name in ("animal", "breed", "age_years", "weight_kg", "temper", "remarks")
                },
                "seed": told["seed"],
                "difficulty": told["difficulty"],
                "species": told["species"],
                "resting": {name: told[name] for name in ("systolic", "mean", "diastolic")},
                "pulse_rate": told["pulse_rate"],
                "rhythm": told["rhythm"],
                "temper": {name: told[name] for name in ("raised_mmhg", "settles_min", "moves", "wags", "owner_calms")},
                "circumference_cm": sites,
                "fault": fault,
                "treated": told["treated"],
            }
        )
