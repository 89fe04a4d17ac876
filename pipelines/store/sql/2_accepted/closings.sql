-- One row a troop that is closed by the known-on time: the latest word on it is that it closed. What came in after its
-- known_on waits beside the figures: its rows are those that were kept then. Sources: landed.agreements.
with latest as (
    select a.*
    from landed.agreements a
    cross join chosen.known k
    where a.kind in ('close', 'reopen') and a.written_at <= k.known_on
    qualify row_number() over (partition by a.troop order by a.entry_no desc) = 1
)
select troop, entry_no, as_of, known_on, written_at, written_by, digest
from latest
where kind = 'close'
