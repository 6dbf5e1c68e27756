"""`quietlimb place`: what the place does to the pressure of one animal."""

from __future__ import annotations

from typing import TYPE_CHECKING

import click

from quietlimb.cli.faults import Batch
from quietlimb.cli.options import METHODS, channel_option, json_option, method_option, one_of_two, species_option
from quietlimb.engine.circumstances import Species

if TYPE_CHECKING:
    from quietlimb.engine.session.charted import ChartedPressure
    from quietlimb.engine.session.place import PlacePair


@click.command(short_help="What the place does to one animal: carrier against table, home against clinic.")
@click.argument("paths", nargs=-1, required=True, metavar="FIRST SECOND...")
@species_option()
@click.option("--same-visit", is_flag=True, help="The two sessions of a pair belong to one visit.")
@click.option("--other-days", is_flag=True, help="They are of different days. With neither, their dates tell.")
@channel_option
@method_option
@json_option
def place(
    paths: tuple[str, ...],
    species: Species | None,
    same_visit: bool,
    other_days: bool,
    channel: str | None,
    method: str,
    as_json: bool,
) -> None:
    """Compare two places in one animal, from one pair of sessions or more: FIRST in one place, SECOND in the other.

    Each is a folder of recordings or a CSV file of readings that tells its place. Only like sessions are compared: one
    animal, method, instrument and site.
    """
    from quietlimb.cli.layout import bullets, wrapped
    from quietlimb.cli.session import chart_session
    from quietlimb.engine.session.place import place_effect
    from quietlimb.exchange.errors import one_line
    from quietlimb.exchange.json_values import dump_line
    from quietlimb.exchange.place_json import place_object
    from quietlimb.figures.invented import invented_words
    from quietlimb.words.place import effect_sentence, place_remarks

    if len(paths) % 2:
        raise click.UsageError(f"{len(paths)} sessions make no pairs; give FIRST SECOND, FIRST SECOND and so on")
    one_visit = one_of_two(same_visit, other_days, "--same-visit and --other-days")
    batch = Batch()
    charted: list[ChartedPressure] = []
    for path in paths:
        with batch.file(path):
            session = chart_session(path, batch, channel=channel, species=species, method=METHODS[method])
            charted.append(session.charted)
    batch.end()  # a pair that lacks a half compares nothing
    with batch.file(" ".join(paths)):
        halves = zip(charted[::2], charted[1::2], strict=True)
        effect = place_effect([_pair(first, second, one_visit) for first, second in halves])
        if as_json:
            click.echo(dump_line(place_object(list(zip(paths[::2], paths[1::2], strict=True)), effect)))
        else:
            circumstances = charted[0].series.circumstances
            invented = invented_words(circumstances)
            who = one_line(circumstances.animal or circumstances.species) + (f" ({invented})" if invented else "")
            click.echo("\n".join([who, *wrapped(effect_sentence(effect)), *bullets(place_remarks(effect)), ""]))
    batch.end()


def _pair(first: ChartedPressure, second: ChartedPressure, same_visit: bool | None) -> PlacePair:
    """Two sessions as a pair; whether days lie between as told, or by their dates.

    Raises SeriesError where neither tells.
    """
    from quietlimb.engine.errors import SeriesError
    from quietlimb.engine.session.place import PlacePair

    if same_visit is None:
        begun = [each.series.circumstances.started_at for each in (first, second)]
        if None in begun:
            raise SeriesError(
                "no-date",
                "not every session tells started_at, so whether days lie between the two of a pair is unknown",
                "write a line `# started_at: 2031-03-04T09:00`, or say --same-visit or --other-days",
            )
        same_visit = len({str(moment)[:10] for moment in begun}) == 1
    return PlacePair(first=first, second=second, same_session=same_visit)
