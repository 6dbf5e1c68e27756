"""The veterinarian's desk: what a session means, what is signed of it, and an animal over months."""
