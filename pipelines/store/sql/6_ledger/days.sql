-- One row a day that proceeds are posted on and balances are struck for: every end of a week up to the last day asked
-- for, and the days asked for. Sources: chosen.days, season.rules.
select unnest(generate_series(first_week_ending, (select max(as_of) from chosen.days), interval 7 day))::date as as_of
from season.rules
union by name
select as_of from chosen.days
