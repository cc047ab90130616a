"""One file a step, oldest first by its number."""
