"""The pictures of docs/reading-method.md. Called by docs/make.py."""

from __future__ import annotations

import math
from pathlib import Path
from typing import Any

import numpy as np
from method_study import PRESSURES, SHAPE, WAYS, Looked, NoiseStudy
from numpy.typing import NDArray

from quietlimb.engine.reading import METHODS, read
from quietlimb.figures.export import save
from quietlimb.figures.inline import inline
from quietlimb.figures.invented import INVENTED_WORDS
from quietlimb.figures.look import LOOKS, TEXT_SIZE, Spec, config, title
from quietlimb.simulator.arteries.arctangent import Arctangent
from quietlimb.simulator.arteries.artery import Artery
from quietlimb.simulator.arteries.double_exponential import DoubleExponential
from quietlimb.simulator.arteries.log_sigmoid import LogSigmoid
from quietlimb.simulator.arteries.tube_law import TubeLaw
from quietlimb.simulator.pulse_shape import pulse_shape

Array = NDArray[np.float64]

LOOK = LOOKS["light"]
# Of lines that mean different things: never by colour alone.
STROKES = ((LOOK.ink, [1, 0]), (LOOK.accent, [6, 3]), (LOOK.depths[2], [2, 2]), (LOOK.quiet, [8, 3, 2, 3]))
PANELS = 6
HYPHENS = "replace(datum.label, '\u2212', '-')"  # our font has no minus sign
Row = dict[str, Any]


def small_title(*words: str) -> Any:
    """Above a panel."""
    import altair as alt

    return alt.TitleParams(list(words), fontSize=TEXT_SIZE, fontWeight="normal")


def chart(rows: list[Row]) -> Any:
    """A chart of these rows."""
    import altair as alt

    return alt.Chart(inline(rows))


def finished(picture: Any, heading: str, lines: tuple[str, ...], description: str, *, invented: bool) -> Spec:
    """The specification with title, look and the text for those who listen."""
    import altair as alt

    block = title(LOOK, invented=INVENTED_WORDS if invented else None, heading=heading, lines=lines)
    spec: Spec = picture.properties(title=alt.TitleParams(**(block or {})), description=description).to_dict()
    spec["config"] = config(LOOK)
    spec["padding"] = 8
    return spec


def pulses_picture(looked: Looked) -> Spec:
    """Averaged waveforms and what the fit says of them; beside them the arterial pulse found and the true one."""
    import altair as alt

    waves = looked.waveforms
    systolic, diastolic = (float(getattr(looked.reading, name).value) for name in ("systolic", "diastolic"))
    wanted = np.linspace(systolic + 5.0, diastolic - 15.0, PANELS)
    chosen = [int(np.abs(waves.cuff_pressure_mmhg - pressure).argmin()) for pressure in wanted]
    foot = np.min(looked.fitted[chosen], axis=1)
    top = float(np.max(looked.fitted[chosen] - foot[:, None])) * 1.12
    time_ms = 1e3 * waves.since_upstroke_s
    panels = []
    for k, (row, low) in enumerate(zip(chosen, foot, strict=True)):
        rows = [
            {"ms": float(t), "observed": float(o - low), "fitted": float(f - low)}
            for t, o, f in zip(time_ms, waves.pressure_mmhg[row], looked.fitted[row], strict=True)
        ]
        x = alt.X("ms:Q", axis=alt.Axis(title="ms", grid=False, values=[0, 200, 400]))

        def y(name: str, first: bool = k == 0) -> Any:
            axis = alt.Axis(title="cuff, mmHg above foot" if first else None, labels=first, tickCount=4)
            return alt.Y(f"{name}:Q", axis=axis, scale=alt.Scale(domain=[-0.1 * top, top], nice=False))

        pulses = int(waves.pulses[row])
        words = [f"cuff at {waves.cuff_pressure_mmhg[row]:.0f}", f"{pulses} pulse{'' if pulses == 1 else 's'}"]
        panels.append(
            alt.layer(
                chart(rows)
                .mark_point(color=LOOK.accent, filled=True, size=16, opacity=0.9)
                .encode(x=x, y=y("observed")),
                chart(rows).mark_line(color=LOOK.ink, strokeWidth=1.3).encode(x=x, y=y("fitted")),
            ).properties(width=100, height=170, title=small_title(*words))
        )
    panels.append(_arterial_panel(looked))
    values = ", ".join(f"{name} {getattr(looked.reading, name).value:.0f}" for name in PRESSURES)
    truth = ", ".join(f"{getattr(looked.simulated.truth, name):.0f}" for name in PRESSURES)
    return finished(
        alt.hconcat(*panels, spacing=8),
        "One pulse, seen at six cuff pressures, and the arterial pulse behind it",
        ("dots: averaged waveforms, line: the fit; right: arterial pulse found (solid) and true (dashed)",),
        f"Six panels of cuff pulses from a cuff above systolic to one below diastolic pressure. Above systolic only a "
        f"small hump is left; in between the pulse is high and narrow; below diastolic it is broad. The fitted line "
        f"follows the dots. Seventh panel: arterial pulse found and true. Found: {values} mmHg; true: {truth} mmHg.",
        invented=True,
    )


