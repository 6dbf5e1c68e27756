"""The circumstances of a series as readable lines."""

from __future__ import annotations

from collections.abc import Mapping

from quietlimb.engine.circumstances import Circumstances
from quietlimb.words.language import _, mark
from quietlimb.words.place import place_name

POSITIONS: Mapping[str, str] = {
    "chest-down": mark("chest down"),
    "side-lying": mark("lying on the side"),
    "sitting": mark("sitting"),
    "standing": mark("standing"),
    "on-lap": mark("on the lap"),
}


def _told(*parts: str | None) -> str:
    return " ".join(part for part in parts if part)


def cuff_line(circumstances: Circumstances) -> str | None:
    """The cuff against the limb: `2.5 cm on 7.1 cm, 35 %`; None when nothing is known."""
    width, limb = circumstances.cuff_width_cm, circumstances.limb_circumference_cm
    sizes = None
    if width is not None and limb is not None:
        sizes = _("{width:g} cm wide on a limb of {limb:g} cm, {percent:.0f} %").format(
            width=width, limb=limb, percent=100.0 * width / limb
        )
    elif width is not None:
        sizes = _("{width:g} cm wide").format(width=width)
    elif limb is not None:
        sizes = _("limb of {limb:g} cm").format(limb=limb)
    return ", ".join(part for part in (circumstances.cuff, sizes) if part) or None


def height_line(circumstances: Circumstances) -> str | None:
    """Where the cuff lay against the heart; None when not told."""
    gap = circumstances.cuff_below_heart_cm
    if gap is None:
        return None
    if gap == 0:
        return _("at heart level")
    words = _("{cm:g} cm below the heart") if gap > 0 else _("{cm:g} cm above the heart")
    return words.format(cm=abs(gap))


def setting_lines(circumstances: Circumstances) -> list[tuple[str, str]]:
    """(name, value) of every circumstance that was told, in the order of a record; what was not told is left out."""
    c = circumstances
    minutes = None if c.acclimatisation_min is None else _("{minutes:g} min").format(minutes=c.acclimatisation_min)
    lines = (
        (_("Site"), _told(c.side, c.site)),
        (_("Position"), _(POSITIONS[c.position]) if c.position else None),
        (_("Place"), place_name(c.place) if c.place else None),
        (_("Settled for"), minutes),
        (_("Method"), c.method),
        (_("Instrument"), c.instrument),
        (_("Cuff"), cuff_line(c)),
        (_("Cuff height"), height_line(c)),
        (_("State"), c.sedation),
        (_("Read by"), c.read_by),
        (_("Held by"), c.held_by),
        (_("Remarks"), c.remarks),
    )
    return [(name, value) for name, value in lines if value]
