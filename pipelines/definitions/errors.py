"""What stops the operator. What is wrong in somebody's file is a Finding (records.py), never an error.

Comes in: nothing. Goes out: one exception family, caught only in cli and the dashboard's server.
"""


class Stop(Exception):
    """Something the operator must know before the work can go on: one plain sentence, with what to do."""


class BrokenSeason(Stop):
    """season.toml cannot be used: the sentence names each fault by its key."""


class BrokenMapping(Stop):
    """A file in mappings/ cannot be used: the sentence names each fault by its key."""


class NotABook(Stop):
    """The folder named is not a book, or the book is damaged."""


class Damaged(NotABook):
    """A file of the book is missing, or is not as it was written."""


class NewerBook(NotABook):
    """A newer program has written in the book."""


class Busy(Stop):
    """Somebody else holds the writer's lock and did not let go in time."""