def _arterial_panel(looked: Looked) -> Any:
    import altair as alt

    period_ms, phases = 1e3 * looked.waveforms.period_s, looked.found.size
    phase = np.arange(phases) / phases
    truth = looked.simulated.truth
    assert truth.systolic is not None
    assert truth.diastolic is not None
    fine = looked.shape.at(np.arange(512) / 512)
    steepest = float(np.argmax(np.roll(fine, -1) - np.roll(fine, 1))) / 512
    true = truth.diastolic + (truth.systolic - truth.diastolic) * looked.shape.at((phase + steepest) % 1.0)
    back = round(0.22 * phases)  # as much before the upstroke as the other panels show
    rows = [
        {"ms": float((p - (1.0 if k >= phases - back else 0.0)) * period_ms), "found": float(f), "true": float(t)}
        for k, (p, f, t) in enumerate(zip(phase, looked.found, true, strict=True))
    ]
    rows.sort(key=lambda row: row["ms"])
    scale = alt.Scale(zero=False, nice=True)
    x = alt.X("ms:Q", axis=alt.Axis(title="ms", grid=False, values=[0, 200, 400]))
    axis = alt.Axis(title="artery, mmHg", orient="right", tickCount=5)
    return alt.layer(
        chart(rows)
        .mark_line(color=LOOK.accent, strokeWidth=1.8)
        .encode(x=x, y=alt.Y("found:Q", axis=axis, scale=scale)),
        chart(rows)
        .mark_line(color=LOOK.ink, strokeWidth=1.2, strokeDash=[4, 3])
        .encode(x=x, y=alt.Y("true:Q", axis=axis, scale=scale)),
    ).properties(
        width=120,
        height=170,
        title=small_title("in the artery", "found and true"),
    )


SYSTOLIC, DIASTOLIC = 150.0, 95.0
CUFFS = (75.0, 105.0, 140.0)
# Ordinary members of families that the simulator draws: from the middle of their ranges.
ARTERIES: tuple[Artery, ...] = (
    DoubleExponential(collapse=0.10, distension=0.045),
    Arctangent(half_width=13.0),
    LogSigmoid(distension=0.03, opening=0.11),
    TubeLaw(stiffness=13.0, distension=15.0),
)


