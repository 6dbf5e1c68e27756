"""How a session stands: open, ended, or signed, and which value of it counts."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from django.utils import timezone
from django.utils.formats import date_format
from django.utils.translation import gettext as _

from quietlimb.clinic.pressures import as_chosen, mmhg
from quietlimb.clinic.sessions.models import Amendment, Session, SignedValue


@dataclass(frozen=True, slots=True, kw_only=True)
class Standing:
    """What is told above everything else where nothing more is measured; words is empty for an open session."""

    words: str
    signed: bool


def standing_of(session: Session) -> Standing:
    """As it stands now, with amendments."""
    signed = SignedValue.objects.filter(session=session).select_related("signed_by").first()
    if signed is not None:
        amendments = signed.amendments.select_related("by")
        return Standing(
            words=" ".join([_signed(signed, session), *(_amended(a, session) for a in amendments)]), signed=True
        )
    if session.is_open:
        return Standing(words="", signed=False)
    words = _("Ended by {name}, {when}: {how}. It waits for the veterinarian.")
    by = session.ended_by.name if session.ended_by else ""
    told = {"name": by, "when": _moment(session.ended_at), "how": session.get_ending_display()}
    return Standing(words=words.format(**told), signed=False)


def _signed(signed: SignedValue, session: Session) -> str:
    words = _("Signed by {name}, {when}: {value}.")
    value = _("no valid value")
    if signed.chosen is not None:
        # what was accepted as charted has the decimals of a charted pressure, another one those that were typed
        shown = mmhg if signed.chosen == signed.charted else as_chosen
        value = f"{_shown(signed.chosen, session, shown)} mmHg"
    return words.format(name=signed.signed_by.name, when=_moment(signed.signed_at), value=value)


def _amended(amendment: Amendment, session: Session) -> str:
    told = {"name": amendment.by.name, "when": _moment(amendment.at)}
    if amendment.withdrawn:
        return _("Taken back by {name}, {when}: no valid value.").format(**told)
    if amendment.chosen is None:
        return _("Amended by {name}, {when}, the value stands.").format(**told)
    value = _shown(amendment.chosen, session, as_chosen)
    return _("Amended by {name}, {when}: {value} mmHg stands.").format(value=value, **told)


def _shown(value_mmhg: float, session: Session, shown: Callable[..., str]) -> str:
    return shown(value_mmhg, rules=session.practice.rules, species=session.animal.species)


def _moment(at: object) -> str:
    return date_format(timezone.localtime(at), "j F Y, H:i")  # type: ignore[arg-type]
