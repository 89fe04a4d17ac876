"""A file → cells as they are (files) → rows and findings (judging); foreign headers through a mapping (elsewhere)."""
