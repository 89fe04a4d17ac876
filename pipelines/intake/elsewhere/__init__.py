"""Files whose headers are not the contract's: a mapping is proposed, shown, and reads them.

A mapping is never guessed into use: a proposal comes from names and from values that the book knows; each day and
number has all its readings told apart, and where two are possible and no value of the column decides, it is asked. Not
even an order that was decided outlives its file unseen: it is shown before it is kept.

mapping       what a mapping is: text in, checked Mapping out
read_through  a sheet, read through one
landing.kept_mappings  those of a book: its folder `mappings/`
"""
