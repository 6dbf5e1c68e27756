"""The journal: who changed what, when and why, in a chain that shows a missing or altered link."""
