-- One row of each {keys}: the rows of {source}, counted and added up. All troops together.
-- Sources: {source}.
select {keys},
    {sums}
from {source}
group by all
