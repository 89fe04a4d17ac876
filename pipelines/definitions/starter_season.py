"""The commented season.toml that a new book begins with.

Comes in: nothing. Goes out: text that read_season accepts as it stands.
"""

from pipelines.definitions.season import thresholds

SEASON = """\
# The season's rules. Every command checks this file and names each fault by its key.
# Amounts stand in quotes ("6.00"), days as year-month-day.

[season]
title = "Spring sale"            # shown on every screen and paper
area = "Our area"
first_day = 2027-02-08
last_day = 2027-04-18
week_ends_on = "sunday"          # every week's figures are as of this day
currency = "USD"                 # ISO 4217
settle_days = 5                  # days that a collection needs to clear before it counts as past due
# coordinator = "Your name"      # signs the letters to leaders
# phone = "555 0100"             # the number that leaders call
# participant_pattern = "[0-9]{4}-[0-9]{2}"  # what a participant's code looks like; else as those of the roster

# One block for each item. A new price is a new code.
[[items]]
code = "GLA"                     # letters and digits; the column's header in the troops' workbooks
title = "Gladiolus bulbs"
price = "6.00"
packages_per_case = 12

[[items]]
code = "HRB"
title = "Kitchen herb kit"
price = "7.25"
packages_per_case = 10

[[items]]
code = "GIV"
title = "A bag for a community garden"
price = "6.00"
packages_per_case = 12
stocked = false                  # given on a buyer's behalf; the troop never holds it

# What a troop keeps of each package charged, by its average of packages sold.
[proceeds]
per = "taking_part"              # or "registered": the participants that the average divides by

[[proceeds.tiers]]
from_average = 0                 # the first tier starts at 0
rate = "0.70"

[[proceeds.tiers]]
from_average = 20
rate = "0.85"

# What the organisation is owed by when, in all; a collection that it announces takes a date's place.
[[dues]]
on = 2027-03-12
share = "0.40"
cutoff = 2027-03-07              # figures as of this day; its own day unless said

[[dues]]
on = 2027-04-23
share = "1"

[online]
# ship_minimum = 3               # packages; fewer in a posted order is an exception; none unless said
answer_within_days = 7           # an order still waiting for the caregiver's answer lapses after these days
# answer_until = 18:00:00        # the hour of the last of them
# far = "2.75"                   # added once to the postage of an order that goes far

# What the organisation's postage is held against; without tiers nothing is.
#   [[online.postage]]
#   up_to = 6                    # packages; a gift box counts as its item's box_of
#   price = "7.50"

[stalls]
credit = "none"                  # or "equal", "minutes": a stall's packages shared among those who worked it

# Badges by steps, awards by packages.
#   [[awards]]
#   code = "GROW1"
#   title = "Grower, first year"
#   steps = 5                    # or packages = 60
#   levels = ["younger"]         # of the troops list; all unless said
#   after = "..."                # only once that award is earned, this season or before
#   near = 5                     # packages from which it is one away
#   cost = "1.25"
#   in_stock = 12

# Until when all is settled, and how long participants' rows and the files that came in are kept;
# then `musterbook purge` removes them.
[care]
keep_days = 180                  # after the last day
# close_days = 14                # days after the last week until all is settled

# What to fetch and what to move. Each has a default; take the mark away and write your own to change it.
[plan]
# order_until = 2027-04-02       # last day to order from the depot
# hand_back_until = 2027-04-09   # until when the depot takes whole cases back; never unless said
# lead_weeks = 1                 # weeks from an order to the goods
# least_ratio = "0.20"           # however little a package earns, it is wanted in so many of all cases
# unsold_costs = "3.00"          # what one left over costs a troop; the price less the proceeds unless said

[plan.delivery]
# on = 2027-02-06                # the day on which opening orders are handed out; the vehicles table says what carries
# doors = 2                      # where vehicles are loaded at the same time
# minutes_a_vehicle = 10
# minutes_a_case = "0.5"

# From where on something is worth a call. Each has a default; take the mark away and write your own to change it.
[follow_up]
"""


def starter_season() -> str:
    """A season.toml to begin with: its figures are examples to be written over."""
    return SEASON + "".join(_threshold(name, default, about) for name, (default, about) in thresholds().items())


def _threshold(name: str, default: str, about: str) -> str:
    value = default if default.isdigit() else f'"{default}"'
    return f"# {name} = {value}  # {about}\n"
