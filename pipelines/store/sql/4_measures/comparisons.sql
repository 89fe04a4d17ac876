-- One row an asked day, troop and measure compared: what the others show, the chance of the troop's own figure, whether
-- it is out of line, and the limits for charts. Worked out by pipelines/figures/comparison.py, which says how.
-- All troops together. Sources: measures.compared, temp.comparisons.
select
    k.as_of, k.troop, k.measure, k.level, k.some, k."of", coalesce(k.average, k.some / k."of") as value,
    c.compared_with, c.troops, c.expected, c.spread, c.z, c.chance, c.adjusted, c.is_low, c.is_high,
    c.low_95, c.high_95, c.low_998, c.high_998
from measures.compared k
join temp.comparisons c on c.as_of = k.as_of and c.troop = k.troop and c.measure = k.measure
