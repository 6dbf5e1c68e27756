"""`quietlimb capture`: cuff pressure while it is measured."""

from __future__ import annotations

import asyncio
import os
import signal
import sys
import threading
from collections.abc import Callable, Iterator, Mapping
from contextlib import contextmanager
from dataclasses import replace
from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING, Any, TextIO

import click

from quietlimb.cli.faults import SOME_FILE_FAILED
from quietlimb.cli.options import json_option, species_option
from quietlimb.engine.circumstances import CIRCUMSTANCE_NAMES, NUMERIC_CIRCUMSTANCES, Circumstances, Species
from quietlimb.engine.errors import CircumstancesError, QuietlimbError
from quietlimb.exchange.errors import one_line

if TYPE_CHECKING:
    from quietlimb.capture.source import Source
    from quietlimb.cli.capture_text import Teller

Told = Mapping[str, str | float]
# What an instrument says that it can detect; None where that is not known.
Feature = Callable[[], int | None]


@click.command(short_help="Cuff pressure from a sensor, while it is measured.")
@click.option("--serial", "port", metavar="PORT", help="A pressure sensor on a serial line.")
@click.option(
    "--baud", type=click.IntRange(min=1), default=115_200, show_default=True, help="Speed of the serial line."
)
@click.option("--bluetooth", "address", metavar="ADDRESS", help="An instrument that speaks the Blood Pressure Service.")
@click.option("--stdin", "from_stdin", is_flag=True, help="The sensor's lines on standard input.")
@click.option("--file", "played", metavar="FILE", help="A recording, or received.txt of an earlier capture, played.")
@click.option("--fast", is_flag=True, help="Play as fast as possible instead of at its own pace.")
@click.option("--simulated", "seed", type=click.IntRange(min=0), metavar="SEED", help="An invented animal, no patient.")
@click.option("--list", "list_ports", is_flag=True, help="Name the serial ports of this machine and end.")
@click.option("--in-reach", is_flag=True, help="Name the Bluetooth instruments with that service in reach and end.")
@click.option("--seconds", type=click.IntRange(1, 120), metavar="N", help="How long --in-reach listens.  [default: 10]")
@species_option(says="The animal; needed where the source does not tell it.")
@click.option(
    "--tell",
    "told",
    multiple=True,
    metavar="KEY=VALUE",
    callback=lambda _context, _parameter, given: circumstances_from(given),
    help="A circumstance, as site=tail or cuff_width_cm=2.5; any number of them.",
)
@click.option(
    "--keep",
    "folder",
    type=click.Path(file_okay=False, path_type=Path),
    help="Where everything is kept.  [default: a new folder named by date and time]",
)
@json_option
def capture(
    port: str | None,
    baud: int,
    address: str | None,
    from_stdin: bool,
    played: str | None,
    fast: bool,
    seed: int | None,
    list_ports: bool,
    in_reach: bool,
    seconds: int | None,
    species: Species | None,
    told: Told,
    folder: Path | None,
    as_json: bool,
) -> None:
    """Show the pressure in the cuff as it falls, and what is known of it so far; keep everything.

    Give one source. What is received is on the disk within half a second, whatever happens; each inflation becomes a
    recording that `read` and `chart` take. Ctrl+C ends it.
    """
    if list_ports:
        _tell_ports()
        return
    if seconds is not None and not in_reach:
        raise click.UsageError("--seconds is for --in-reach; Ctrl+C ends a capture")
    given = [port is not None, address is not None, from_stdin, played is not None, seed is not None]
    if in_reach:
        if any(given):
            raise click.UsageError("--in-reach names instruments and listens to none; give no source with it")
        _tell_in_reach(seconds, as_json)
        return
    if sum(given) != 1:
        raise click.UsageError("give one source: --serial, --bluetooth, --stdin, --file or --simulated")
    if fast and played is None and seed is None:
        raise click.UsageError("--fast is for --file and --simulated; a sensor has its own pace")
    try:
        source, feature, began = _opened(port, baud, address, played, fast, seed, species, told)
        circumstances = _circumstances(source, species, told)
    except CircumstancesError as error:
        raise click.UsageError(one_line(f"{error.says}; {error.remedy}")) from None
    except QuietlimbError as error:
        click.echo(one_line(str(error)), err=True)
        raise click.exceptions.Exit(SOME_FILE_FAILED) from None
    folder = folder or Path(f"capture-{datetime.now():%Y-%m-%d-%H%M%S}")
    # Nobody holds the valve of a cuff whose recording is played.
    _run(source, feature, circumstances, began, folder, as_json, has_cuff=played is None)


