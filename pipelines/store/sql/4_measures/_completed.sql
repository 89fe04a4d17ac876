-- The rows of a relation's own file, with the sums, ratios and limits that are declared of its measures.
select *, {terms}
from (
{own}
)
