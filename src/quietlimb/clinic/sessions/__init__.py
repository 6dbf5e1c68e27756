"""Sessions, series, readings, recordings and the values signed from them."""
