"""A signed session on paper and as files, always of what was signed."""

from __future__ import annotations

from functools import lru_cache

from django.utils import timezone
from django.utils.translation import gettext as _

from quietlimb.clinic.bench.doubts import told_on_paper
from quietlimb.clinic.charting import Question, answers_to
from quietlimb.clinic.desk.basis import Basis
from quietlimb.clinic.desk.result import signed_lines
from quietlimb.clinic.downloads import name_in_files
from quietlimb.clinic.sessions.models import SignedValue
from quietlimb.engine.version import ENGINE_VERSION
from quietlimb.figures.export import svg
from quietlimb.figures.look import Theme
from quietlimb.figures.session import session_figure
from quietlimb.reports.note import chart_note
from quietlimb.reports.page import PAGE_PICTURE_PX, report_pdf
from quietlimb.reports.setting import setting_lines

NO_SUCH_LETTER = "\ufffd"  # what was signed is frozen: a letter that no font has must not keep its page from the record
REMEMBERED = 128  # pictures of some 100 kB


def note(signed: SignedValue, basis: Basis) -> str:
    """The chart note to paste; where nothing was obtained, what was signed."""
    lines = _on_paper(signed, basis)
    if basis.charted is None:
        animal = signed.session.animal
        told = [f"{name}: {value}." for name, value in setting_lines(basis.circumstances)]
        return "\n".join([f"{animal.name}, {animal.get_species_display()}.", *told, *lines]) + "\n"
    return chart_note(basis.charted, basis.interpretation, signed=lines, beside=basis.converted.for_the_record)


def page(signed: SignedValue, basis: Basis) -> bytes | None:
    """The page for the record as PDF; None where nothing was obtained."""
    if basis.charted is None:
        return None
    animal = signed.session.animal
    return report_pdf(
        basis.charted,
        basis.interpretation,
        heading={
            "practice": signed.practice.name,
            "owner": animal.owner.name if animal.owner else None,
            "number": animal.link_id or None,
        },
        figure_svg=picture(basis, width=PAGE_PICTURE_PX),
        created=timezone.localtime().isoformat(timespec="minutes"),
        signed=_on_paper(signed, basis),
        beside=basis.converted.for_the_record,
        substitute=NO_SUCH_LETTER,
    )


def told_of_signing(signed: SignedValue, basis: Basis) -> list[str]:
    """Signature and amendments; where a newer engine works it out again, that too."""
    lines = signed_lines(signed, basis)
    if signed.session.imported_id:
        lines.append(_("Imported, not measured here."))
    if signed.engine != ENGINE_VERSION:
        lines.append(f"Signed with engine {signed.engine}; the rest of this is by engine {ENGINE_VERSION}.")
    return lines


def _on_paper(signed: SignedValue, basis: Basis) -> list[str]:
    """The same, and what a failed check of its instrument has asked for since, which the page of the session tells
    elsewhere."""
    return [*told_of_signing(signed, basis), *told_on_paper(signed.session)]


def picture(basis: Basis, *, width: int, theme: Theme = "light") -> str | None:
    """The picture of the session as SVG; None where there is no reading."""
    return None if basis.answer is None else drawn(basis.answer.question, width, theme)


@lru_cache(maxsize=REMEMBERED)
def drawn(question: Question, width: int, theme: Theme) -> str:
    """The picture of a charted series as SVG, remembered."""
    answer = answers_to(question)
    return svg(session_figure(answer.charted, answer.interpretation, width=width, theme=theme))


def file_name(signed: SignedValue, ending: str, *, of: str = "") -> str:
    """A name in plain letters for a file of this session; `of` tells it from others."""
    kind = f"-{of.replace(' ', '-')}" if of else ""
    name, began = name_in_files(signed.session.animal), timezone.localtime(signed.session.started_at)
    return f"{name}-{began:%Y-%m-%d}{kind}.{ending}"
