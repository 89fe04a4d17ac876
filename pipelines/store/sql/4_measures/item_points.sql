-- One row a point (day and troop) and item of the season. Sources: measures.points, season.items.
select p.as_of, p.troop, p.is_asked, i.code as item, i.price, i.is_stocked
from measures.points p
cross join season.items i