def arteries_picture() -> Spec:
    """Volume against transmural pressure of four families of arteries, and the pulses that they give."""
    import altair as alt

    transmural = np.linspace(-60.0, 80.0, 141)
    phase = np.linspace(0.0, 1.0, 121)
    pressure = DIASTOLIC + (SYSTOLIC - DIASTOLIC) * pulse_shape(**SHAPE).at(phase)
    volume: list[Row] = []
    pulse: list[Row] = []
    for artery in ARTERIES:
        held = artery.volume(transmural) - artery.volume(np.array([0.0]))
        volume += [
            {"mmhg": float(p), "held": float(v), "family": artery.family} for p, v in zip(transmural, held, strict=True)
        ]
        for cuff in CUFFS:
            wave = artery.volume(pressure - cuff)
            pulse += [
                {"phase": float(p), "held": float(v), "family": artery.family, "cuff": cuff}
                for p, v in zip(phase, wave - wave.min(), strict=True)
            ]
    names = [artery.family for artery in ARTERIES]
    colours = alt.Scale(domain=names, range=[colour for colour, _ in STROKES])
    dashes = alt.Scale(domain=names, range=[dash for _, dash in STROKES])
    legend = alt.Legend(orient="bottom", title=None, symbolStrokeWidth=2, labelColor=LOOK.ink, symbolSize=400)
    line = {
        "color": alt.Color("family:N", scale=colours, legend=legend, sort=names),
        "strokeDash": alt.StrokeDash("family:N", scale=dashes, legend=legend, sort=names),
    }
    axis = alt.Axis(title="volume, mmHg of greatest compliance", labelExpr=HYPHENS)
    curves = (
        chart(volume)
        .mark_line(strokeWidth=1.6)
        .encode(
            x=alt.X("mmhg:Q", axis=alt.Axis(title="transmural pressure, mmHg", grid=False, labelExpr=HYPHENS)),
            y=alt.Y("held:Q", axis=axis),
            **line,
        )
        .properties(width=230, height=190, title=small_title("volume against pressure"))
    )
    edge = 1.05 * max(float(row["held"]) for row in pulse)
    panels = [
        chart([row for row in pulse if row["cuff"] == cuff])
        .mark_line(strokeWidth=1.6)
        .encode(
            x=alt.X("phase:Q", axis=alt.Axis(title="share of the period", grid=False, values=[0, 0.5, 1])),
            y=alt.Y(
                "held:Q",
                axis=alt.Axis(title="above its lowest" if k == 0 else None, labels=k == 0),
                scale=alt.Scale(domain=[0.0, edge], nice=False),
            ),
            **line,
        )
        .properties(width=120, height=190, title=small_title(f"cuff at {cuff:.0f}"))
        for k, cuff in enumerate(CUFFS)
    ]
    return finished(
        alt.hconcat(curves, *panels, spacing=14),
        "Four kinds of artery, and the pulses that one arterial pulse gives in them",
        (f"{SYSTOLIC:.0f} over {DIASTOLIC:.0f} mmHg; simulated arteries, of families that the fit does not contain",),
        "Left: volume against transmural pressure of four artery families, steep near zero and flat where collapsed; "
        "they part where distended. Right: the pulses of one arterial pulse at a cuff pressure below diastolic, one "
        "between and one near systolic pressure: height and form differ from family to family.",
        invented=False,
    )


