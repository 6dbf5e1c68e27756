"""The circumstances of a session and of a series, as they are corrected by exception; and what is asked at the end."""

from __future__ import annotations

from collections.abc import Collection, Iterator
from datetime import datetime, timedelta
from typing import TYPE_CHECKING, Any, ClassVar

from django import forms
from django.urls import reverse
from django.utils import timezone
from django.utils.translation import gettext_lazy as _

from quietlimb.clinic.animals.models import Animal
from quietlimb.clinic.bench.standing import Thing, gauge_words, standings_of
from quietlimb.clinic.equipment.models import Cuff, Instrument
from quietlimb.clinic.people.models import Person
from quietlimb.clinic.rights import measurers, visible
from quietlimb.clinic.sessions.cuffs import choices_of, circumference_of, on_loan
from quietlimb.clinic.sessions.models import Ending, Series, Session
from quietlimb.clinic.sessions.services import CLOSING_FIELDS
from quietlimb.engine.circumstances import Circumstances
from quietlimb.engine.errors import CircumstancesError

if TYPE_CHECKING:
    SessionModelForm = forms.ModelForm[Session]
    SeriesModelForm = forms.ModelForm[Series]
else:
    SessionModelForm = SeriesModelForm = forms.ModelForm

RECALLED_OF_SESSION = ("place", "held_by", "owner_present", "before_examination")
RECALLED_OF_SERIES = (
    "instrument",
    "technique",
    "site",
    "side",
    "position",
    "limb_circumference_cm",
    "cuff",
    "cuff_below_heart_cm",
)


class _Warned:
    """Instruments and cuffs as they stand among the choices: what is overdue, failed or lent says so, and is not
    barred; of a Doppler unit also the manometer that it is read on."""

    def __init__(self, person: Person) -> None:
        things: list[Thing] = [*visible(person, Instrument), *visible(person, Cuff)]
        self.standings = standings_of(person.practice, things, timezone.localdate())

    def __call__(self, instrument: Instrument) -> str:
        """An instrument's name, and what is to be minded."""
        told = [gauge_words(self.standings.get(instrument.read_on_id)), self._words(instrument.pk), on_loan(instrument)]
        words = "; ".join(filter(None, told))
        return f"{instrument.name} ({words})" if words else instrument.name

    @property
    def overdue(self) -> dict[object, str]:
        """What is said of what is overdue, by key."""
        return {key: each.words for key, each in self.standings.items() if each.state == "overdue"}

    def _words(self, key: object) -> str:
        found = self.standings.get(key)
        return found.words if found is not None and found.state in ("overdue", "failed") else ""


class SeriesForm(SeriesModelForm):
    """Method, cuff, site. Only the method must be told, and an instrument tells it."""

    class Meta:
        model = Series
        fields = (*RECALLED_OF_SERIES, "planned_readings")

    def __init__(self, *arguments: Any, person: Person, animal: Animal, **named: Any) -> None:
        self.planned_readings = person.practice.planned_readings
        named["initial"] = {"planned_readings": self.planned_readings, **(named.get("initial") or {})}
        super().__init__(*arguments, **named)
        cuffs = visible(person, Cuff).filter(out_of_service=False)
        in_service = {
            "instrument": visible(person, Instrument).filter(out_of_service=False, gauge=""),
            "cuff": cuffs,
        }
        for name, rows in in_service.items():
            field = self.fields[name]
            assert isinstance(field, forms.ModelChoiceField)
            field.queryset = rows
        self.warned = _Warned(person)
        self.fields["instrument"].label_from_instance = self.warned  # type: ignore[attr-defined]
        limb, cuff = self.fields["limb_circumference_cm"], self.fields["cuff"]
        told = circumference_of(self["limb_circumference_cm"].value())
        cuff.choices = choices_of(cuffs, told, animal.species, self.warned.overdue)  # type: ignore[attr-defined,arg-type]
        cuff.help_text = _("The width counts more than the printed marks. Snug, and near the height of the heart.")
        limb.widget.attrs |= {
            "hx-get": reverse("cuffs", args=[animal.pk]),
            "hx-trigger": "input changed delay:300ms",
            "hx-target": "#id_cuff",
            "hx-swap": "outerHTML",
            "hx-include": "#id_cuff",
        }
        self.fields["technique"].required = False
        self.fields["planned_readings"].required = False

    def minded(self, last: Series | None) -> str:
        """What is to be minded of the instrument that was used last and is taken again; empty where nothing is."""
        if last is None or last.instrument is None or last.instrument.out_of_service:
            return ""
        told = self.warned(last.instrument)
        return "" if told == last.instrument.name else told

    def clean(self) -> dict[str, Any]:
        """The instrument's method is the series' method."""
        told = super().clean() or {}
        if told.get("instrument"):
            instrument = told["instrument"]
            if told.get("technique") not in (None, "", instrument.technique):
                says = _("%(name)s measures by another method: choose one of the two.")
                self.add_error("technique", says % {"name": instrument.name})
            told["technique"] = instrument.technique
        elif not told.get("technique"):
            self.add_error("technique", _("Choose an instrument or a method."))
        for name in ("limb_circumference_cm", "cuff_below_heart_cm"):
            alone: dict[str, Any] = {"species": "cat", name: told.get(name)}
            try:
                Circumstances(**alone)
            except CircumstancesError as error:
                self.add_error(name, f"{error.says}; {error.remedy}")
        told["planned_readings"] = told.get("planned_readings") or self.planned_readings
        return told


