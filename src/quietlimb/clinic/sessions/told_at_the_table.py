"""What was told of a session at the table besides its pressures, for whoever reads the record later."""

from __future__ import annotations

from django.utils.translation import gettext as _

from quietlimb.clinic.sessions.models import Session


def told_at_the_table(session: Session) -> list[tuple[str, str]]:
    """(name, value) of all that was told and has no place among the engine's circumstances."""
    yes_no = {True: _("yes"), False: _("no"), None: ""}
    lines = (
        (_("demeanour"), session.demeanour),
        (_("demeanour at the end"), session.demeanour_at_end),
        (_("signs seen"), session.signs),
        (_("today's tablet"), str(session.get_tablet_display())),
        (_("drugs in the last 24 hours"), session.drugs_24_h),
        (_("calming medicine before the visit"), session.calming_medicine),
        (_("owner there"), yes_no[session.owner_present]),
        (_("before the examination"), yes_no[session.before_examination]),
    )
    return [(name, " ".join(value.split())) for name, value in lines if value.strip()]


def remarks_of(session: Session) -> str:
    """The same in one line behind the remarks, as it goes into note, page and files."""
    told = [f"{name}: {value}" for name, value in told_at_the_table(session)]
    return "; ".join([*filter(None, [session.remarks.strip().rstrip(".;")]), *told])
