"""A file of a conversion and the instrument that it is for; why one is withdrawn."""

from __future__ import annotations

from typing import Any

from django import forms
from django.utils.translation import gettext_lazy as _

from quietlimb.clinic.equipment.models import Instrument
from quietlimb.clinic.people.models import Person
from quietlimb.clinic.rights import visible

MOST_BYTES = 20_000


class BringForm(forms.Form):
    """The file, and which instrument is meant."""

    file = forms.FileField(
        label=_("Conversion (JSON)"), allow_empty_file=True, widget=forms.FileInput(attrs={"accept": ".json"})
    )
    instrument: forms.ModelChoiceField[Instrument] = forms.ModelChoiceField(
        queryset=None,
        label=_("For the instrument"),
        required=False,
        empty_label=_("as the file says"),
        help_text=_("Where the file names an instrument: which of yours that is, if it is called otherwise here."),
    )

    def __init__(self, *arguments: Any, person: Person, **named: Any) -> None:
        super().__init__(*arguments, **named)
        field = self.fields["instrument"]
        assert isinstance(field, forms.ModelChoiceField)
        field.queryset = visible(person, Instrument).exclude(technique="")

    def clean_file(self) -> Any:
        """Not larger than any that is made."""
        found = self.cleaned_data["file"]
        if found.size > MOST_BYTES:
            sentence = _("This is more than %(kb)s kB; a conversion is smaller.")
            raise forms.ValidationError(sentence, params={"kb": MOST_BYTES // 1000})
        return found

    def file_name(self) -> str:
        """As the file is called, on one line."""
        return " ".join(str(self.cleaned_data["file"].name).split())[:200] or "file"


class WithdrawForm(forms.Form):
    """Why it is no longer to be shown."""

    why = forms.CharField(label=_("Why"), max_length=400)
