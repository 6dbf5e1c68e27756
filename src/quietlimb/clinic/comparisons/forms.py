"""A file of pairs with what is compared; and, after a look at what was understood, the same once more."""

from __future__ import annotations

import base64
import binascii
import uuid
import zlib
from typing import Any

from django import forms
from django.utils.text import format_lazy
from django.utils.translation import gettext_lazy as _

from quietlimb.agreement.pair_rows import QUANTITIES
from quietlimb.agreement.schemes import SCHEMES, VETERINARY
from quietlimb.clinic.comparisons.reckoning import MOST_BYTES, MOST_PLAN_BYTES, Chosen
from quietlimb.clinic.equipment.models import Technique

AS_TOLD = ("", _("as the file or the plan tells it"))
TRUTHS = [
    AS_TOLD,
    ("single", _("one pair of each animal")),
    ("constant", _("several values of each animal while its pressure stood still")),
    ("changing", _("several pairs of each animal while its pressure changed")),
]
KINDS = [AS_TOLD, ("intra-arterial", _("a catheter in an artery")), ("indirect", _("another cuff"))]
PRESSURES = [*((each, name) for each, name in zip(QUANTITIES, (_("systolic"), _("mean"), _("diastolic")), strict=True))]


def _schemes() -> list[tuple[str, Any]]:
    people = _("made for people: a yardstick")
    return [
        (key, each.name if each.made_for == "animals" else f"{each.name} ({people})") for key, each in SCHEMES.items()
    ]


class ChoicesForm(forms.Form):
    """What is compared."""

    name = forms.CharField(label=_("Name of the comparison"), max_length=120)
    tested = forms.CharField(
        label=_("Tested method"), max_length=120, required=False, help_text=_("Empty: as the file calls it.")
    )
    reference = forms.CharField(
        label=_("Reference"), max_length=120, required=False, help_text=_("Empty: as the file calls it.")
    )
    reference_is = forms.ChoiceField(label=_("The reference is"), choices=KINDS, required=False)
    truth = forms.ChoiceField(label=_("Pairs of an animal"), choices=TRUTHS, required=False)
    quantities = forms.MultipleChoiceField(
        label=_("Pressures"),
        choices=PRESSURES,
        required=False,
        widget=forms.CheckboxSelectMultiple,
        help_text=_("None ticked: all that the file has, or those of the plan."),
    )
    schemes = forms.MultipleChoiceField(
        label=_("Criteria"),
        choices=_schemes,
        required=False,
        widget=forms.CheckboxSelectMultiple,
        help_text=format_lazy(_("None ticked: those of the plan, or else {name}."), name=VETERINARY.name),
    )

    def chosen(self) -> Chosen:
        """As the reckoning takes it."""
        return Chosen.of(self.cleaned_data)


class FileForm(ChoicesForm):
    """The files and what is compared."""

    file = forms.FileField(
        label=_("Pairs (CSV)"), allow_empty_file=True, widget=forms.FileInput(attrs={"accept": ".csv,.txt,text/csv"})
    )
    plan = forms.FileField(
        label=_("Plan (JSON), if there is one"),
        allow_empty_file=True,
        required=False,
        widget=forms.FileInput(attrs={"accept": ".json"}),
    )
    field_order = ("file", "name", "tested", "reference", "reference_is", "truth", "quantities", "schemes", "plan")

    def content(self) -> bytes:
        """The bytes of the pairs, one more than may be where the file is longer."""
        found: bytes = self.cleaned_data["file"].read(MOST_BYTES + 1)
        return found

    def plan_content(self) -> bytes:
        """The bytes of the plan, none without one, one more than may be where it is longer."""
        plan = self.cleaned_data["plan"]
        found: bytes = plan.read(MOST_PLAN_BYTES + 1) if plan else b""
        return found

    def file_name(self, field: str = "file") -> str:
        """As a file is called, on one line; empty without one."""
        found = self.cleaned_data[field]
        return (" ".join(str(found.name).split())[:200] or "file") if found else ""


class KeepForm(ChoicesForm):
    """What was looked at: both files, packed as text, and a key, so that sending it twice keeps it once."""

    key = forms.UUIDField()
    file_name = forms.CharField(max_length=200)
    content = forms.CharField(max_length=700_000)
    plan_name = forms.CharField(max_length=200, required=False)
    plan = forms.CharField(max_length=100_000, required=False)

    def clean_content(self) -> bytes:
        """The bytes of the pairs."""
        return _unpacked(self.cleaned_data["content"], MOST_BYTES)

    def clean_plan(self) -> bytes:
        """The bytes of the plan."""
        return _unpacked(self.cleaned_data["plan"], MOST_PLAN_BYTES) if self.cleaned_data["plan"] else b""


class PairsForm(forms.Form):
    """Which kind of instrument is tested; the other one is the reference."""

    technique = forms.ChoiceField(label=_("Tested method"), choices=Technique.choices)


class RetireForm(forms.Form):
    """Why it is no longer to be used."""

    why = forms.CharField(label=_("Why"), max_length=400)


def carried(form: FileForm, content: bytes, plan: bytes) -> list[tuple[str, str]]:
    """Names and values of the hidden fields by which the page carries what was looked at."""
    told = form.cleaned_data
    texts = ("name", "tested", "reference", "reference_is", "truth")
    return [
        ("key", str(uuid.uuid4())),
        ("file_name", form.file_name()),
        ("content", _packed(content)),
        ("plan_name", form.file_name("plan") if plan else ""),
        ("plan", _packed(plan) if plan else ""),
        *((name, told[name]) for name in texts),
        *((name, value) for name in ("quantities", "schemes") for value in told[name]),
    ]


def _packed(content: bytes) -> str:
    return base64.urlsafe_b64encode(zlib.compress(content)).decode("ascii")


def _unpacked(text: str, most: int) -> bytes:
    """No further than a file may be long."""
    unpacking = zlib.decompressobj()
    try:
        found = unpacking.decompress(base64.urlsafe_b64decode(text), most + 1)
    except (binascii.Error, ValueError, zlib.error):
        found = None
    # what was cut off on the way has no end
    if found is None or len(found) > most or not unpacking.eof or unpacking.unused_data:
        raise forms.ValidationError(_("This is not what was looked at."))
    return found
