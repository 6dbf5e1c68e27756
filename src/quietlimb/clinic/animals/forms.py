"""A new animal in one row."""

from __future__ import annotations

from datetime import date, timedelta
from typing import TYPE_CHECKING, Any

from django import forms
from django.utils import timezone
from django.utils.translation import gettext_lazy as _

from quietlimb.clinic.animals.models import Animal
from quietlimb.clinic.animals.selectors import animals_alike
from quietlimb.clinic.people.models import Person
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
    another = forms.BooleanField(
        label=_("Another animal, not one that is here"), required=False, widget=forms.HiddenInput
    )

    field_order = ("name", "species", "breed", "colour", "born", "age_years", "owner_name", "another")

    class Meta:
        model = Animal
        fields = ("name", "species", "breed", "colour", "born")
        widgets = {"born": forms.DateInput(attrs={"type": "date"})}  # noqa: RUF012  the framework reads it once

    def __init__(self, *arguments: Any, person: Person, **named: Any) -> None:
        super().__init__(*arguments, **named)
        self.person = person

    def clean_born(self) -> date | None:
        """A day that has come."""
        born: date | None = self.cleaned_data["born"]
        if born is not None and born > timezone.localdate():
            raise forms.ValidationError(_("This day is still to come."))
        return born

    def clean(self) -> dict[str, Any]:
        """An age makes a day of birth that is known about; one that is here already is asked about."""
        told = super().clean() or {}
        age = told.get("age_years")
        if age is not None and told.get("born"):
            self.add_error("age_years", _("Give the day or the age, not both."))
        elif age is not None:
            told["born"] = timezone.localdate() - timedelta(days=round(age * DAYS_PER_YEAR))
            self.instance.born_about = True
        if told.get("name") and told.get("species") and not told.get("another"):
            same = animals_alike(self.person, told["name"], told["species"], told.get("owner_name") or "").first()
            if same is not None:
                self.fields["another"].widget = forms.CheckboxInput()
                says = _("%(name)s is here already, %(owner)s: find it above, or say that this is another one.")
                owner = str(same.owner) if same.owner else _("without an owner")
                self.add_error("another", says % {"name": same.name, "owner": owner})
        return told
