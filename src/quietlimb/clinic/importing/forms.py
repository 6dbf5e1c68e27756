"""The file to import; and, after looking at what would happen, the same once more."""

from __future__ import annotations

import base64
import binascii

from django import forms
from django.utils.translation import gettext_lazy as _

from quietlimb.clinic.importing.table import MOST_BYTES


class FileForm(forms.Form):
    """A table."""

    file = forms.FileField(
        label=_("CSV file"), allow_empty_file=True, widget=forms.FileInput(attrs={"accept": ".csv,.txt,text/csv"})
    )

    def content(self) -> bytes:
        """Its bytes, one more than may be where it is longer."""
        found: bytes = self.cleaned_data["file"].read(MOST_BYTES + 1)
        return found

    def file_name(self) -> str:
        """As it is called, for the journal."""
        return str(self.cleaned_data["file"].name)[:200]


class ApplyForm(forms.Form):
    """What was looked at: the file as text, its name, and what the page showed of it."""

    file_name = forms.CharField(max_length=200)
    content = forms.CharField(max_length=4 * (MOST_BYTES // 3 + 1))
    fingerprint = forms.CharField(max_length=64)
    overwrite = forms.BooleanField(required=False)

    def clean_content(self) -> bytes:
        """The bytes."""
        try:
            return base64.urlsafe_b64decode(self.cleaned_data["content"])
        except (binascii.Error, ValueError):
            raise forms.ValidationError(_("This is not what was looked at.")) from None


def as_text(content: bytes) -> str:
    """Bytes as the form carries them."""
    return base64.urlsafe_b64encode(content).decode("ascii")