def envelope_picture(looked: Looked) -> Spec:
    """Pulse heights with the fitted envelope; below it what each method reads, with its interval, and the truth."""
    import altair as alt

    evidence = looked.reading.evidence
    assert evidence is not None
    assert evidence.pulses is not None
    pulses = evidence.pulses
    lowest, highest = float(pulses.cuff_pressure_mmhg.min()), float(pulses.cuff_pressure_mmhg.max())
    domain = [10.0 * math.floor(lowest / 10.0), 10.0 * math.ceil(highest / 10.0)]
    scale = alt.Scale(domain=domain, nice=False)

    def x(name: str, heading: str | None) -> Any:
        axis = alt.Axis(title=heading, grid=False, labels=heading is not None, ticks=heading is not None)
        return alt.X(f"{name}:Q", scale=scale, axis=axis)

    heights = [
        {"cuff": float(p), "height": float(h), "kept": bool(k)}
        for p, h, k in zip(pulses.cuff_pressure_mmhg, pulses.height_mmhg, pulses.kept, strict=True)
    ]
    curve = [
        {"cuff": float(p), "height": float(h)}
        for p, h in zip(evidence.envelope_pressure_mmhg, evidence.envelope_height_mmhg, strict=True)
    ]
    top = 1.15 * max(float(row["height"]) for row in (*heights, *curve))
    bottom = min(0.0, *(float(row["height"]) for row in heights))
    scale_up = alt.Scale(domain=[bottom, top], nice=False)
    y = alt.Y("height:Q", axis=alt.Axis(title="pulse height, mmHg", tickCount=4), scale=scale_up)
    truth = [{"mmhg": float(getattr(looked.simulated.truth, name)), "name": name} for name in PRESSURES]
    rule = chart(truth).mark_rule(color=LOOK.quiet, strokeDash=[3, 3])
    kept = [row for row in heights if row["kept"]]
    aside = [row for row in heights if not row["kept"]]
    upper = alt.layer(
        rule.encode(x=x("mmhg", None)),
        chart(truth)
        .mark_text(align="left", dx=3, baseline="top", color=LOOK.quiet)
        .encode(x=x("mmhg", None), y=alt.value(0), text="name:N"),
        chart(curve).mark_line(color=LOOK.ink, strokeWidth=1.5).encode(x=x("cuff", None), y=y),
        chart(kept).mark_point(color=LOOK.accent, filled=True, size=26, opacity=1).encode(x=x("cuff", None), y=y),
        chart(aside).mark_point(color=LOOK.quiet, size=26, opacity=1).encode(x=x("cuff", None), y=y),
    ).properties(width=560, height=210)
    rows: list[Row] = []
    for method in METHODS:
        reading = looked.reading if method == METHODS[0] else read(looked.simulated.recording, method=method)
        for name in PRESSURES:
            estimate = getattr(reading, name)
            if estimate is not None:
                half = 1.96 * estimate.own_sd
                rows.append(
                    {"method": method, "mmhg": estimate.value, "low": estimate.low, "high": estimate.high}
                    | {"own_low": estimate.value - half, "own_high": estimate.value + half}
                    | {"lane": {"systolic": 5, "mean": 0, "diastolic": -5}[name]}
                )
    place = alt.Y("method:N", sort=list(METHODS), axis=alt.Axis(title=None, labelColor=LOOK.ink))
    lanes = []
    for lane in (5, 0, -5):  # three intervals of one method overlap on one line
        some = [row for row in rows if row["lane"] == lane]
        moved = {"yOffset": lane}
        lanes += [
            chart(some)
            .mark_rule(color=LOOK.accent, strokeWidth=1.2, **moved)
            .encode(x=x("low", "cuff pressure, mmHg"), x2="high:Q", y=place),
            chart(some)
            .mark_rule(color=LOOK.accent, strokeWidth=4, opacity=0.45, **moved)
            .encode(x=x("own_low", "cuff pressure, mmHg"), x2="own_high:Q", y=place),
            chart(some)
            .mark_point(color=LOOK.accent, filled=True, size=34, opacity=1, **moved)
            .encode(x=x("mmhg", "cuff pressure, mmHg"), y=place),
        ]
    lower = alt.layer(rule.encode(x=x("mmhg", "cuff pressure, mmHg")), *lanes).properties(width=560, height=100)
    told = "; ".join(
        f"{name} {getattr(looked.reading, name).value:.0f} ({getattr(looked.reading, name).low:.0f} to "
        f"{getattr(looked.reading, name).high:.0f}), true {getattr(looked.simulated.truth, name):.0f}"
        for name in PRESSURES
    )
    return finished(
        alt.vconcat(upper, lower, spacing=6),
        "Envelope, and what three methods read from the same pulses",
        (
            "dots: pulses (hollow: set aside), line: fitted heights, dashed: truth",
            "below: value with its 95 % interval; the thick part is what the next reading would draw anew",
        ),
        f"Pulse heights against cuff pressure with the fitted envelope, and below it the pressures of the artery fit, "
        f"fixed ratios and steepest flanks with their intervals. Artery fit: {told} mmHg.",
        invented=True,
    )


