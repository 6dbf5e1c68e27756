"""From what stands on the clinic's pages, and the form at the cuff, to the choices of the training animal."""

from __future__ import annotations

from datetime import datetime
from typing import Any

from django.utils.translation import gettext as _

from quietlimb.clinic.sessions.entry import EntryError
from quietlimb.clinic.sessions.models import Series, Session
from quietlimb.clinic.teaching.models import TrainingRun
from quietlimb.engine.errors import ParameterError
from quietlimb.simulator.training import Choices, case_from

WHERE_A_TABLE_IS = "consulting-room"


def choices_of(run: TrainingRun, series: Series, told: dict[str, Any], *, first_at: datetime) -> Choices:
    """Everything chosen for one inflation.

    told     : the form at the cuff, cleaned
    first_at : when the first inflation of the run began

    Raises EntryError where something is missing or impossible.
    """
    session = series.session
    for chosen, says in (
        (session.place, _("Where the animal is has not been said")),
        (series.site, _("Where the cuff lies has not been said")),
        (series.cuff_id, _("No cuff has been chosen")),
        (series.position, _("How the animal lies has not been said")),
    ):
        if not chosen:
            raise EntryError("not-chosen", says, _("open a new series below, or correct the session, and say it"))
    case = case_from(run.case)
    if session.place not in case.places:
        raise EntryError(
            "place-not-there",
            _("{animal} cannot be measured here: {place}").format(
                animal=case.story.animal, place=session.get_place_display()
            ),
            _("correct in the session where the animal is: {places}").format(
                places=", ".join(str(Session.Place(each).label) for each in case.places)
            ),
        )
    if told["on_table"] and session.place != WHERE_A_TABLE_IS:
        raise EntryError(
            "no-table",
            _("There is an examination table in the consulting room only"),
            _("untick it, or correct in the session where the animal is"),
        )
    assert series.cuff is not None
    try:
        return Choices(
            place=session.place,
            acclimatisation_min=max(0.0, (first_at - run.came_in_at).total_seconds() / 60.0),
            position=series.position,  # type: ignore[arg-type]  # checked by the choices themselves
            site=series.site,  # type: ignore[arg-type]
            side=series.side or None,  # type: ignore[arg-type]
            cuff_width_cm=series.cuff.width_cm,
            cuff_below_heart_cm=series.cuff_below_heart_cm or 0.0,
            inflate_to_mmhg=told["inflate_to"],
            fall_mmhg_per_s=told["fall"],
            deflation="steps" if told["steps"] else "linear",
            limb_loaded=not told["limb_free"],
            tail_held=told["tail_held"],
            on_table=told["on_table"],
            before_examination=session.before_examination is not False,
            owner_present=session.owner_present is not False,
            drug_free=not session.calming_medicine and session.sedation in ("", "awake"),
            setup_checked=run.checked,
        )
    except ParameterError as error:
        raise EntryError(error.code, error.says, error.remedy) from None
