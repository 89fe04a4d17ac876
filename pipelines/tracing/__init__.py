"""A figure → the terms that add up to it, down to the cells."""
