"""Bytes as a file that the browser saves and does not open, and the names of files about an animal."""

from __future__ import annotations

import re

from django.http import HttpResponse

from quietlimb.clinic.animals.models import Animal


def download(content: bytes, name: str, kind: str = "application/octet-stream") -> HttpResponse:
    """The bytes under this name, without letters that a header or a disk might take for something else."""
    plain = "".join(each if each.isascii() and (each.isalnum() or each in "._-") else "_" for each in name)
    return HttpResponse(content, content_type=kind, headers={"Content-Disposition": f'attachment; filename="{plain}"'})


def name_in_files(animal: Animal) -> str:
    """The animal's name in plain letters; that of an invented practice, as the teaching room's are, says so."""
    name = re.sub(r"[^A-Za-z0-9]+", "-", animal.name).strip("-") or "animal"
    return f"invented-{name}" if animal.practice.invented else name
