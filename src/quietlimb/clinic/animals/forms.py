"""A new animal in one row."""

from __future__ import annotations

from typing import TYPE_CHECKING

from django import forms
from django.utils.translation import gettext_lazy as _

from quietlimb.clinic.animals.models import Animal

if TYPE_CHECKING:
    AnimalModelForm = forms.ModelForm[Animal]
else:
    AnimalModelForm = forms.ModelForm


class NewAnimalForm(AnimalModelForm):
    """Name and species are enough."""

    owner_name = forms.CharField(label=_("Owner"), max_length=120, required=False)

    class Meta:
        model = Animal
        fields = ("name", "species", "breed", "colour", "born")
        widgets = {"born": forms.DateInput(attrs={"type": "date"})}  # noqa: RUF012  the framework reads it once
