"""Bytes as a file that the browser saves and does not open."""

from __future__ import annotations

from django.http import HttpResponse


def download(content: bytes, name: str, kind: str = "application/octet-stream") -> HttpResponse:
    """The bytes under this name, without letters that a header or a disk might take for something else."""
    plain = "".join(each if each.isascii() and (each.isalnum() or each in "._-") else "_" for each in name)
    return HttpResponse(content, content_type=kind, headers={"Content-Disposition": f'attachment; filename="{plain}"'})
