"""A capture as text: one line that is written over on a terminal, plain lines elsewhere, JSON for programs."""

from __future__ import annotations

import shutil
import time
from collections import Counter
from collections.abc import Mapping, Sequence
from typing import Final, Protocol

import click

from quietlimb.capture.capturing import Inflation, Step
from quietlimb.capture.keeping import Keeping
from quietlimb.cli.layout import bullets, whole, wrapped
from quietlimb.cli.reading_text import reading_lines
from quietlimb.engine.errors import QuietlimbError
from quietlimb.engine.live.moment import Moment
from quietlimb.engine.live.remarks import cuts
from quietlimb.engine.values import Estimate
from quietlimb.exchange.blood_pressure_service import InstrumentReading, signs
from quietlimb.exchange.capture_json import end_object, instrument_object, now_object, trouble_object
from quietlimb.exchange.json_values import dump_line
from quietlimb.exchange.line_decoder import Trouble
from quietlimb.exchange.results_json import reading_error_object, reading_object
from quietlimb.words.live import pulses_line, say, sentence_of
from quietlimb.words.troubles import question_sentence, sign_sentence, trouble_sentence, unfinished_sentence

INVENTED: Final = "INVENTED"
INVENTED_LINE: Final = "INVENTED, made by the simulator: no patient's. Never chart it for one."
NOW_EVERY_S: Final = 0.1
PLAIN_EVERY_S: Final = 1.0
TROUBLES_EVERY_S: Final = 1.0
_INFLATED: Final = ("inflating", "deflating")
_AT_ONCE: Final = "valve-open-now"


class Gathered:
    """Troubles as they come: the first of a kind is told at once, what comes after it once a second, together."""

    def __init__(self) -> None:
        self._untold: Counter[Trouble] = Counter()
        self._told_at: dict[Trouble, float] = {}

    def due(self, troubles: Mapping[Trouble, int]) -> dict[Trouble, int]:
        """What is to be told now that these have come too."""
        self._untold.update(troubles)
        now = time.monotonic()
        due = {
            kind: count
            for kind, count in self._untold.items()
            if now - self._told_at.get(kind, float("-inf")) >= TROUBLES_EVERY_S
        }
        for kind in due:
            self._told_at[kind] = now
        return self._taken(due)

    def rest(self) -> dict[Trouble, int]:
        """What was not told yet; nothing comes any more."""
        return self._taken(dict(self._untold))

    def _taken(self, told: dict[Trouble, int]) -> dict[Trouble, int]:
        for kind in told:
            del self._untold[kind]
        return told


class Teller(Protocol):
    """Whoever is told what happens."""

    def invented(self) -> None:
        """These samples are no patient's; told before the first step that shows them, and again is the same."""

    def step(self, step: Step, feature: int | None) -> None:
        """One step. feature : what an instrument says that it can detect."""

    def talk(self, sentence: str) -> None:
        """What is no data, and for whoever stands at the table."""

    def end(
        self, keeping: Keeping, troubles: Mapping[Trouble, int], error: QuietlimbError | None, first: str | None
    ) -> None:
        """No step comes any more. first : what `talk` has told of the cuff before anything else"""


def status(moment: Moment | None, pressure_mmhg: float | None) -> tuple[str, list[str]]:
    """The pressure now, and what else is known, each by itself."""
    number = f"{whole(pressure_mmhg):>3} mmHg"
    if moment is None:
        return number, []
    told: list[str] = [moment.phase]
    if moment.remarks:
        told.append(say(moment.remarks[0]))
    if moment.pulses_counted is not None:
        told.append(pulses_line(moment.pulses_counted, moment.pulses_dropped))
    if moment.reading is not None:
        for name in ("systolic", "mean", "diastolic"):
            estimate: Estimate | None = getattr(moment.reading, name)
            if estimate is not None:
                told.append(f"{name} {estimate.value:.0f} ({estimate.low:.0f} to {estimate.high:.0f})")
    return number, told


def at_once(moment: Moment | None) -> str:
    """What nobody may miss, with its numbers left open; empty where there is nothing such."""
    if moment is None or not moment.remarks or moment.remarks[0].code != _AT_ONCE:
        return ""
    return sentence_of(moment.remarks[0])


