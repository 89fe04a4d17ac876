"""Bytes → cells as they are, read in a guarded worker."""
