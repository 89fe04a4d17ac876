"""An invented season of an invented area: 34 troops that sell bulbs, seeds and growing kits, with all their troubles.

season → area → world → papers → treasury → feeds, workbooks or bulk tables.
Comes in: sizes and a seed. Goes out: season.toml and an inbox of files, by `make`. It shares no code with the tool that
reads them.
"""

from demo_warehouse.make import FORMATS, SEED, make, troubles_of
from demo_warehouse.troubles import KINDS, TROUBLES, Trouble

__all__ = ["FORMATS", "KINDS", "SEED", "TROUBLES", "Trouble", "make", "troubles_of"]
