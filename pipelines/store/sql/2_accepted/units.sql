-- One row a unit that was accepted by the known-on time. Sources: landed.units.
select u.*
from landed.units u
cross join chosen.known k
where u.accepted_at <= k.known_on
