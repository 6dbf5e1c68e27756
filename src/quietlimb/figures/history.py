"""The picture of the months: sessions over time, the underlying pressure behind them, treatment and goals."""

from __future__ import annotations

import math
from collections.abc import Sequence
from datetime import date
from typing import Any

from quietlimb.engine.circumstances import Circumstances
from quietlimb.engine.errors import ParameterError
from quietlimb.engine.follow_up.follow import ODD_FROM, FittedStretch, FollowUp
from quietlimb.engine.follow_up.path import LevelPath
from quietlimb.engine.values import TWO_SIDED_95
from quietlimb.figures.inline import inline
from quietlimb.figures.invented import invented_words
from quietlimb.figures.look import (
    LINE_HEIGHT,
    LOOKS,
    SMALL_SIZE,
    Look,
    Spec,
    Theme,
    config,
    pressure_axis,
    spread_labels,
    title,
)
from quietlimb.words import follow_up as words

LEFT, RIGHT, TOP, BOTTOM = 36, 108, 32, 52  # px around the plot
CAPTION_LINE = 14  # px, of each line of the caption after the second
TALLEST = 280  # px
NAME_WIDTH = 105  # px, of the longest name of an event
MOST_ROWS = 6
EVENT_ROW = 13  # px between the names of events, which stand above the plot
DOT = 70.0  # px^2
LINES = frozenset({"least-goal", "ideal-goal", "boundary"})
GOAL_WORDS = {"least-goal": "least goal", "ideal-goal": "ideal goal", "boundary": "category"}
Row = dict[str, Any]


def history_figure(
    found: FollowUp,
    path: LevelPath | None,
    *,
    title: str | None = None,
    theme: Theme = "light",
    missed: Sequence[int] = (),
    width: int = 640,
) -> Spec:
    """The Vega-Lite specification of a history.

    Dots are sessions as charted, whiskers the 95 % interval of what their readings left open; a hollow one is an odd
    session, a diamond one under other circumstances than the usual, a square one that cannot be compared with the
    latest. Line and band are the underlying pressure with its 95 % interval. Upright lines are treatment events.

    missed: days on which a tablet was missed, drawn as treatment events are; the course knows nothing of them
    path  : of the sessions that can be compared with the latest; None where there is no session awake
    width : of the whole picture [px], 340 or more

    Raises
    ------
    ParameterError : the width is below 340 (`too-narrow`).
    """
    if width < 340:
        raise ParameterError("too-narrow", f"width is {width} px", "give 340 or more")
    return _Drawing(found, path, LOOKS[theme], width, missed).spec(title, theme)


def _iso(day: float) -> str:
    return date.fromordinal(int(day)).isoformat()


