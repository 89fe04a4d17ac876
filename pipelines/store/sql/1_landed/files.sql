-- One row a file ever taken in; its bytes lie in landed/ under their SHA-256. what, as it was told when it landed:
-- submission, feed, bulk, season, mapping, answer, foreign (headers that no mapping was known for) or unknown (not read). A
-- season.toml that says again what an earlier one said lands again; so does a mapping.
create table if not exists landed.files (
    file_no integer primary key,
    sha256 varchar not null,
    name varchar not null,
    size_bytes bigint not null,
    landed_at timestamp not null,
    sender varchar not null,
    what varchar not null
)
