"""The demo: one invented cat, seven recordings in the carrier, one of them spoiled, the pressure falling to a level;
then an invented clinic in the browser.

Everything is made by the simulator from fixed seeds, written as files, and then read back from those files the way a
user's own would be.
"""

from __future__ import annotations

import shutil
from pathlib import Path

import click

from quietlimb.cli.faults import Batch
from quietlimb.cli.reading_text import reading_lines
from quietlimb.cli.session import chart_session
from quietlimb.cli.session_text import session_lines
from quietlimb.cli.simulated_files import write_session_with_truth
from quietlimb.engine.session.enough import enough
from quietlimb.figures.export import save, svg
from quietlimb.figures.recording import recording_figure
from quietlimb.figures.session import session_figure
from quietlimb.reports.note import chart_note
from quietlimb.reports.page import PAGE_PICTURE_PX, report_pdf
from quietlimb.simulator.sessions import SimulatedSession, simulate_session

# The first seed with a forelimb, a fall of 15 to 30 mmHg and the spoiled reading in the middle: chosen for its story,
# by what is true in it, not by how well it is read.
SEED = 6
CIRCUMSTANCES = {
    "animal": "invented cat Thistle",
    "breed": "domestic shorthair",
    "place": "carrier",
    "acclimatisation_min": 10.0,
    "cuff_below_heart_cm": 0.0,
    "cuff": "the small one",
    "read_by": "invented nurse",
}
SESSION = "thistle-in-the-carrier"


def invented_session() -> SimulatedSession:
    """The session of the demo."""
    return simulate_session(
        SEED,
        species="cat",
        family="double exponential",
        readings=7,
        course="falling",
        spoiled=1,
        between_sd_mmhg=4.0,
        peak_height_mmhg=1.0,
        deflation="linear",
        systolic=156.0,
        diastolic=104.0,
        pulse_rate=188.0,
    )


@click.command()
@click.option("--out", type=click.Path(file_okay=False, path_type=Path), default=Path("demo-output"), show_default=True)
@click.option("--once", is_flag=True, help="End there, without the clinic.")
@click.option("--port", type=click.IntRange(1, 65535), default=8137, show_default=True, help="Of the clinic.")
def demo(out: Path, once: bool, port: int) -> None:
    """Run the main job on invented recordings and write what comes of it to OUT; then start an invented clinic."""
    main_job(out)
    if not once:
        from quietlimb.cli.demo_clinic import serve_invented_clinic

        serve_invented_clinic(out / "clinic", port=port)


def main_job(out: Path) -> None:
    """Recordings to readings to a charted pressure, told on the terminal and written to files."""
    folder = out / SESSION
    if folder.is_dir():
        shutil.rmtree(folder)
    made = invented_session()
    write_session_with_truth(made, folder, seed=SEED, circumstances=CIRCUMSTANCES)
    batch = Batch()
    session = chart_session(str(folder), batch, species=None, method="artery fit", organs={"eyes": "absent"})
    click.echo("INVENTED RECORDINGS, made by the simulator: no patient's.\n")
    for name, reading in zip(session.names, session.readings, strict=True):
        click.echo("\n".join([*reading_lines(name, reading), ""]))
    told = session_lines(SESSION, session.charted, session.interpretation, enough(session.charted))
    click.echo("\n".join([*told, ""]))
    true = made.truth
    values = f"{true.systolic:.0f}/{true.mean:.0f}/{true.diastolic:.0f} mmHg, pulse rate {true.pulse_rate:.0f} /min"
    click.echo(f"The truth at the end, known because the cat is invented: {values}.\n")

    figure = session_figure(session.charted, session.interpretation)
    pictures = {f"{SESSION}.png": figure}
    for name, reading in zip(session.names, session.readings, strict=True):
        pictures[f"{Path(name).stem}.png"] = recording_figure(reading)
    for name, picture in pictures.items():
        save(picture, out / name)
    small = session_figure(session.charted, session.interpretation, width=PAGE_PICTURE_PX)
    page = report_pdf(session.charted, session.interpretation, figure_svg=svg(small))
    (out / f"{SESSION}.pdf").write_bytes(page)
    (out / f"{SESSION}.txt").write_text(chart_note(session.charted, session.interpretation), encoding="utf-8")

    click.echo(f"Written to {out}:")
    click.echo(f"  {SESSION}.pdf  the page for the record")
    click.echo(f"  {SESSION}.png  the session; reading-1.png to reading-{len(session.names)}.png  the recordings")
    click.echo(f"  {SESSION}.txt  the chart note to paste")
    click.echo(f"  {SESSION}/     the recordings as CSV, with the truth beside each")
    batch.end()


if __name__ == "__main__":
    demo(prog_name="demo")
