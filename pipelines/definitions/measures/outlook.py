"""The measures of the outlook of a troop and of each of its items: outlook.csv, and what they rest on.

Comes in: the ways of declaring. Goes out: OUTLOOK. How they are worked out stands in pipelines/figures/outlook.py.
"""

from pipelines.definitions.measures.declaring import Measure, Own

# fmt: off
OUTLOOK = (
    Measure("mean", "Will probably still go out", "average",
            "Packages that will probably still go out of stock by the season's last day: the troop's level of a whole "
            "season, times the part of the season that is left; of an item its part of that.",
            made=Own("outlook", "outlook.mean"), adds_up=False,
            caution="It says what goes out, not what people want, and knows nothing of stalls booked or plans made."),
    Measure("low", "From", "packages",
            "The lower end of the range that holds 8 times of 10: less goes out in one case of ten.",
            made=Own("outlook", "outlook.low"), adds_up=False),
    Measure("high", "To", "packages",
            "The upper end of the range that holds 8 times of 10. No limit: more goes out in one case of ten or so.",
            made=Own("outlook", "outlook.high"), adds_up=False),
    Measure("level", "Level of a whole season", "average",
            "Packages that the troop would sell in a whole season: what it sold so far, newer weeks counting more, "
            "leaning a little towards what troops of its size sell.",
            made=Own("outlook", "outlook.level"), adds_up=False),
)