GROUPS: tuple[tuple[Any, tuple[str, ...]], ...] = (
    (_("Where and who"), ("place", "settled_min", "read_by", "held_by", "owner_present")),
    (_("The animal today"), ("demeanour", "before_examination", "sedation", "remarks", "signs")),
    (_("Medicines"), ("tablet", "calming_medicine", "drugs_24_h")),
)


class SessionForm(SessionModelForm):
    """Place, people, the animal's day. Nothing of it must be told."""

    settled_min = forms.IntegerField(label=_("Minutes in here so far"), min_value=0, max_value=1440, required=False)

    class Meta:
        model = Session
        fields: ClassVar[tuple[str, ...]] = (
            "place",
            "sedation",
            "read_by",
            "held_by",
            "owner_present",
            "demeanour",
            "before_examination",
            "calming_medicine",
            "drugs_24_h",
            "tablet",
            "remarks",
        )
        labels: ClassVar = {"sedation": _("Consciousness")}

    def __init__(
        self,
        *arguments: Any,
        person: Person,
        now: datetime,
        places: Collection[str] | None = None,
        **named: Any,
    ) -> None:
        """places : that can be had where an animal is invented; None for all."""
        super().__init__(*arguments, **named)
        self.now = now
        if places is not None:
            where = self.fields["place"]
            assert isinstance(where, forms.ChoiceField)
            offered: Any = where.choices
            where.choices = [(key, name) for key, name in offered if not key or key in places]
        field = self.fields["read_by"]
        assert isinstance(field, forms.ModelChoiceField)
        field.queryset = measurers(person, also=self.instance.read_by_id)
        if self.instance.read_by_id is None:
            self.initial["read_by"] = person.pk

    def groups(self) -> Iterator[tuple[Any, list[forms.BoundField]]]:
        """What belongs together, under its heading."""
        for heading, names in GROUPS:
            yield heading, [self[name] for name in names if name in self.fields]

    def clean(self) -> dict[str, Any]:
        """Minutes ago are kept as the time since when."""
        told = super().clean() or {}
        if "settled_min" not in self.fields:
            return told
        minutes = told.get("settled_min")
        self.instance.acclimatised_since = None if minutes is None else self.now - timedelta(minutes=minutes)
        return told


class CircumstancesForm(SessionForm):
    """The same at the table; since when the animal is here has its own place there."""

    class Meta(SessionForm.Meta):
        fields = (*SessionForm.Meta.fields, "signs")

    def __init__(self, *arguments: Any, **named: Any) -> None:
        super().__init__(*arguments, **named)
        del self.fields["settled_min"]


class ClosingForm(SessionModelForm):
    """What was seen, and how it ended."""

    ending = forms.ChoiceField(choices=Ending.choices)

    class Meta:
        model = Session
        fields = CLOSING_FIELDS


def recalled(last: Series | None) -> tuple[dict[str, Any], dict[str, Any]]:
    """What was told last time, for the session's and the series' form."""
    if last is None:
        return {}, {}
    of_session = {name: getattr(last.session, name) for name in RECALLED_OF_SESSION}
    of_series = {name: getattr(last, name) for name in RECALLED_OF_SERIES}
    if last.instrument is not None:
        of_series["technique"] = ""  # the instrument tells it, also another one that is chosen
    return of_session, of_series


def recalled_line(last: Series) -> str:
    """Last time's circumstances in one line: left forelimb, the small one, on the lap, in the carrier."""
    site = " ".join(filter(None, [last.get_side_display(), last.get_site_display()]))
    parts = [
        last.instrument.name if last.instrument else last.get_technique_display(),
        site,
        last.cuff.name if last.cuff else "",
        last.get_position_display(),
        last.session.get_place_display(),
    ]
    return ", ".join(str(part) for part in parts if part)
