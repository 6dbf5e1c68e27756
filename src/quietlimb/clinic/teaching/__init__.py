"""Learning: the pages of the clinic once more, on invented animals, in a store of their own."""
