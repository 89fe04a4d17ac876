-- One row a published week, troop and item: what of its packages adds up. Sources: measures.items.
select as_of, troop, item, price, is_stocked, {columns}
from measures.items
order by as_of, troop, item
