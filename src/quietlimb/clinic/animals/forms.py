"""A new animal in one row."""

from __future__ import annotations

from datetime import timedelta
from typing import TYPE_CHECKING, Any

from django import forms
from django.utils import timezone
from django.utils.translation import gettext_lazy as _

from quietlimb.clinic.animals.models import Animal
from quietlimb.engine.interpretation.background import OLDEST_YEARS
from quietlimb.engine.units import DAYS_PER_YEAR

if TYPE_CHECKING:
    AnimalModelForm = forms.ModelForm[Animal]
else:
    AnimalModelForm = forms.ModelForm


class NewAnimalForm(AnimalModelForm):
    """Name and species are enough."""

    owner_name = forms.CharField(label=_("Owner"), max_length=120, required=False)
    age_years = forms.FloatField(
        label=_("Or its age in years"),
        min_value=0.0,
        max_value=OLDEST_YEARS,
        required=False,
        widget=forms.NumberInput(attrs={"step": "any", "inputmode": "decimal"}),
    )

    field_order = ("name", "species", "breed", "colour", "born", "age_years", "owner_name")

    def clean(self) -> dict[str, Any]:
        """An age makes a day of birth that is known about."""
        told = super().clean() or {}
        age = told.get("age_years")
        if age is not None and told.get("born"):
            self.add_error("age_years", _("Give the day or the age, not both."))
        elif age is not None:
            told["born"] = timezone.localdate() - timedelta(days=round(age * DAYS_PER_YEAR))
            self.instance.born_about = True
        return told

    class Meta:
        model = Animal
        fields = ("name", "species", "breed", "colour", "born")
        widgets = {"born": forms.DateInput(attrs={"type": "date"})}  # noqa: RUF012  the framework reads it once
