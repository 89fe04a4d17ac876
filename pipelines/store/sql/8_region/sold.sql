-- One row a published week, item and number of weeks that a troop's pace rests on: packages out of stock in these weeks.
-- Sources: measures.recent_sales.
select as_of, item, weeks, sum(sold)::bigint as sold
from measures.recent_sales
group by all
order by as_of, item, weeks
