-- One row a thing written down about an exception by the known-on time. Sources: landed.follow_ups.
select f.*
from landed.follow_ups f
cross join chosen.known k
where f.written_at <= k.known_on
