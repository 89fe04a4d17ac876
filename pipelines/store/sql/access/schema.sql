-- Who may come in and what they did: access.sqlite, beside the warehouse and never published.
create table if not exists people (  -- one row an account; a withdrawn one stays, so that the log keeps its meaning
    person_no integer primary key,
    name text not null unique,
    role text not null check (role in ('coordinator', 'leader', 'viewer')),
    troops text not null default '[]',  -- JSON; of a leader only
    code_hash text,  -- Argon2; empty: no code issued, or withdrawn
    email text unique,  -- for an organisation's own sign-in
    made_at real not null,
    withdrawn_at real,
    version integer not null default 1  -- goes up with every change of role, troops or code
);
create table if not exists sign_ins (  -- one row a sign-in that is open; its cookie is kept as SHA-256 only
    sign_in text primary key,
    person_no integer not null references people (person_no),
    version integer not null,
    made_at real not null,
    seen_at real not null,
    ends_at real  -- earlier than the absolute end, where an organisation's own sign-in says so
);
create table if not exists links (  -- one row a one-time link that is not used; kept as SHA-256 only
    link text primary key,
    person_no integer not null references people (person_no),
    version integer not null,
    ends_at real not null
);
create table if not exists waits (  -- one row an account, address or known device with recent failures
    who text primary key,
    failures integer not null,
    failed_at real not null,
    next_at real not null
);
create table if not exists secrets (name text primary key, secret blob not null);  -- what signs a known device's mark
create table if not exists drafts (  -- one row a week that a troop is filling in on the page
    troop text not null,
    week_ending text not null,
    content text not null,  -- JSON; of a draft that was sent or thrown away, its version alone
    changed_at real not null,
    changed_by text not null,
    primary key (troop, week_ending)
);
create table if not exists parts (  -- one row an account of a region: what of it the account sees
    person_no integer primary key references people (person_no),
    part text not null  -- all, or the levels that lead to it: council=north/area=hillside
);
create table if not exists log (  -- append-only but for what is older than many entries: what happened, no secrets
    entry_no integer primary key autoincrement,
    at real not null,
    who text not null,
    what text not null,
    about text not null,
    address text not null
);
create trigger if not exists log_is_not_altered before update on log
begin select raise(abort, 'the log is append-only'); end;
drop trigger if exists log_is_not_shortened;  -- an earlier one let nothing go
create trigger log_is_not_shortened before delete on log
when old.entry_no > (select max(entry_no) from log) - {MOST_LOGGED}
begin select raise(abort, 'the log is append-only'); end;