def noise_picture(study: NoiseStudy) -> Spec:
    """Root mean square error of four ways of reading against peak-to-noise."""
    import altair as alt

    rows: list[Row] = []
    for way in WAYS:
        for k, level in enumerate(study.peak_to_noise):
            rmse, sd = study.rmse(way, k), study.rmse_sd(way, k)
            for j, name in enumerate(PRESSURES):
                value, error = float(rmse[j]), 1.96 * float(sd[j])
                rows.append(
                    {"way": way, "noise": level * 1.04 ** WAYS.index(way), "name": name, "rmse": value}
                    | {"low": max(value - error, 0.0), "high": value + error}
                )
    edge = 5.0 * math.ceil(max(float(row["rmse"]) for row in rows) * 1.1 / 5.0)
    colours = alt.Scale(domain=list(WAYS), range=[colour for colour, _ in (STROKES[1], *STROKES[2:], STROKES[0])])
    dashes = alt.Scale(domain=list(WAYS), range=[[1, 0], [6, 3], [2, 2], [8, 3, 2, 3]])
    legend = alt.Legend(orient="bottom", title=None, symbolStrokeWidth=2, labelColor=LOOK.ink, symbolSize=400)
    panels = []
    for k, name in enumerate(PRESSURES):
        some = [row for row in rows if row["name"] == name]
        axis = alt.Axis(title="largest pulse over noise of one height", values=list(study.peak_to_noise), grid=False)
        x = alt.X("noise:Q", scale=alt.Scale(type="log", nice=False, padding=8), axis=axis)
        y_axis = alt.Axis(title="root mean square error, mmHg" if k == 0 else None, tickCount=5)
        scale = alt.Scale(domain=[0.0, edge], nice=False, clamp=True)
        colour = alt.Color("way:N", scale=colours, legend=legend, sort=list(WAYS))
        panels.append(
            alt.layer(
                chart(some)
                .mark_rule(strokeWidth=1)
                .encode(x=x, y=alt.Y("low:Q", axis=y_axis, scale=scale), y2="high:Q", color=colour),
                chart(some)
                .mark_line(strokeWidth=1.8)
                .encode(
                    x=x,
                    y=alt.Y("rmse:Q", axis=y_axis, scale=scale),
                    color=colour,
                    strokeDash=alt.StrokeDash("way:N", scale=dashes, legend=legend, sort=list(WAYS)),
                ),
            ).properties(width=210, height=220, title=small_title(name))
        )
    first, last = study.rmse(WAYS[0], 0), study.rmse(WAYS[0], -1)
    told = "; ".join(f"{name} {first[j]:.1f} falling to {last[j]:.1f}" for j, name in enumerate(PRESSURES))
    kept = ", ".join(f"{n} at {level:g}" for n, level in zip(study.kept, study.peak_to_noise, strict=True))
    return finished(
        alt.hconcat(*panels, spacing=14),
        "Error against noise",
        (
            f"{study.count} undisturbed simulated recordings a level, the same animals at each; kept and read: {kept}",
            "upright bars: 95 % of the Monte Carlo error",
        ),
        f"Root mean square error of four ways of reading against peak-to-noise {study.peak_to_noise[0]:g} to "
        f"{study.peak_to_noise[-1]:g}. Artery fit, mmHg: {told}.",
        invented=False,
    )


def draw(folder: Path, looked: Looked, study: NoiseStudy) -> None:
    """All four into the folder."""
    for name, spec in (
        ("method-pulses.png", pulses_picture(looked)),
        ("method-arteries.png", arteries_picture()),
        ("method-envelope.png", envelope_picture(looked)),
        ("method-noise.png", noise_picture(study)),
    ):
        save(spec, folder / name)
