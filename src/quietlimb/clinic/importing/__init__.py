"""Animals and owners from a table that another program wrote: first what would happen, then, if wanted, that."""