def circumstances_from(given: tuple[str, ...]) -> dict[str, str | float]:
    """`("site=tail", "cuff_width_cm=2,5")` as a mapping."""
    told: dict[str, str | float] = {}
    for each in given:
        key, equals, value = (part.strip() for part in each.partition("="))
        known = [name for name in CIRCUMSTANCE_NAMES if name not in ("species", "started_at")]
        if not equals or not value or key not in known:
            raise click.BadParameter(f"{each!r} tells nothing; write KEY=VALUE with one of {', '.join(known)}")
        if key in told:
            raise click.BadParameter(f"{key} is told twice")
        if key in NUMERIC_CIRCUMSTANCES:
            from quietlimb.cli.numbers import Number

            told[key] = Number().convert(value, None, None)
        else:
            told[key] = value
    return told


def _no_feature() -> int | None:
    return None


def _tell_ports() -> None:
    from quietlimb.capture.serial_line import ports

    found = ports()
    for port in found:
        click.echo(one_line(f"{port.name}  {port.about}".rstrip()))
    if not found:
        click.echo("No serial port was found; is the sensor plugged in?", err=True)


def _tell_in_reach(seconds: int | None, as_json: bool) -> None:
    from quietlimb.capture import bleak_link
    from quietlimb.exchange.capture_json import in_reach_object
    from quietlimb.exchange.json_values import dump_line

    seconds = bleak_link.LOOKS_S if seconds is None else seconds
    click.echo(f"Listening for {seconds} s for instruments with the Blood Pressure Service ...", err=True)
    try:
        found = asyncio.run(bleak_link.in_reach(seconds=seconds))
    except QuietlimbError as error:
        click.echo(one_line(str(error)), err=True)
        raise click.exceptions.Exit(SOME_FILE_FAILED) from None
    for each in found:
        if as_json:
            click.echo(dump_line(in_reach_object(each.address, each.name, each.strength_dbm)))
        else:
            click.echo(one_line(f"{each.address}  {each.name or 'tells no name'}  {each.strength_dbm} dBm"))
    if not found:
        click.echo(
            f"None was heard in {seconds} s. Many tell of themselves only for a while after a measurement, or once "
            "their button for Bluetooth was pressed: do that beside this machine and look again.",
            err=True,
        )


def _opened(
    port: str | None,
    baud: int,
    address: str | None,
    played: str | None,
    fast: bool,
    seed: int | None,
    species: Species | None,
    told: Told,
) -> tuple[Source, Feature, datetime | None]:
    """The source, a function that gives what it says that it can detect, and when it began if not now."""
    if port is not None:
        from quietlimb.capture.serial_line import serial_line

        return serial_line(port, baud=baud), _no_feature, None
    if address is not None:
        from quietlimb.capture.bleak_link import bluetooth

        instrument = bluetooth(address)
        return instrument, lambda: instrument.feature, None
    if played is not None:
        from quietlimb.capture.file_at_pace import file_at_pace

        file = file_at_pace(played, fast=fast, species=species, defaults=told)
        return file, _no_feature, file.began
    if seed is not None:
        from quietlimb.capture.simulated import simulated

        animal = simulated(seed, species=species, fast=fast)
        return animal, _no_feature, animal.began
    from quietlimb.capture.standard_input import standard_input

    return standard_input(sys.stdin.buffer), _no_feature, None


def _circumstances(source: Source, species: Species | None, told: Told) -> Circumstances:
    values: dict[str, Any] = {**told}
    if source.circumstances is not None:
        # What is measured with is the source's to say: an invented instrument stays one.
        values.pop("instrument", None)
        return replace(source.circumstances, **values)
    if species is None:
        raise CircumstancesError("species-missing", "this source does not tell the species", "give --species")
    return Circumstances(species=species, **values)


