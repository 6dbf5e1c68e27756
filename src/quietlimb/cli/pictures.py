"""Where pictures go."""

from __future__ import annotations

from pathlib import Path

import click


def _checked(_context: click.Context, _parameter: click.Parameter, value: str | None) -> Path | None:
    if value is None:
        return None
    from quietlimb.figures.export import SUFFIXES

    path = Path(value)
    if path.suffix.lower() not in SUFFIXES:
        raise click.BadParameter(f"{value} must end in {', '.join(SUFFIXES)}")
    if not path.parent.is_dir():
        raise click.BadParameter(f"there is no folder {path.parent}")
    return path


picture_option = click.option(
    "--picture",
    callback=_checked,
    metavar="OUT",
    help="Write a picture: OUT.svg, .png or .pdf. With several inputs the pictures are numbered OUT-1, OUT-2, ... "
    "A file of that name is replaced.",
)


def numbered(picture: Path, ordinal: int, of: int) -> Path:
    """The file for one picture out of several."""
    return picture if of == 1 else picture.with_stem(f"{picture.stem}-{ordinal}")
