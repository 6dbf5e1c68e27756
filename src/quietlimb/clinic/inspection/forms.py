"""The day of an inspection folder, and how far back it goes."""

from __future__ import annotations

from datetime import date

from django import forms
from django.utils import timezone
from django.utils.translation import gettext_lazy as _

from quietlimb.clinic.inspection.folder import Period
from quietlimb.clinic.technique.forms import day_field

USUAL_MONTHS, MOST_MONTHS = 12, 60


class FolderForm(forms.Form):
    """As of which day, and the months of sessions before it."""

    day = day_field(_("As of"))
    months = forms.IntegerField(label=_("Months before it"), min_value=1, max_value=MOST_MONTHS, initial=USUAL_MONTHS)

    def clean_day(self) -> date:
        """A day that has come."""
        day: date = self.cleaned_data["day"]
        if day > timezone.localdate():
            raise forms.ValidationError(_("This day has not come yet."))
        return day

    def period(self) -> Period:
        """The days."""
        day, months = self.cleaned_data["day"], self.cleaned_data["months"]
        return Period(first=months_before(day, months), last=day)


def months_before(day: date, months: int) -> date:
    """The same day of an earlier month, or the last one where that month is shorter."""
    count = day.year * 12 + day.month - 1 - months
    year, month = divmod(count, 12)
    for last in range(day.day, 27, -1):
        try:
            return date(year, month + 1, last)
        except ValueError:
            continue
    return date(year, month + 1, day.day)
