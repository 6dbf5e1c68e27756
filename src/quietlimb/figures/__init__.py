"""Chart specifications of finished values, one for screen, PNG, SVG and PDF. Nothing is computed or decided here."""
