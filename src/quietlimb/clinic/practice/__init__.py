"""The practice: its settings, and the way to everything that the practice lead looks after."""
