select
    '{rule}' as rule, as_of, troop, subject, severity, about, at_stake::decimal(18, 2) as at_stake,
    packages::integer as packages, met::decimal(18, 2) as met, what, next_step, ask, evidence
from {source}
