"""A copy of a book and a book from a copy, what is kept no longer than needed, and the proof of a book."""
