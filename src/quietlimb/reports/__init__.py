"""The chart note and the page for the record: figures and sentences arranged, nothing decided."""