class _Drawing:
    """The layers of one picture; every number drawn is in the follow-up or the path already."""

    def __init__(self, found: FollowUp, path: LevelPath | None, look: Look, width: int, missed: Sequence[int]) -> None:
        self.found, self.path, self.look = found, path, look
        told = [(event.day, words.step_name(event.step)) for event in found.history.events]
        told += [(day, words.missed_name()) for day in missed if day <= found.on_day]
        self.told = sorted(told, key=lambda event: event[0])
        self.width, self.height = width - LEFT - RIGHT, min(TALLEST, width // 2)
        self.rows = [row for stretch in found.earlier for row in self._rows(stretch, latest=False)]
        if found.latest is not None:
            self.rows += self._rows(found.latest, latest=True)
        self.goals: list[Row] = [
            {"mmhg": target.below.value, "words": f"{GOAL_WORDS[target.code]} < {target.below.value:.0f}"}
            for target in found.targets
            if target.code in LINES
        ]
        days = [session.day for session in found.history.sessions] + [day for day, _name in self.told]
        margin = max(3, (found.on_day - min(days)) // 40)
        self.dates = (min(days) - margin, found.on_day + margin)
        self.events = self._event_rows()
        seen = [row[key] for row in self.rows for key in ("low", "high")] + [goal["mmhg"] for goal in self.goals]
        seen += [] if path is None else [float(path.low.min()), float(path.high.max())]
        low, high = (min(seen), max(seen)) if seen else (90.0, 190.0)
        self.mmhg = (10.0 * math.floor((low - 2.0) / 10.0), 10.0 * math.ceil((high + 2.0) / 10.0))

    def _event_rows(self) -> list[Row]:
        """Each event with the row of its name: above those of the later events that it would run into, so that no
        upright line crosses a name."""
        per_day = self.width / (self.dates[1] - self.dates[0])
        rows: list[Row] = []
        for day, name in reversed(self.told):
            near = [row["row"] for row in rows if (row["day"] - day) * per_day < NAME_WIDTH]
            place = min(max(near, default=-1) + 1, MOST_ROWS - 1)
            rows.append({"date": _iso(day), "day": day, "words": name, "row": place})
        return rows[::-1]

    def _rows(self, stretch: FittedStretch, *, latest: bool) -> list[Row]:
        rows = []
        for k, each in enumerate(stretch.sessions):
            session = each.session
            reach = TWO_SIDED_95 * session.own_sd_mmhg
            form = "square" if not latest else "diamond" if stretch.stretch.offsets[k] else "circle"
            rows.append(
                {
                    "date": _iso(session.day),
                    "mmhg": session.systolic_mmhg,
                    "low": session.systolic_mmhg - reach,
                    "high": session.systolic_mmhg + reach,
                    "odd": each.odd >= ODD_FROM,
                    "form": form,
                }
            )
        return rows

    def spec(self, heading: str | None, theme: Theme) -> Spec:
        import altair as alt

        history = self.found.history
        invented = invented_words(Circumstances(species=history.species, animal=history.animal))
        under = (self._headline(),) if heading else ()
        block = title(self.look, invented=invented, heading=heading or self._headline(), lines=under)
        lines = 1 + len(under) + (invented is not None)
        layers = [
            *self._goal_layers(),
            *self._course_layers(),
            *self._event_layers(),
            *self._session_layers(),
            *self._label_layers(),
        ]
        lead = f"{invented}. " if invented else ""
        n = len(self.rows)
        picture = alt.layer(*layers).properties(
            width=self.width,
            height=self.height,
            title=alt.TitleParams(**block) if block else alt.Undefined,
            description=f"{lead}{n} session{'' if n == 1 else 's'}: {self._headline()}.",
        )
        spec: Spec = picture.to_dict()
        spec["config"] = config(self.look)
        spec["autosize"] = "none"
        events = EVENT_ROW * max((row["row"] + 1 for row in self.events), default=0)
        bottom = BOTTOM + CAPTION_LINE * max(0, len(self._caption()) - 2)
        spec["padding"] = {"left": LEFT, "right": RIGHT, "top": TOP + 17 * lines + events, "bottom": bottom}
        spec["usermeta"] = {"theme": theme}
        return spec

    def _headline(self) -> str:
        level = self.found.level
        day = words.day_name(self.found.on_day)
        if level is None:
            return f"{day}: no session awake"
        return f"{day}: underlying systolic {level.value:.0f} ({level.low:.0f} to {level.high:.0f}) mmHg"

    def _caption(self) -> list[str]:
        forms = {row["form"] for row in self.rows}
        odd = ["hollow: an odd session"] if any(row["odd"] for row in self.rows) else []
        other = ["squares cannot be compared with the latest session"] if "square" in forms else []
        usual = ["diamonds: other circumstances than the usual, or converted"] if "diamond" in forms else []
        lines = ["dots: sessions as charted; band: underlying pressure, 95 %", "; ".join(odd + other), *usual]
        return [line for line in lines if line]

    # -- scales -------------------------------------------------------------------------------------------------

    def _x(self, field: str = "date") -> Any:
        import altair as alt

        axis = alt.Axis(
            title=self._caption(),
            titleAnchor="start",
            titleAlign="left",
            titleX=0,
            tickCount=max(2, self.width // 90),
            labelOverlap=True,
            grid=False,
        )
        domain = [_iso(day) for day in self.dates]
        return alt.X(f"{field}:T", axis=axis, scale=alt.Scale(type="utc", domain=domain, nice=False))

    def _y(self, field: str) -> Any:
        return pressure_axis(field, self.mmhg)

    # -- layers -------------------------------------------------------------------------------------------------

    def _goal_layers(self) -> list[Any]:
        import altair as alt

        # The dates are in every picture, so that one without any session still has its scales.
        start = [{"date": _iso(self.dates[0]), "end": _iso(self.dates[1]), "mmhg": goal["mmhg"]} for goal in self.goals]
        start = start or [{"date": _iso(self.dates[0]), "end": _iso(self.dates[1]), "mmhg": self.mmhg[0]}]
        line = alt.Chart(inline(start)).mark_rule(color=self.look.hairline, strokeWidth=1)
        return [line.encode(x=self._x(), x2="end:T", y=self._y("mmhg"))]

    def _course_layers(self) -> list[Any]:
        import altair as alt

        if self.path is None:
            return []
        columns = (self.path.day, self.path.value, self.path.low, self.path.high)
        rows = [
            {"date": _iso(day), "value": value, "low": low, "high": high}
            for day, value, low, high in zip(*(column.tolist() for column in columns), strict=True)
        ]
        data = inline(rows)
        band = alt.Chart(data).mark_area(color=self.look.accent, opacity=0.16)
        line = alt.Chart(data).mark_line(color=self.look.accent, strokeWidth=1.6)
        if len(rows) == 1:
            # A band of one day would have no width.
            band = alt.Chart(data).mark_rule(color=self.look.accent, opacity=0.3, strokeWidth=8)
        return [
            band.encode(x=self._x(), y=self._y("low"), y2="high:Q"),
            line.encode(x=self._x(), y=self._y("value")),
        ]

    def _event_layers(self) -> list[Any]:
        import altair as alt

        layers: list[Any] = []
        for event in self.events:
            data = inline([event])
            up = -EVENT_ROW * (event["row"] + 1) + 4
            rule = alt.Chart(data).mark_rule(color=self.look.ink, strokeWidth=1, strokeDash=[3, 3])
            name = alt.Chart(data).mark_text(
                align="left", baseline="middle", dx=3, fontSize=SMALL_SIZE, color=self.look.ink
            )
            layers += [
                rule.encode(x=self._x(), y=alt.value(up - 5), y2=alt.value(self.height)),
                name.encode(x=self._x(), y=alt.value(up), text="words:N"),
            ]
        return layers

    def _session_layers(self) -> list[Any]:
        import altair as alt

        layers = []
        kinds = sorted({(row["form"], row["odd"]) for row in self.rows})
        for form, odd in kinds:
            data = inline([row for row in self.rows if (row["form"], row["odd"]) == (form, odd)])
            colour = self.look.quiet if form == "square" else self.look.accent
            whisker = alt.Chart(data).mark_rule(color=colour, strokeWidth=1.4)
            dot = alt.Chart(data).mark_point(
                shape=form,
                fill=self.look.ground if odd else colour,
                stroke=colour,
                strokeWidth=1.3,
                size=DOT,
                opacity=1,
            )
            layers += [
                whisker.encode(x=self._x(), y=self._y("low"), y2="high:Q"),
                dot.encode(x=self._x(), y=self._y("mmhg"), tooltip=["date:T", "mmhg:Q"]),
            ]
        return layers

    def _label_layers(self) -> list[Any]:
        import altair as alt

        labels: list[Row] = [goal | {"main": False} for goal in self.goals]
        level = self.found.level
        if level is not None:
            labels.append({"mmhg": level.value, "words": f"underlying {level.value:.0f}", "main": True})
        if not labels:
            return []
        per_px = (self.mmhg[1] - self.mmhg[0]) / self.height
        places = spread_labels(_numbers(labels), LINE_HEIGHT * per_px)
        layers = []
        for label, place in zip(labels, places, strict=True):
            text = alt.Chart(inline([label | {"label_mmhg": place}])).mark_text(
                align="left",
                baseline="middle",
                fontWeight="bold" if label["main"] else "normal",
                color=self.look.accent if label["main"] else self.look.quiet,
            )
            layers.append(text.encode(x=alt.value(self.width + 6), y=self._y("label_mmhg"), text="words:N"))
        return layers


def _numbers(labels: Sequence[Row]) -> list[float]:
    return [float(label["mmhg"]) for label in labels]
