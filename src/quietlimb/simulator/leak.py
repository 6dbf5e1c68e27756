"""A cuff or tube that leaks: air goes on escaping beside the valve, on level stretches too."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from quietlimb.simulator.cuff_course import CuffCourse


def leaking(course: CuffCourse, leak_mmhg_per_s: float) -> CuffCourse:
    """The course with so much more fall from the end of the inflation on; it is over sooner, at the same pressure.

    leak_mmhg_per_s : steady; the fading of a leak with the pressure is left out. [mmHg/s]
    """
    if leak_mmhg_per_s == 0.0:
        return course
    stop = float(course.knot_mmhg[-1])
    # there is a knot where the pump stops, so a straight loss between knots is the steady leak
    leaked = course.knot_mmhg - leak_mmhg_per_s * np.maximum(course.knot_s - course.pump_off_s, 0.0)
    deflating = course.knot_s >= course.deflation_s[0]
    k = int(np.flatnonzero(deflating & (leaked <= stop))[0])
    share = (leaked[k - 1] - stop) / (leaked[k - 1] - leaked[k])
    dump = float(course.knot_s[k - 1] + share * (course.knot_s[k] - course.knot_s[k - 1]))
    return replace(
        course,
        knot_s=np.append(course.knot_s[:k], dump),
        knot_mmhg=np.append(leaked[:k], stop),
        step_s=course.step_s[course.step_s < dump],
        deflation_s=(course.deflation_s[0], dump),
        end_s=course.end_s - (course.deflation_s[1] - dump),
        leak_mmhg_per_s=leak_mmhg_per_s,
    )
