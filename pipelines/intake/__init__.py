"""A file → cells as they are → rows and findings."""
