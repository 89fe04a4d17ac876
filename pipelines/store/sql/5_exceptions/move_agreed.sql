-- One row an asked day, troop and move that was agreed by then and that its two sides have not both reported; it stands
-- with both troops. Sources: measures.agreed_moves, season.items.
-- Label: A move agreed
-- Meaning: Both leaders agreed to a move that was proposed. Done once both have reported packages of that item moved
-- between them after the day of the figures it was agreed on. To watch; to ask after two weeks. At stake is the value of
-- the packages.
select
    a.as_of, unnest([a.giver, a.receiver]) as troop, a.subject,
    case when a.as_of >= a.agreed_as_of + 14 then 'ask' else 'watch' end as severity,
    'stock' as about, a.packages * i.price as at_stake, a.packages, null::decimal(18, 2) as met,
    'Troop ' || a.giver || ' gives troop ' || a.receiver || ' ' || said.packages(a.packages) || ' of ' || i.title
        || ', as agreed with the figures of ' || said.day(a.agreed_as_of) || '. '
        || case when a.given > 0 then 'Troop ' || a.giver || ' has reported it, troop ' || a.receiver || ' not yet.'
            when a.got > 0 then 'Troop ' || a.receiver || ' has reported it, troop ' || a.giver || ' not yet.'
            else 'Neither has reported it yet.' end as what,
    'When it has taken place, both write it under Moves; if it does not take place, settle it.' as next_step,
    'Has the move taken place, and is it in your week''s report?' as ask,
    [said.worked_out('agreed', a.packages * i.price, a.packages)] as evidence
from measures.agreed_moves a
join season.items i on i.code = a.item
where a.given = 0 or a.got = 0
