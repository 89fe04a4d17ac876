-- One row a troop and slot that it wishes for, the first wish first: the newest word of the troop, typed or in a file;
-- what was typed takes the place of every earlier wish. Sources: accepted.wishes, accepted.agreements, landed.files.
with typed as (
    select troop, written_at, string_split(words, ' ') as slots
    from accepted.agreements
    where kind = 'wish'
    qualify row_number() over (partition by troop order by entry_no desc) = 1
),
filed as (
    select w.troop, w.rank, w.slot, max(f.landed_at) over (partition by w.troop) as landed_at
    from accepted.wishes w
    join landed.files f on f.file_no = w.file_no
),
listed as (
    select t.troop, list_filter(t.slots, lambda slot: slot <> '') as slots
    from typed t
    anti join filed f on f.troop = t.troop and f.landed_at > t.written_at
),
numbered as (
    select troop, slots, unnest(range(1, array_length(slots) + 1)) as rank
    from listed
    where array_length(slots) > 0
)
select troop, rank::integer as rank, slots[rank] as slot, true as is_typed
from numbered
union all by name
select f.troop, f.rank, f.slot, false as is_typed
from filed f
anti join typed t on t.troop = f.troop and t.written_at >= f.landed_at
