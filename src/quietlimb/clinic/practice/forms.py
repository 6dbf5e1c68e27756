"""The settings of a practice."""

from __future__ import annotations

import zoneinfo
from typing import TYPE_CHECKING, Any

from django import forms
from django.utils.translation import gettext_lazy as _

from quietlimb.clinic.people.models import Practice
from quietlimb.engine.standards.rule_sets import RULE_SETS

if TYPE_CHECKING:
    PracticeModelForm = forms.ModelForm[Practice]
else:
    PracticeModelForm = forms.ModelForm

# One rule set holds for all animals of a practice, so it must know cats and dogs.
FOR_ALL_ANIMALS = {key: rules for key, rules in RULE_SETS.items() if {"cat", "dog"} <= set(rules.species)}
MOST_READINGS = 20

SETTINGS = (
    "name",
    "time_zone",
    "rules",
    "planned_readings",
    "telephone_day",
    "telephone_night",
    "preparing",
    "retention",
)


class SettingsForm(PracticeModelForm):
    """What the practice lead decides for everybody."""

    time_zone = forms.ChoiceField(
        label=_("Time zone"), choices=[(zone, zone) for zone in sorted(zoneinfo.available_timezones())]
    )
    rules = forms.ChoiceField(
        label=_("Rule set"),
        help_text=_("Categories and next steps follow it. What is signed keeps the rule set it was signed by."),
    )
    planned_readings = forms.IntegerField(
        label=_("Planned readings"),
        min_value=1,
        max_value=MOST_READINGS,
        help_text=_("For series opened from now on. Readings judged by ear stay without a result until then."),
    )

    class Meta:
        model = Practice
        fields = SETTINGS
        help_texts = {  # noqa: RUF012  the framework reads it once
            "telephone_day": _("Stands on letters and on the owner's page."),
            "telephone_night": _("For danger signs outside your hours."),
            "preparing": _("On the owner's page, a line for each thing; empty for our own words."),
            "retention": _("In your own words, for the inspection. Nothing is removed by itself."),
        }
        widgets = {  # noqa: RUF012
            "preparing": forms.Textarea(attrs={"rows": 5}),
            "retention": forms.Textarea(attrs={"rows": 3}),
        }

    def __init__(self, *arguments: Any, **named: Any) -> None:
        super().__init__(*arguments, **named)
        field = self.fields["rules"]
        assert isinstance(field, forms.ChoiceField)
        field.choices = [
            (key, f"{rules.name} ({_('old, for old charts')})" if rules.old else rules.name)
            for key, rules in FOR_ALL_ANIMALS.items()
        ]
