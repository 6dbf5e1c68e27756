"""The command line: arguments in, calls of the rooms below, text or JSON out. One module a command."""
