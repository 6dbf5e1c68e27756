"""Looking after the people of a practice: who is there, in which roles, taught what by whom."""
