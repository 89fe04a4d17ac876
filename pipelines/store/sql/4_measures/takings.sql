-- One row a week: packages of one item that one participant took in it, their sum and the sum of their squares.
-- All troops together. Sources: accepted.families.
select week_ending, sum(packages)::bigint as packages, sum(packages::bigint * packages)::bigint as squares
from accepted.families
where packages > 0
group by all
