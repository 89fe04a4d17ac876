"""Files → landed rows: each unit accepted or held, nothing ever altered."""
