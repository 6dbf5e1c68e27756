"""Forms for learning."""

from __future__ import annotations

from collections.abc import Sequence
from math import ceil, floor
from typing import Any

from django import forms
from django.core.exceptions import ValidationError
from django.utils.functional import lazy
from django.utils.text import slugify
from django.utils.translation import gettext_lazy as _

from quietlimb.clinic.limits_told import between
from quietlimb.clinic.sessions.models import Session
from quietlimb.engine.errors import ParameterError
from quietlimb.simulator.training import Case, case_from
from quietlimb.simulator.training.case import FAULT_SIZES, LEAST_FORM, MOST_FORM, within
from quietlimb.simulator.training.choices import (
    FASTEST_MMHG_PER_S,
    HIGHEST_TOP_MMHG,
    LOWEST_TOP_MMHG,
    SLOWEST_MMHG_PER_S,
)
from quietlimb.words.training import SAYINGS, saying_label

lazy_saying = lazy(saying_label, str)  # in the language of who reads it

FAULTS = (
    ("", _("None")),
    ("offset", _("The display is off, by mmHg")),
    ("leak", _("Cuff or tube leaks, mmHg a second")),
    ("slipped", _("The cuff has slipped, share of the pressure lost")),
)
RHYTHMS = (
    ("regular", _("Regular")),
    ("ectopic", _("With ectopic beats")),
    ("atrial fibrillation", _("Atrial fibrillation")),
    ("alternans", _("Strong and weak by turns")),
    ("pulse deficit", _("Beats without a pulse")),
)

SITES = ("forelimb", "hindlimb", "tail")
WITHIN = (
    "age_years",
    "weight_kg",
    "systolic",
    "diastolic",
    "pulse_rate",
    "raised_mmhg",
    "settles_min",
    "moves",
    "wags",
)


class InflateForm(forms.Form):
    """What is chosen at the cuff for one inflation."""

    inflate_to = forms.FloatField(
        label=_("Inflate to, mmHg"),
        min_value=LOWEST_TOP_MMHG,
        max_value=HIGHEST_TOP_MMHG,
        initial=180,
        error_messages=between(LOWEST_TOP_MMHG, HIGHEST_TOP_MMHG),
    )
    fall = forms.FloatField(
        label=_("Let it fall, mmHg a second"),
        min_value=SLOWEST_MMHG_PER_S,
        max_value=FASTEST_MMHG_PER_S,
        initial=3,
        error_messages=between(SLOWEST_MMHG_PER_S, FASTEST_MMHG_PER_S),
    )
    steps = forms.BooleanField(label=_("By steps"), required=False)
    limb_free = forms.BooleanField(label=_("A hand sees that no weight rests on the limb"), required=False)
    tail_held = forms.BooleanField(label=_("A hand holds the tail still"), required=False)
    on_table = forms.BooleanField(label=_("Up on the examination table"), required=False)


class OwnerForm(forms.Form):
    """What the owner is told, chosen before the truth is seen."""

    saying = forms.ChoiceField(
        label=_("What is the owner told?"),
        choices=[(saying, lazy_saying(saying)) for saying in SAYINGS],
        widget=forms.RadioSelect,
        error_messages={"required": _("Choose what the owner is told.")},
    )


