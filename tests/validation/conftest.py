"""The scripts of validation/ and docs/ are no packages: their folders are put on the path."""

from __future__ import annotations

import sys
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]
sys.path += [str(ROOT / "validation"), str(ROOT / "docs")]
