"""Signing a value and amending it. What was signed is frozen with everything it rests on; nothing ever replaces it."""

from __future__ import annotations

from datetime import datetime
from typing import Any

from django.db import transaction
from django.utils import timezone
from django.utils.translation import gettext as _

from quietlimb.clinic.canonical import canonical, seal_of
from quietlimb.clinic.journal import writing as journal
from quietlimb.clinic.people.models import Person
from quietlimb.clinic.sessions.entry import EntryError
from quietlimb.clinic.sessions.freezing import frozen_series
from quietlimb.clinic.sessions.models import Amendment, Series, Session, SignedValue
from quietlimb.clinic.sessions.selectors import organs_known, told_of
from quietlimb.engine.version import ENGINE_VERSION
from quietlimb.exchange.results_json import charted_object


@transaction.atomic
def value_sign(
    by: Person, *, session: Session, series: Series | None, chosen: float | None, reason: str, at: datetime
) -> SignedValue:
    """The signed value of an ended session: systolic mmHg of one of its series, or None where none was obtained.

    Raises EntryError where the session is open or signed already, nothing is charted of the series, or another value
    than the charted one has no reason.
    """
    session = Session.objects.select_for_update().get(pk=session.pk)
    if session.is_open:
        raise EntryError("open", _("The session has not ended"), _("end it first"))
    if SignedValue.objects.filter(session=session).exists():
        raise EntryError("signed", _("The session is signed"), _("write an amendment"))
    charted, frozen, fingerprint = _frozen(session, series)
    if chosen != charted and not reason.strip():
        raise EntryError("no-reason", _("This is not the charted value"), _("say why"), field="reason")
    signed = SignedValue(
        practice_id=session.practice_id,
        session=session,
        series=series,
        signed_by=by,
        signed_at=at,
        charted=charted,
        chosen=chosen,
        reason=reason.strip(),
        rules=session.practice.rules,
        engine=ENGINE_VERSION,
        fingerprint=fingerprint,
        frozen=canonical(frozen),
    )
    signed.seal = seal_of(signed)
    signed.save(force_insert=True)
    journal.write(by, "value signed", signed, why=signed.reason)
    return signed


@transaction.atomic
def amendment_add(
    by: Person, *, signed_value: SignedValue, chosen: float | None, text: str, why: str, at: datetime
) -> Amendment:
    """What stands beside a signed value from now on. Raises EntryError without a reason."""
    if not why.strip():
        raise EntryError("no-reason", _("An amendment needs a reason"), _("say why"), field="why")
    amendment = Amendment(
        practice_id=signed_value.practice_id,
        signed_value=signed_value,
        by=by,
        at=at,
        chosen=chosen,
        text=text,
        why=why.strip(),
    )
    amendment.seal = seal_of(amendment)
    amendment.save(force_insert=True)
    journal.write(by, "amendment added", amendment, why=amendment.why)
    return amendment


def _frozen(session: Session, series: Series | None) -> tuple[float | None, dict[str, Any], str]:
    """Charted systolic pressure, all that it rests on and all that was said of it, and its fingerprint."""
    if series is None:
        return None, {"series": None, "ending": session.ending}, ""
    organs = organs_known(session.animal, timezone.localdate(session.started_at))
    answer = told_of(series, organs=organs)
    if answer is None:
        raise EntryError("nothing-charted", _("No reading of this series counts"), _("sign that none was obtained"))
    systolic = answer.charted.systolic
    told = charted_object(str(session.pk), answer.charted, answer.interpretation, answer.enough)
    frozen = {
        "series": frozen_series(answer.charted),
        "readings": [str(row.pk) for row in series.readings.all()],
        "organs": dict(organs),
        "ending": session.ending,
        "told": told,
    }
    return None if systolic is None else systolic.value, frozen, answer.charted.fingerprint
