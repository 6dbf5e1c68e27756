"""The line of an arterial catheter in sentences: what was found of it, and what is wrong."""

from __future__ import annotations

from collections.abc import Mapping

from quietlimb.agreement.line_summary import LineFault, LineSummary, Span
from quietlimb.words.language import _, mark

LINE_FAULTS: Mapping[str, str] = {
    "zero-not-told": mark("zero of the transducer not told; open it to the air and write what it says"),
    "level-not-told": mark("height of the transducer not told"),
    "flush-not-tested": mark("not flushed, so how it rings is not known; flush it before and after a series"),
    "zero-off": mark("the transducer says {zero} mmHg when open to the air; zero it"),
    "level-off": mark(
        "the transducer stands {height} cm below the level of the heart; zero and height together add {offset} mmHg, "
        "and nothing was subtracted"
    ),
    "flush-rings-too-much": mark("it rings too much{response}; look for long or soft tubes"),
    "flush-damped-too-much": mark("it is damped too much{response}; look for air, a clot or a kink"),
    "flush-too-slow": mark("it is too slow for this pulse{response}; shorten it"),
}


def line_fault_sentences(lines: LineSummary) -> list[str]:
    """What is wrong with the lines, or was not looked at, each with how many determinations it is true of."""
    return [
        _("Arterial line, {count} of {rows} determinations: {fault}.").format(
            count=each.determinations, rows=lines.rows, fault=_fault(each)
        )
        for each in lines.faults
    ]


def line_sentences(lines: LineSummary) -> list[str]:
    """What was found of the lines, and in how many determinations they are as they should be."""
    found = lines.figures
    told = [
        _(name).format(span=_range(span, form))
        for name, span, form in (
            (mark("zero {span} mmHg"), found.zero_mmhg, "+z.1f"),
            (mark("transducer {span} cm below the heart"), found.below_heart_cm, "+z.1f"),
            (mark("natural frequency {span} Hz"), found.natural_hz, ".0f"),
            (mark("damping {span}"), found.damping, ".2f"),
            (mark("systolic error about {span} mmHg"), found.systolic_error_mmhg, "+z.0f"),
        )
        if span is not None
    ]
    return [
        *([_("Arterial line: {told}.").format(told=", ".join(told))] if told else []),
        _(
            "Zero, level and fast flush of the arterial line were as they should be in {adequate} of {rows} "
            "determinations."
        ).format(adequate=lines.adequate, rows=lines.rows),
    ]


def _fault(fault: LineFault) -> str:
    found = fault.figures
    response = [] if found.natural_hz is None else [_("{hz} Hz").format(hz=_range(found.natural_hz, ".0f"))]
    if found.damping is not None:
        response.append(_("damping {damping}").format(damping=_range(found.damping, ".2f")))
    if found.systolic_error_mmhg is not None:
        response.append(_("about {error} mmHg systolic").format(error=_range(found.systolic_error_mmhg, "+z.0f")))
    return _(LINE_FAULTS[fault.code]).format(
        zero=_range(found.zero_mmhg, "+z.1f"),
        height=_range(found.below_heart_cm, "+z.1f"),
        offset=_range(found.offset_mmhg, "+z.1f"),
        response=f" ({', '.join(response)})" if response else "",
    )


def _range(span: Span | None, form: str) -> str:
    if span is None:
        return "-"
    low, high = (format(end, form) for end in span)
    return low if low == high else _("{low} to {high}").format(low=low, high=high)
