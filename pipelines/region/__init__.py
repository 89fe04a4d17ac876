"""Many areas as one: what areas handed up is read, checked, added up by their own SQL, compared, written down, shown.

Comes in: folders of roll-ups, each whole or left out with its reason. Goes out: sums of the region and of each level
named in the folders. A single participant is never told of.
"""