def _run(
    source: Source,
    feature: Feature,
    circumstances: Circumstances,
    began: datetime | None,
    folder: Path,
    as_json: bool,
    *,
    has_cuff: bool,
) -> None:
    from quietlimb.capture.capturing import capture as capture_steps
    from quietlimb.capture.errors import nothing_measured
    from quietlimb.capture.keeping import Keeping
    from quietlimb.capture.source import INVENTED_KEY
    from quietlimb.cli.capture_text import Lines, Objects, Screen
    from quietlimb.figures.invented import is_invented
    from quietlimb.words.live import at_the_end, when_lost

    last_mmhg: float | None = None
    first: str | None = None
    measured = air_told = False
    failed: QuietlimbError | None = None
    try:
        keeping = Keeping(folder)
    except OSError as error:
        raise click.UsageError(
            f"{folder} cannot be written ({(error.strerror or 'no reason given').lower()})"
        ) from None
    teller: Teller = Objects(keeping) if as_json else (Screen if sys.stdout.isatty() else Lines)()
    if is_invented(circumstances):
        teller.invented()
    with _interrupt_closes(source) as interrupted:
        try:
            for step in capture_steps(source, keeping, circumstances, began=began):
                measured = measured or step.time_s is not None or bool(step.readings)
                if INVENTED_KEY in source.header:
                    teller.invented()
                if step.moment is not None and has_cuff:
                    last_mmhg = step.moment.pressure_mmhg
                if step.is_last and (first := at_the_end(last_mmhg)) is not None:
                    # before the result of what was left in the cuff
                    teller.talk(first)
                    air_told = True
                gone = "went-away" in step.troubles and "came-back" not in step.troubles
                if has_cuff and source.is_waveform and (gone or "silent" in step.troubles):
                    teller.talk(when_lost(last_mmhg))
                teller.step(step, feature())
            if not measured:
                failed = nothing_measured(source.troubles, interrupted=interrupted.is_set())
        except QuietlimbError as error:
            failed = error
        finally:
            source.close()
            if not air_told and (first := at_the_end(last_mmhg)) is not None:
                teller.talk(first)
            keeping.close()
    if failed is None or not keeping.is_empty:
        teller.end(keeping, source.troubles, failed, first)
    if failed is not None:
        click.echo(one_line(str(failed)), err=True)
        raise click.exceptions.Exit(SOME_FILE_FAILED)


@contextmanager
def _interrupt_closes(source: Source) -> Iterator[threading.Event]:
    """Ctrl+C, or being told to terminate or hang up, ends the source, and so the capture in good order; a second one
    ends the program. Set once it came."""
    interrupted = threading.Event()
    if threading.current_thread() is not threading.main_thread():
        yield interrupted
        return

    def close(number: int, _frame: object) -> None:
        interrupted.set()
        source.close()
        if number == getattr(signal, "SIGHUP", None):
            _nobody_reads_the_terminal()
        restore()

    def restore() -> None:
        for each, handler in before.items():
            signal.signal(each, handler)

    # One that is ignored, as under nohup, stays so. Windows knows no SIGHUP, and closes by SIGBREAK.
    numbers = [getattr(signal, name) for name in ("SIGINT", "SIGTERM", "SIGHUP", "SIGBREAK") if hasattr(signal, name)]
    before = {each: signal.signal(each, close) for each in numbers if signal.getsignal(each) != signal.SIG_IGN}
    try:
        yield interrupted
    finally:
        restore()


def _nobody_reads_the_terminal() -> None:
    """The terminal has hung up: what is written there must not break off what is still to be kept."""
    nowhere = os.open(os.devnull, os.O_WRONLY)
    for stream in (sys.stdout, sys.stderr):
        if stream.isatty() or _has_hung_up(stream):
            os.dup2(nowhere, stream.fileno())
    os.close(nowhere)


def _has_hung_up(stream: TextIO) -> bool:
    try:
        stream.flush()
    except OSError:
        return True
    return False
