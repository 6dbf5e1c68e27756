"""Quietlimb: from cuff-pressure recordings of a cat or dog to one charted pressure with its uncertainty and meaning."""
