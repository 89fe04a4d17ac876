"""What goes out: one module a kind of paper, each a reader of measures.

A paper is a module with `papers(week)` that yields (path, bytes); nothing else is to be edited. `expected(week)` tells
the progress bar how many, COMES_LATE puts it after the others. It reads a Week, through the readers' door. A paper
never asks what time it is, so that the same book gives the same bytes: workbooks carry the as-of day as their making,
zips 1980, PDFs no date, letters neither date nor message id and a boundary made of troop and day.
"""
