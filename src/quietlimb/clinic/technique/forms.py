"""The period to look at."""

from __future__ import annotations

from datetime import date
from typing import Any

from django import forms
from django.core.validators import MaxValueValidator, MinValueValidator
from django.utils.translation import gettext_lazy as _

EARLIEST, LATEST = date(1990, 1, 1), date(2199, 12, 31)  # nobody measured before, and clocks are not so wrong


def day_field(label: Any) -> forms.DateField:
    """A day of this age."""
    return forms.DateField(
        label=label,
        widget=forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d"),
        validators=[
            MinValueValidator(EARLIEST, _("This is before there were records.")),
            MaxValueValidator(LATEST, _("This is too far ahead.")),
        ],
    )


class PeriodForm(forms.Form):
    """From one day to another, both included; named as in the address."""

    to = day_field(_("To"))

    def __init__(self, *arguments: Any, **named: Any) -> None:
        super().__init__(*arguments, **named)
        # `from` is a word of the language
        self.fields["from"] = day_field(_("From"))
        self.order_fields(["from", "to"])

    def clean(self) -> dict[str, Any]:
        """In order."""
        told = super().clean() or {}
        if told.get("from") and told.get("to") and told["from"] > told["to"]:
            self.add_error("to", _("This is before the first day."))
        return told
