-- One row a thing that was agreed by the known-on time, but for what closed and opened. Sources: landed.agreements.
select a.*
from landed.agreements a
cross join chosen.known k
where a.kind not in ('close', 'reopen') and a.written_at <= k.known_on
