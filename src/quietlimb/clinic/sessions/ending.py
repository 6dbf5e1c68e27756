"""Whether an end fits what stands in the session: what contradicts it is refused, what is unlikely is asked about."""

from __future__ import annotations

from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from quietlimb.clinic.sessions.entry import EntryError
from quietlimb.clinic.sessions.models import Ending, Reading, Session


def end_question(session: Session, ending: Ending) -> EntryError | None:
    """What speaks against this end; `asks` says that it can be so all the same. None where nothing does."""
    standing = Reading.objects.filter(series__session=session, spoiled="", struck_at=None).count()
    if ending == Ending.NONE_OBTAINED and standing:
        says = ngettext("%(n)d reading stands here", "%(n)d readings stand here", standing) % {"n": standing}
        remedy = _('if none can be used, press "No valid value today"; strike through what was a mistake')
        return EntryError("readings-stand", says, remedy)
    if ending == Ending.CLOSED and not standing:
        remedy = _('if none was obtained, press "No reading obtained"; press "Done" again if it is to end like this')
        return EntryError("no-reading", _("No reading here counts"), remedy, asks=True)
    return None


def full_cuff_question(pressure_mmhg: float | None) -> EntryError | None:
    """That there is air in the cuff still, which is never left so; None where it is empty, or nobody knows.

    pressure_mmhg : what it holds now
    """
    if pressure_mmhg is None:
        return None
    says = _("The cuff holds %(mmhg).0f mmHg still") % {"mmhg": pressure_mmhg}
    remedy = _("let the air out first: never leave a cuff inflated. Press again to end the session all the same")
    return EntryError("cuff-full", says, remedy, asks=True)
