"""Published rules and figures, one file a standard or subject; every number beside its source and standing."""
