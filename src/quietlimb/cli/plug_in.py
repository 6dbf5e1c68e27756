"""A method of reading that somebody else wrote, named on the command line: it is that person's choice to run it.

    package.module:function, or path/to/file.py:function

The function takes a Recording and returns systolic, mean and diastolic pressure [mmHg]: as an object or a mapping with
these names, or three values in this order; None where it gives none. A value may be an Estimate.
"""

from __future__ import annotations

import importlib
import importlib.util
import math
import sys
from collections.abc import Callable, Mapping, Sequence
from itertools import pairwise
from pathlib import Path
from typing import Any, Final

import click

from quietlimb.agreement.pair_rows import QUANTITIES, Pressures
from quietlimb.engine.errors import QuietlimbError
from quietlimb.engine.recording import Recording

LOWEST_MMHG, HIGHEST_MMHG = 0.0, 400.0
_REMEDY: Final = "ask whoever wrote it, or leave the recording out"


class PlugInError(QuietlimbError):
    """A method that somebody else wrote failed on a recording."""


def load_plug_in(named: str) -> Callable[[Recording], Any]:
    """The function that is named. Loading runs the code of its module.

    Raises
    ------
    click.UsageError : there is none.
    """
    where, colon, name = named.rpartition(":")
    if not colon or not where or not name:
        raise click.UsageError(f"{named!r} names no function; write package.module:function or file.py:function")
    try:
        module = _from_file(Path(where)) if where.endswith(".py") else importlib.import_module(where)
        function = getattr(module, name)
    except Exception as error:  # a stranger's module may raise anything while it loads
        raise click.UsageError(f"{named} cannot be loaded ({type(error).__name__}: {error})") from None
    if not callable(function):
        raise click.UsageError(f"{named} is no function")
    found: Callable[[Recording], Any] = function
    return found


def _from_file(path: Path) -> Any:
    spec = importlib.util.spec_from_file_location(f"plug_in_{path.stem}", path)
    if spec is None or spec.loader is None or not path.is_file():
        raise FileNotFoundError(f"there is no file {path}")
    module = importlib.util.module_from_spec(spec)
    sys.modules[spec.name] = module  # dataclasses look their own module up
    spec.loader.exec_module(module)
    return module


def read_by_plug_in(function: Callable[[Recording], Any], recording: Recording) -> Pressures:
    """What it reads, checked.

    Raises
    ------
    PlugInError : it raised, or returned no pressures, or a systolic pressure that does not lie above the mean or the
                  diastolic one, or a mean that does not lie above the diastolic.
    """
    try:
        told = function(recording)
    except Exception as error:  # whatever a stranger's code raises must not end the others
        raise PlugInError("plug-in-failed", f"it raised {type(error).__name__}: {error}", _REMEDY) from None
    values = {name: _value(name, each) for name, each in zip(QUANTITIES, _three(told), strict=True)}
    told_of = [(name, value) for name, value in values.items() if value is not None]
    for (above, upper), (below, lower) in pairwise(told_of):
        if upper <= lower:
            raise PlugInError(
                "plug-in-returned",
                f"its {above} pressure does not lie above its {below} pressure",
                "return systolic, mean and diastolic pressure in this order, or by these names",
            )
    return Pressures(**values)


def _three(told: Any) -> tuple[Any, ...]:
    if told is None:
        return None, None, None
    if isinstance(told, Mapping):
        return tuple(told.get(name) for name in QUANTITIES)
    if all(hasattr(told, name) for name in QUANTITIES):
        return tuple(getattr(told, name) for name in QUANTITIES)
    if isinstance(told, Sequence) and not isinstance(told, str) and len(told) == len(QUANTITIES):
        return tuple(told)
    raise PlugInError(
        "plug-in-returned",
        f"it returned {type(told).__name__}, and not systolic, mean and diastolic pressure",
        "return an object or a mapping with these names, or three values",
    )


def _value(name: str, told: Any) -> float | None:
    value = getattr(told, "value", told)
    if value is None:
        return None
    try:
        number = float(value)
    except (TypeError, ValueError):
        number = math.nan
    if not LOWEST_MMHG <= number <= HIGHEST_MMHG:
        raise PlugInError(
            "plug-in-returned", f"its {name} pressure is {value!r}", "return mmHg, and None where there is none"
        )
    return number
