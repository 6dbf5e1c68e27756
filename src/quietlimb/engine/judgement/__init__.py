"""What is wrong with a recording, as findings; the worst of them makes the verdict.

All thresholds in this room are invented unless they say otherwise; they were set on simulated recordings.
"""
