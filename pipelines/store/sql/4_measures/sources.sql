-- One row a troop, file and table that figures are made from: how many of its rows hold, and the first and last of them.
-- Sources: every accepted table, landed.files.
with used as (
    select troop, file_no, 'troops' as table_name, sheet, row_no from accepted.troops
    union all by name
    select troop, file_no, 'roster' as table_name, sheet, row_no from accepted.roster
    union all by name
    select troop, file_no, 'supply' as table_name, sheet, row_no from accepted.supply
    union all by name
    select troop, file_no, 'online_orders' as table_name, sheet, row_no from accepted.online_orders
    union all by name
    select troop, file_no, 'collections' as table_name, sheet, row_no from accepted.collections
    union all by name
    select troop, file_no, 'remittances' as table_name, sheet, row_no from accepted.remittances
    union all by name
    select troop, file_no, 'adjustments' as table_name, sheet, row_no from accepted.adjustments
    union all by name
    select troop, file_no, 'organisation_balance' as table_name, sheet, row_no from accepted.organisation_balance
    union all by name
    select troop, file_no, 'pages' as table_name, sheet, row_no from accepted.pages
    union all by name
    select troop, file_no, 'last_season' as table_name, sheet, row_no from accepted.last_season
    union all by name
    select troop, file_no, 'cover' as table_name, sheet, row_no from accepted.cover
    union all by name
    select troop, file_no, 'stock' as table_name, sheet, row_no from accepted.stock
    union all by name
    select troop, file_no, 'families' as table_name, sheet, row_no from accepted.families
    union all by name
    select troop, file_no, 'stalls' as table_name, sheet, row_no from accepted.stalls
    union all by name
    select troop, file_no, 'banked' as table_name, sheet, row_no from accepted.banked
    union all by name
    select troop, file_no, 'moves' as table_name, sheet, row_no from accepted.moves
    union all by name
    select troop, file_no, 'goals' as table_name, sheet, row_no from accepted.goals
)
select
    u.troop, u.file_no, u.table_name, f.name, f.landed_at, f.sender,
    min(nullif(u.sheet, '')) as sheet, count(*)::bigint as rows_used, min(u.row_no) as first_row, max(u.row_no) as last_row
from used u
join landed.files f on f.file_no = u.file_no
group by all
