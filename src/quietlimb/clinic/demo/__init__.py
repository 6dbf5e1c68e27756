"""An invented clinic to look at: a dozen cats and dogs, two years of sessions, people of each role. Nobody exists."""
