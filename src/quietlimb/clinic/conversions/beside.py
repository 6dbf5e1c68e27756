"""What the conversions of a practice make of a charted pressure: the value beside it, or why there is none."""

from __future__ import annotations

import tempfile
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from functools import lru_cache
from pathlib import Path
from typing import Any

from django.utils.translation import gettext as _

from quietlimb.clinic.conversions.models import BroughtConversion
from quietlimb.clinic.sessions.models import Series
from quietlimb.engine.circumstances import Circumstances
from quietlimb.engine.conversion import Conversion
from quietlimb.engine.errors import ConversionError
from quietlimb.engine.session.charted import ChartedPressure
from quietlimb.engine.standards.rule_sets import rule_set
from quietlimb.exchange.conversion_json import ConversionFile, conversion_of
from quietlimb.exchange.converted_json import Beside, beside
from quietlimb.exchange.errors import FileError
from quietlimb.exchange.plan_json import read_json
from quietlimb.figures.invented import INVENTED_WORDS, is_invented
from quietlimb.words.conversion import ONLY_BESIDE, converted_sentence, refused_sentence

FILE = "conversion.json"


@dataclass(frozen=True, slots=True, kw_only=True)
class Bound:
    """A conversion and whether it is for the instrument of a series; plain, so that it can be frozen.

    told       : the file, as JSON
    instrument : of the practice, that it is for; empty where it is for any
    here       : whether the series was measured with that one
    """

    told: Mapping[str, Any]
    instrument: str
    here: bool

    @property
    def file(self) -> ConversionFile:
        """The conversion; raises FileError where the engine of today cannot take it."""
        return conversion_of(self.told, path=FILE)

    def is_meant_for(self, circumstances: Circumstances) -> bool:
        """Whether somebody who knows of it would ask where it is: all but cuff, range and state of the animal fit."""
        asked = self.file.conversion
        fits = (asked.species, asked.site, asked.technique)
        return self.here and fits == (circumstances.species, circumstances.site, circumstances.method)


@dataclass(frozen=True, slots=True, kw_only=True)
class ConversionLines:
    """Sentences, one for each conversion.

    converted : the value beside the measured one
    refused   : why there is none, where the conversion is meant for such a series
    others    : why there is none, where it is meant for another species, site, method or instrument
    """

    converted: tuple[str, ...] = ()
    refused: tuple[str, ...] = ()
    others: tuple[str, ...] = ()

    @property
    def for_the_record(self) -> tuple[str, ...]:
        """What note and page tell."""
        return (*self.converted, *self.refused)


def told_in(content: bytes) -> Mapping[str, Any]:
    """The object in the bytes of a file.

    Raises FileError where they are no conversion.
    """
    with tempfile.TemporaryDirectory(prefix="quietlimb-conversion-") as folder:
        path = Path(folder) / FILE
        path.write_bytes(content)
        return read_json(path, "conversion")


_remembered = lru_cache(maxsize=64)(told_in)


def conversions_in_use(series: Series) -> tuple[Bound, ...]:
    """All that the practice has not withdrawn, the oldest first.

    One that is no longer understood is left out here and told on the page of conversions.
    """
    rows = BroughtConversion.objects.filter(practice=series.practice_id, withdrawn_at=None).select_related("instrument")
    found = []
    for row in rows.order_by("brought_at", "id"):
        try:
            told = _remembered(bytes(row.content))
        except FileError:
            continue
        here = row.instrument_id in (None, series.instrument_id)
        found.append(Bound(told=told, instrument=row.instrument.name if row.instrument else "", here=here))
    return tuple(found)


def lines_beside(conversions: Iterable[Bound], charted: ChartedPressure | None, rules: str) -> ConversionLines:
    """What conversions make of a charted pressure; nothing where none is charted."""
    converted: list[str] = []
    refused: list[str] = []
    others: list[str] = []
    for bound in conversions:
        try:
            asked = bound.file.conversion
        except FileError as error:
            refused.append(_("Not converted: {says}; {remedy}.").format(says=error.says, remedy=error.remedy))
            continue
        if charted is None:
            continue
        found = _beside(bound, charted, rules)
        if found.found is not None:
            mark = f" {INVENTED_WORDS}." if found.file.invented else ""
            converted.append(f"{converted_sentence(found.found, found.shares)}{mark} {_(ONLY_BESIDE)}")
        elif found.refused is not None:
            meant = bound.is_meant_for(charted.series.circumstances)
            (refused if meant else others).append(refused_sentence(asked, found.refused))
    return ConversionLines(converted=tuple(converted), refused=tuple(refused), others=tuple(others))


def _beside(bound: Bound, charted: ChartedPressure, rules: str) -> Beside:
    file, around = bound.file, charted.series.circumstances
    measured = getattr(charted, file.conversion.quantity)
    if not bound.here:
        return Beside(file=file, measured=measured, found=None, refused=_another(bound, file.conversion, around))
    if bound.instrument and file.conversion.instrument is not None:
        # the practice calls its instrument as it likes; which one the file means was said when it was brought in
        around = replace(around, instrument=file.conversion.instrument)
    named = rule_set(rules, around.species) if charted.gets_category else None
    return beside(file, measured, around, rules=named, invented=is_invented(charted.series.circumstances))


def _another(bound: Bound, conversion: Conversion, around: Circumstances) -> ConversionError:
    return ConversionError(
        "other-instrument",
        _("instrument is {here}, and the conversion of {study} was brought in for {instrument}").format(
            here=around.instrument or _("not told"), study=conversion.study, instrument=bound.instrument
        ),
        _("report the pressure as measured"),
    )
