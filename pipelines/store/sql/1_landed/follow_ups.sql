-- One row a thing written down about an exception, never altered. kind: note, promise, settle, set_aside, reopen by a
-- person; opened, cleared by the tool itself when an exception comes up or is no longer found. as_of: the day whose
-- figures were looked at. on_day: promised for, set aside until. amount: promised. at_stake, met: the exception's then.
create table if not exists landed.follow_ups (
    entry_no integer primary key,
    written_at timestamp not null,
    written_by varchar not null,
    rule varchar not null,
    troop varchar not null,
    subject varchar not null,
    kind varchar not null,
    as_of date not null,
    words varchar not null,
    on_day date,
    amount decimal(18, 2),
    at_stake decimal(18, 2),
    met decimal(18, 2)
)
