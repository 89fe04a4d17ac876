-- One row an asked day and troop of which the organisation gave its own figure for a day up to it: the latest, beside
-- ours of that same day. difference: theirs less ours. Sources: measures.points, measures.charges,
-- accepted.organisation_balance.
with latest as (
    select p.as_of, p.troop, b."on" as given_on, b.owed as theirs, b.file_no, b.sheet, b.row_no
    from measures.points p
    join accepted.organisation_balance b on b.troop = p.troop and b."on" <= p.as_of
    where p.is_asked
    qualify row_number() over (partition by p.as_of, p.troop order by b."on" desc) = 1
)
select l.*, c.owed as ours, (l.theirs - c.owed)::decimal(18, 2) as difference
from latest l
join measures.charges c on c.as_of = l.given_on and c.troop = l.troop
