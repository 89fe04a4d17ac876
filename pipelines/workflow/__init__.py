"""Whole runs: take in, publish, look back, preview before sending, a mapping for a file from elsewhere."""