class CaseForm(forms.Form):
    """A case of the practice's own, told as the nurse will meet it, and the truth behind it.

    taken : titles of the cases that are given already
    """

    title = forms.CharField(label=_("Title"), max_length=80)
    animal = forms.CharField(label=_("Animal, invented"), max_length=40)
    species = forms.ChoiceField(label=_("Species"), choices=(("cat", _("Cat")), ("dog", _("Dog"))))
    breed = forms.CharField(label=_("Breed"), max_length=60)
    age_years = forms.FloatField(label=_("Age, years"))
    weight_kg = forms.FloatField(label=_("Weight, kg"))
    temper = forms.CharField(label=_("How it behaves, as the nurse sees it"), max_length=200)
    remarks = forms.CharField(label=_("What is known of it"), max_length=300)
    difficulty = forms.TypedChoiceField(
        label=_("Difficulty"),
        coerce=int,
        choices=((1, _("One thing at a time")), (2, _("Look closely")), (3, _("Several things at once"))),
    )
    systolic = forms.FloatField(label=_("Systolic at rest, mmHg"))
    mean = forms.FloatField(label=_("Mean at rest, mmHg"))
    diastolic = forms.FloatField(label=_("Diastolic at rest, mmHg"))
    pulse_rate = forms.FloatField(label=_("Pulse at rest, a minute"))
    rhythm = forms.ChoiceField(label=_("Rhythm"), choices=RHYTHMS)
    raised_mmhg = forms.FloatField(label=_("Raised when it comes in, mmHg"), initial=15)
    settles_min = forms.FloatField(label=_("A third of that is left after, minutes"), initial=3)
    moves = forms.FloatField(label=_("Share of inflations in which a limb moves"), initial=0.1)
    wags = forms.FloatField(label=_("Share in which a free tail wags"), initial=0.2)
    owner_calms = forms.BooleanField(label=_("Calmer with its owner"), required=False)
    forelimb = forms.FloatField(label=_("Circumference of the forelimb, cm"), required=False)
    hindlimb = forms.FloatField(label=_("Circumference of the hindlimb, cm"), required=False)
    tail = forms.FloatField(label=_("Circumference of the tail, cm"), required=False)
    fault = forms.ChoiceField(label=_("Fault of the instrument"), choices=FAULTS, required=False)
    fault_size = forms.FloatField(label=_("Size of the fault"), required=False)
    fault_from = forms.IntegerField(
        label=_("First inflation with the fault"),
        min_value=1,
        initial=1,
        required=False,
    )
    places = forms.MultipleChoiceField(
        label=_("Places that can be had"),
        choices=Session.Place.choices,
        widget=forms.CheckboxSelectMultiple,
        initial=[place for place in Session.Place.values if place != Session.Place.HOME],
        error_messages={"required": _("Tick one place at least: the animal has to be somewhere.")},
    )
    treated = forms.BooleanField(label=_("Under treatment against high pressure"), required=False)
    seed = forms.IntegerField(label="", min_value=0, max_value=10**9, initial=1, widget=forms.HiddenInput)

    def __init__(self, *arguments: Any, taken: Sequence[str] = (), **named: Any) -> None:
        super().__init__(*arguments, **named)
        self.taken = {" ".join(title.split()).casefold(): title for title in taken}

    def clean_title(self) -> str:
        """A title by which nobody takes this case for another."""
        title = " ".join(str(self.cleaned_data["title"]).split())
        if first := self.taken.get(title.casefold()):
            raise ValidationError(
                _("A case of this title is given already: %(first)s. Give it another.") % {"first": first}
            )
        return title

    def clean(self) -> dict[str, Any]:
        """The case itself under `case`; what no animal could have is told at its field, all of it at once."""
        told = super().clean() or {}
        for name in WITHIN:
            self._within(name, name)
        for site in SITES:
            self._within(site, "circumference_cm")
        self._judge_pressures(told)
        self._judge_fault(told)
        if not any(told.get(site) is not None or site in self.errors for site in SITES):
            self.add_error(SITES[0], _("Give the circumference of one limb or the tail at least."))
        if self.errors:
            return told
        try:
            told["case"] = self._case(told)
        except ParameterError as error:
            raise ValidationError(f"{error.says}; {error.remedy}.") from None
        return told

    def _within(self, field: str, figure: str) -> None:
        value = self.cleaned_data.get(field)
        if value is None:
            return
        try:
            within(figure, value)
        except ParameterError as error:
            self.add_error(field, f"{error.remedy[:1].upper()}{error.remedy[1:]}.")

    def _judge_pressures(self, told: dict[str, Any]) -> None:
        """The form of a pulse allows a mean within a part of the pulse pressure alone."""
        systolic, mean, diastolic = (told.get(name) for name in ("systolic", "mean", "diastolic"))
        if systolic is None or diastolic is None:
            return
        if diastolic >= systolic:
            self.add_error("diastolic", _("Give less than the systolic pressure."))
        elif mean is not None:
            least, most = (diastolic + form * (systolic - diastolic) for form in (LEAST_FORM, MOST_FORM))
            if not least <= mean <= most:
                self.add_error(
                    "mean", _("Give {least:.0f} to {most:.0f} mmHg.").format(least=ceil(least), most=floor(most))
                )

    def _judge_fault(self, told: dict[str, Any]) -> None:
        if not told.get("fault") or "fault_size" in self.errors:
            return
        unit, least, most = FAULT_SIZES[told["fault"]]
        size = told.get("fault_size")
        if size is None or not least <= size <= most:
            self.add_error(
                "fault_size", _("Give {least:g} to {most:g} ({unit}).").format(least=least, most=most, unit=unit)
            )

    def _case(self, told: dict[str, Any]) -> Case:
        sites = {site: told[site] for site in SITES if told[site] is not None}
        fault = None
        if told["fault"]:
            fault = {"kind": told["fault"], "size": told["fault_size"], "from_number": told["fault_from"] or 1}
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
                "places": told["places"],
                "treated": told["treated"],
            }
        )
