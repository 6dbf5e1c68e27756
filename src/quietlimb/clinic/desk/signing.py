"""Signing a value and amending it. What was signed is frozen with everything it rests on; nothing ever replaces it."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime
from typing import Any

from django.utils.translation import gettext as _

from quietlimb.clinic.canonical import canonical, seal_of
from quietlimb.clinic.desk.basis import Basis, basis_of
from quietlimb.clinic.desk.rechecks import recheck_renew
from quietlimb.clinic.journal import writing as journal
from quietlimb.clinic.journal.changing import change
from quietlimb.clinic.people.models import Person
from quietlimb.clinic.sessions.entry import EntryError
from quietlimb.clinic.sessions.models import Amendment, Ending, LateReading, Series, Session, SignedValue
from quietlimb.clinic.sessions.services import session_close
from quietlimb.clinic.stores import together
from quietlimb.engine.version import ENGINE_VERSION
from quietlimb.exchange.results_json import charted_object


@together()
def value_sign(
    by: Person,
    *,
    session: Session,
    series: Series | None,
    looked_at: str,
    chosen: float | None,
    reason: str,
    at: datetime,
) -> SignedValue:
    """The signed value of a session: systolic mmHg of one of its series, or None where there is none. Ends it if open.

    looked_at : digest of the basis that the page showed

    Raises EntryError where the session is signed already (`signed`), the series is not one of it (`other-session`),
    another basis was looked at (`not-as-shown`), or no reason is given (`no-reason`) for another value than the charted
    one, or for a series beside which another asks for more.
    """
    session = Session.objects.select_for_update().get(pk=session.pk)
    if SignedValue.objects.filter(session=session).exists():
        raise EntryError("signed", _("The session is signed"), _("write an amendment"))
    if series is not None:
        if series.session_id != session.pk:
            raise EntryError("other-session", _("This series is of another session"), _("open its own session"))
        series.session = session
    basis = basis_of(session, series)
    if basis.digest != looked_at:
        says = _("Something has been added since this page was opened")
        raise EntryError("not-as-shown", says, _("look at the page again, then sign"))
    if chosen != basis.systolic_mmhg and not reason.strip():
        raise EntryError("no-reason", _("This is not the charted value"), _("say why"), field="reason")
    if basis.outdone_by and not reason.strip():
        says = basis.outdone_by[0].shown(basis.rules, basis.species)
        raise EntryError("no-reason", says, _("say why this series is charted and not that one"), field="reason")
    if session.is_open:
        session_close(by, session=session, ending=_ending(basis, chosen), at=at)
    signed = SignedValue(
        practice_id=session.practice_id,
        session=session,
        series=series if basis.series is not None else None,
        signed_by=by,
        signed_at=at,
        charted=basis.systolic_mmhg,
        chosen=chosen,
        reason=reason.strip(),
        rules=basis.rules,
        engine=ENGINE_VERSION,
        fingerprint="" if basis.charted is None else basis.charted.fingerprint,
        frozen=canonical(_frozen(session, series, basis)),
    )
    signed.seal = seal_of(signed)
    signed.save(force_insert=True)
    journal.write(by, "value signed", signed, why=signed.reason)
    recheck_renew(by, animal=session.animal)
    return signed


@together()
def amendment_add(
    by: Person,
    *,
    signed_value: SignedValue,
    chosen: float | None,
    text: str,
    why: str,
    at: datetime,
    withdrawn: bool = False,
    late: Sequence[str] = (),
) -> Amendment:
    """What stands beside a signed value from now on; without another pressure the one that stood stands.

    withdrawn : no value stands any longer
    late      : keys of the late readings that her page showed, which wait no longer

    The same amendment sent twice is one. Raises EntryError without a reason.
    """
    if not why.strip():
        raise EntryError("no-reason", _("An amendment needs a reason"), _("say why"), field="why")
    Session.objects.select_for_update().get(pk=signed_value.session_id)
    last = Amendment.objects.filter(signed_value=signed_value).last()
    if last is not None and _same(last, by=by, chosen=chosen, withdrawn=withdrawn, text=text, why=why.strip()):
        return last
    amendment = Amendment(
        practice_id=signed_value.practice_id,
        signed_value=signed_value,
        by=by,
        at=at,
        chosen=chosen,
        withdrawn=withdrawn,
        text=text,
        why=why.strip(),
    )
    amendment.seal = seal_of(amendment)
    amendment.save(force_insert=True)
    journal.write(by, "amendment added", amendment, why=amendment.why)
    late_readings_look(by, session=signed_value.session, at=at, keys=late)
    recheck_renew(by, animal=signed_value.session.animal)
    return amendment


@together()
def late_readings_look(by: Person, *, session: Session, at: datetime, keys: Sequence[str]) -> int:
    """A veterinarian has looked at what came after the signature, so that it waits no longer; how many waited.

    keys : of the readings that her page showed
    """
    waiting = LateReading.objects.filter(series__session=session, looked_at=None)
    seen = [row for row in waiting if str(row.pk) in keys]
    for row in seen:
        row.looked_at, row.looked_by = at, by
        change(by, "late reading looked at", row, fields=("looked_at", "looked_by"))
    return len(seen)


def _same(amendment: Amendment, **told: object) -> bool:
    return all(getattr(amendment, name) == value for name, value in told.items())


def _ending(basis: Basis, chosen: float | None) -> Ending:
    if chosen is not None:
        return Ending.CLOSED
    return Ending.NONE_OBTAINED if basis.series is None else Ending.NO_VALID_VALUE


def _frozen(session: Session, series: Series | None, basis: Basis) -> dict[str, Any]:
    """All that the value rests on, and all that was said of it."""
    told = None
    if basis.answer is not None:
        answer = basis.answer
        told = charted_object(str(session.pk), answer.charted, answer.interpretation, answer.enough)
    rows = [] if series is None else series.readings.all()
    return {**basis.frozen, "readings": [str(row.pk) for row in rows], "ending": session.ending, "told": told}
