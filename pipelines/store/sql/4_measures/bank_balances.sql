-- One row an asked day and troop whose bank balance somebody read for one of the seven days up to it: the latest, of two
-- for one day the later week's. Sources: measures.points, accepted.cover.
select p.as_of, p.troop, c.bank_balance, c.balance_on, c.week_ending
from measures.points p
join accepted.cover c on c.troop = p.troop and c.week_ending <= p.as_of
    and c.balance_on between p.as_of - 6 and p.as_of
where p.is_asked and c.bank_balance is not null
qualify row_number() over (partition by p.as_of, p.troop order by c.balance_on desc, c.week_ending desc) = 1