def inflation_lines(number: int, inflation: Inflation) -> list[str]:
    """The reading of an inflation, or why there is none."""
    finished = inflation.finished
    if finished.reading is not None and inflation.path is not None:
        return [*reading_lines(str(inflation.path), finished.reading), ""]
    assert finished.refused is not None
    told = f"Inflation {number} is no recording: {finished.refused}. Its lines are kept."
    return [*wrapped(told, indent=""), *bullets(say(each) for each in cuts(finished)), ""]


def instrument_lines(reading: InstrumentReading, feature: int | None) -> list[str]:
    """What an instrument measured, what it saw, what has to be asked."""
    pressures = "/".join(whole(value) for value in (reading.systolic_mmhg, reading.mean_mmhg, reading.diastolic_mmhg))
    rate = reading.pulse_rate_per_min
    said = (
        f"instrument: {pressures} mmHg" if reading.usable else f"instrument, not to be taken as it is: {pressures} mmHg"
    )
    lines = wrapped(
        said
        + (f", pulse rate {rate:.0f} /min" if rate is not None else "")
        + (f", its clock {reading.taken_at}" if reading.taken_at is not None else ""),
        indent="",
    )
    seen = signs(reading.status, feature)
    lines += bullets(question_sentence(question) for question in reading.questions)
    lines += bullets(sign_sentence(sign, how) for sign, how in seen.items() if how == "detected")
    for how in ("not detected", "not able to detect"):
        which = [sign_sentence(sign, other).split(": ")[0] for sign, other in seen.items() if other == how]
        if which:
            lines += wrapped(f"{how}: {', '.join(which)}", bullet="- ")
    return [*lines, ""]


class Lines:
    """Plain lines, each ended: a second's status while the cuff is inflated, each new remark, each reading."""

    def __init__(self) -> None:
        self._invented = False
        self._inflations = 0
        self._told_s = -PLAIN_EVERY_S
        self._remark = ""
        self._troubles = Gathered()

    def invented(self) -> None:
        """The first line, and a word in each status."""
        if not self._invented:
            self._invented = True
            self.say([INVENTED_LINE])

    def step(self, step: Step, feature: int | None) -> None:
        """What is new."""
        cut = step.frame.unfinished
        for kind, count in self._troubles.due(step.troubles).items():
            if kind == "unfinished-line" and cut is not None:
                self.talk(unfinished_sentence(cut.number, cut.text))
            else:
                self.talk(trouble_sentence(kind, count))
        self.status(step)
        for inflation in step.inflations:
            self._inflations += 1
            self.say(inflation_lines(self._inflations, inflation))
        for reading in step.readings:
            self.say(instrument_lines(reading, feature))

    def end(
        self, keeping: Keeping, troubles: Mapping[Trouble, int], error: QuietlimbError | None, first: str | None
    ) -> None:
        """Where it all is, and what went wrong on the way."""
        self.say(wrapped(f"Kept in {keeping.folder}: {_kept(keeping, self._inflations)}", indent=""))
        if troubles:
            self.talk("On the way: " + " ".join(trouble_sentence(kind, count) for kind, count in troubles.items()))

    def status(self, step: Step) -> None:
        """The pressure now."""
        moment, time_s = step.moment, step.time_s
        if time_s is None or (moment is not None and moment.phase not in _INFLATED):
            return
        remark = sentence_of(moment.remarks[0]) if moment is not None and moment.remarks else ""
        if time_s - self._told_s < PLAIN_EVERY_S and remark == self._remark:
            return
        self._told_s, self._remark = time_s, remark
        number, told = status(moment, step.pressure_mmhg)
        self.say(["  ".join([f"{time_s:7.1f} s", number, *([INVENTED] if self._invented else []), *told])])

    def say(self, lines: Sequence[str]) -> None:
        """Data."""
        click.echo("\n".join(lines))

    def talk(self, sentence: str) -> None:
        """What is no data."""
        click.echo(sentence, err=True)


