"""De-identified data for research, and nothing else, for who may look at no animal."""
