"""The engine: numpy and scipy only. Reading, charting, deciding; no files, no sentences, no clock."""
