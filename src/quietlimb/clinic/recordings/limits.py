"""How large a recording may be that is sent to the clinic."""

MOST_BYTES = 16 * 1024 * 1024  # ten minutes at 1000 samples a second as text are some 12 MiB [invented]
MOST_FILES = 8
