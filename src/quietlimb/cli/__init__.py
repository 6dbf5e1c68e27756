"""The command line: arguments in, calls of the rooms below, text or JSON out. One module a command."""

import os

# Matrices of a reading are small: threads that wait for each other cost two thirds of a command's time, and more on a
# busy machine. numpy looks at this when it is loaded, so it has to stand before all else; a wish of the user's stands.
if "OMP_NUM_THREADS" not in os.environ:
    os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
