-- One row a thing that was agreed, never altered. kind: close, reopen;
-- confirm (refers_to: the close); debt, accept, take_back, came_in (refers_to: the debt; about: the participant);
-- wish (words: slots, first wish first); give (about: a slot, now the troop's); swap (about: own slot, other: the slot
-- asked for), agree, decline (refers_to: the swap). as_of: the day of the figures looked at; known_on: what a close
-- rests on; digest: of the figures that it froze.
create table if not exists landed.agreements (
    entry_no integer primary key,
    written_at timestamp not null,
    written_by varchar not null,
    by_role varchar not null,
    kind varchar not null,
    troop varchar not null,
    about varchar not null,
    other varchar not null,
    refers_to integer,
    as_of date not null,
    known_on timestamp,
    on_day date,
    amount decimal(18, 2),
    words varchar not null,
    digest varchar not null
)
