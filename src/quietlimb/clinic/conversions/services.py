"""Everything that writes conversions. None is changed after it was brought in, and none removed."""

from __future__ import annotations

import hashlib
from datetime import datetime

from django.utils.translation import gettext as _

from quietlimb.clinic.conversions.beside import FILE, told_in
from quietlimb.clinic.conversions.models import BROUGHT, BroughtConversion, as_brought
from quietlimb.clinic.equipment.models import Instrument
from quietlimb.clinic.journal import writing as journal
from quietlimb.clinic.journal.changing import end
from quietlimb.clinic.people.models import Person, Practice
from quietlimb.clinic.stores import together
from quietlimb.engine.conversion import Conversion
from quietlimb.engine.errors import ConversionError
from quietlimb.exchange.conversion_json import conversion_of

LONGEST_STUDY, LONGEST_VERSION, LONGEST_REFERENCE = 400, 60, 200


@together()
def conversion_bring(
    by: Person, *, file_name: str, content: bytes, instrument: Instrument | None, at: datetime
) -> BroughtConversion:
    """Keep a file, and from now on show what it makes of charted pressures, beside them.

    instrument : of the register, that the file means; where none is given, the one that is called as the file says

    Raises
    ------
    FileError       : the bytes are no conversion, or were changed since it was made.
    ConversionError : it is for an instrument, and which one is not known here (`which-instrument`); that measures by
                      another method (`other-method`); it rests on invented pairs (`invented-conversion`); its names are
                      too long (`too-long`); one of the same study for the same is in use (`in-use`).
    """
    file = conversion_of(told_in(content), path=FILE)
    found = file.conversion
    if file.invented and not by.practice.invented:
        raise ConversionError(
            "invented-conversion", _("This conversion rests on invented pairs"), _("use a conversion from a study")
        )
    for text, most in (
        (found.study, LONGEST_STUDY),
        (found.version, LONGEST_VERSION),
        (found.converts_to, LONGEST_REFERENCE),
    ):
        if len(text) > most:
            says = _("A name in it has {n} letters, {begin}...").format(n=len(text), begin=text[:40])
            raise ConversionError("too-long", says, _("make it anew with at most {most}").format(most=most))
    bound = _bound(by, found, instrument)
    Practice.objects.select_for_update().get(pk=by.practice_id)  # so that the same is not brought in twice at once
    same = BroughtConversion.objects.filter(practice=by.practice, withdrawn_at=None, study=found.study)
    for row in same.filter(instrument=bound):
        other = conversion_of(told_in(bytes(row.content)), path=FILE).conversion
        if _for_what(other) == _for_what(found):
            says = _("Version {version} of this study is in use").format(version=row.version)
            raise ConversionError("in-use", says, _("withdraw it first"))
    row = BroughtConversion(
        practice_id=by.practice_id,
        instrument=bound,
        brought_by=by,
        brought_at=at,
        file_name=file_name,
        sha256=hashlib.sha256(content).hexdigest(),
        content=content,
        fingerprint=file.fingerprint,
        study=found.study,
        version=found.version,
    )
    row.save(force_insert=True)
    journal.write(by, BROUGHT, row, after=as_brought(row))
    return row


def conversion_withdraw(by: Person, *, conversion: BroughtConversion, why: str, at: datetime) -> bool:
    """Show it no longer; what was signed keeps it. False where that was said already."""
    return end(by, "conversion withdrawn", conversion, as_="withdrawn", why=why, at=at)


def _bound(by: Person, found: Conversion, instrument: Instrument | None) -> Instrument | None:
    if instrument is None and found.instrument is not None:
        named = Instrument.objects.filter(practice=by.practice, technique=found.technique, name=found.instrument)
        if named.count() != 1:
            raise ConversionError(
                "which-instrument",
                _("It is for {instrument}, and there is not one instrument of that name here").format(
                    instrument=found.instrument
                ),
                _("say which of yours that is; where none is, it does not hold here"),
            )
        instrument = named.get()
    if instrument is not None and instrument.technique != found.technique:
        raise ConversionError(
            "other-method",
            _("It is for {method}, and {instrument} measures otherwise").format(
                method=found.technique, instrument=instrument.name
            ),
            _("choose the instrument that it was found with"),
        )
    return instrument


def _for_what(found: Conversion) -> tuple[object, ...]:
    around = (found.species, found.site, found.technique, found.sedation, found.cuff_shares)
    return (found.quantity, found.converts_to, *around)