class Screen(Lines):
    """A terminal: the status on one line that is written over, ten times a second at most; the rest above it."""

    def __init__(self) -> None:
        super().__init__()
        self._written_at = 0.0
        self._shown = False
        self._at_once = ""

    def status(self, step: Step) -> None:
        """The pressure now, first on its line and bold; the line is cut to the width of the terminal."""
        urgent = at_once(step.moment)
        if step.moment is not None and urgent != self._at_once:
            self._at_once = urgent
            if urgent:  # stays above the status, which may be written over before anybody has read it
                self.say([f"{step.moment.time_s:7.1f} s  {say(step.moment.remarks[0])}"])
        now = time.monotonic()
        if step.pressure_mmhg is None or now - self._written_at < NOW_EVERY_S:
            return
        self._written_at = now
        number, told = status(step.moment, step.pressure_mmhg)
        if self._invented:
            told.insert(0, INVENTED)
        width = shutil.get_terminal_size().columns - 1
        rest = ("   " + "   ".join(told))[: max(0, width - len(number))]
        click.echo("\r" + click.style(number, bold=True) + rest.ljust(width - len(number)), nl=False)
        self._shown = True

    def say(self, lines: Sequence[str]) -> None:
        """Data, above the status."""
        self._clear()
        super().say(lines)

    def talk(self, sentence: str) -> None:
        """Talk, above the status."""
        self._clear()
        super().talk(sentence)

    def _clear(self) -> None:
        if self._shown:
            click.echo("\r" + " " * (shutil.get_terminal_size().columns - 1) + "\r", nl=False)
            self._shown = False


class Objects:
    """JSON, one object a line: what stands now ten times a second, and all that happens."""

    def __init__(self, keeping: Keeping) -> None:
        self._keeping, self._invented = keeping, False
        self._told_s = -NOW_EVERY_S
        self._at_once = ""
        self._newest: Step | None = None
        self._kept_until_s: float | None = None
        self._recordings: list[str] = []
        self._readings = 0
        self._troubles = Gathered()

    def invented(self) -> None:
        """Said in each object that tells what stands now."""
        self._invented = True

    def step(self, step: Step, feature: int | None) -> None:
        """What is new."""
        for kind, count in self._troubles.due(step.troubles).items():
            _dump(trouble_object(kind, count, step.frame.unfinished))
        if step.time_s is not None:
            self._newest = step
        newest = self._newest
        if newest is not None and newest.time_s is not None:
            due = newest.time_s - self._told_s >= NOW_EVERY_S - 1e-9 or at_once(newest.moment) != self._at_once
            # While nothing comes it is still told when what came has reached the disk.
            if due or (step.time_s is None and step.kept_until_s != self._kept_until_s):
                self._told_s, self._kept_until_s = newest.time_s, step.kept_until_s
                self._at_once = at_once(newest.moment)
                _dump(
                    now_object(
                        newest.moment,
                        newest.time_s,
                        newest.pressure_mmhg,
                        invented=self._invented,
                        kept_until_s=step.kept_until_s,
                    )
                )
        for inflation in step.inflations:
            finished = inflation.finished
            if finished.reading is not None and finished.recording is not None and inflation.path is not None:
                self._recordings.append(str(inflation.path))
                _dump(reading_object(str(inflation.path), finished.reading, finished.recording))
            elif finished.refused is not None:
                _dump(reading_error_object(str(self._keeping.lines_path), finished.refused))
        for reading in step.readings:
            self._readings += 1
            _dump(instrument_object(reading, feature))

    def talk(self, sentence: str) -> None:
        """On stderr, where no program looks for data."""
        click.echo(sentence, err=True)

    def end(
        self, keeping: Keeping, troubles: Mapping[Trouble, int], error: QuietlimbError | None, first: str | None
    ) -> None:
        """What was kept."""
        for kind, count in self._troubles.rest().items():
            _dump(trouble_object(kind, count, None))
        lines = str(keeping.lines_path)
        _dump(end_object(lines, self._recordings, readings=self._readings, troubles=troubles, error=error, says=first))


def _dump(obj: Mapping[str, object]) -> None:
    click.echo(dump_line(obj))


def _kept(keeping: Keeping, inflations: int) -> str:
    return f"{keeping.lines_path.name} with every line received; inflations: {inflations}."
