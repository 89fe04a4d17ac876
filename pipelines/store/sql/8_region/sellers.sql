-- One row a published week and number of packages: how many participants taking part have so many. Medians and top
-- tenths follow from it exactly; it names nobody. Sources: measures.participants.
select as_of, packages, count(*)::bigint as sellers
from measures.participants
where is_taking_part
group by all
order by as_of, packages
