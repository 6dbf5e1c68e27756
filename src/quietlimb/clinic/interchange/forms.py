"""The bundle to import; and, after looking at what would happen, the same once more."""

from __future__ import annotations

import base64
import binascii
import zlib

from django import forms
from django.utils.translation import gettext_lazy as _

from quietlimb.clinic.interchange.incoming import MOST_BYTES


class BundleForm(forms.Form):
    """A file."""

    file = forms.FileField(
        label=_("FHIR bundle (JSON)"), allow_empty_file=True, widget=forms.FileInput(attrs={"accept": ".json"})
    )

    def content(self) -> bytes:
        """Its bytes, one more than may be where it is longer."""
        found: bytes = self.cleaned_data["file"].read(MOST_BYTES + 1)
        return found

    def file_name(self) -> str:
        """As it is called, on one line."""
        return " ".join(str(self.cleaned_data["file"].name).split())[:200] or "file"


class ImportForm(forms.Form):
    """What was looked at: the file, packed as text, its name, and what the page showed of it."""

    file_name = forms.CharField(max_length=200)
    content = forms.CharField(max_length=900_000)  # a form's fields hold a megabyte
    fingerprint = forms.CharField(max_length=64)
    same = forms.BooleanField(required=False)  # that the animal of the file is this one, where they differ

    def clean_content(self) -> bytes:
        """The bytes, unpacked no further than a file may be long."""
        try:
            packed = base64.urlsafe_b64decode(self.cleaned_data["content"])
            return zlib.decompressobj().decompress(packed, MOST_BYTES + 1)
        except (binascii.Error, ValueError, zlib.error):
            raise forms.ValidationError(_("This is not what was looked at.")) from None


def as_text(content: bytes) -> str:
    """Bytes as the form carries them."""
    return base64.urlsafe_b64encode(zlib.compress(content)).decode("ascii")
