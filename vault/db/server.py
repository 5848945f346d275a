"""What a vault needs inside a PostgreSQL server: its schema, the append function, append-only triggers, rights.

Every append goes through the one row of log_state that belongs to its log: whoever holds that row decides the next
number, so writers queue instead of failing and trying again. All statements may be run again on a vault that has them.
"""

from __future__ import annotations

import json
from collections.abc import Iterable, Sequence
from typing import TYPE_CHECKING, Any

from sqlalchemy import Connection, Table, inspect

from vault.db.tables import PROJECTIONS
from vault.db.triggers import table_of

if TYPE_CHECKING:
    from vault.trust.verify import Statement

# SQLSTATE of our own: what the caller had read is no longer so.
MOVED_ON = "GK001"

_TABLES = """
CREATE TABLE IF NOT EXISTS log_state (log smallint PRIMARY KEY, size bigint NOT NULL) WITH (fillfactor = 50);
INSERT INTO log_state SELECT l, coalesce((SELECT max(seq) + 1 FROM journal WHERE log = l), 0)
    FROM generate_series(0, 1) AS l ON CONFLICT (log) DO UPDATE SET size = excluded.size
"""

_APPEND = """
CREATE OR REPLACE FUNCTION gearkeep_append(p_log smallint, p_seen bigint, p_seen_signers bigint, p_signer_kinds smallint[],
    p_tag text, p_kind smallint, p_key_id bytea, p_digest bytea, p_signed bytea, p_rows jsonb) RETURNS bigint
LANGUAGE plpgsql AS $$
DECLARE
    place bigint;
    held bigint;
    node_index bigint;
    level integer := 0;
    sibling bytea;
    node bytea := sha256('\\x00'::bytea || p_signed);
    completed bytea := ''::bytea;
BEGIN
    SELECT size INTO STRICT place FROM log_state WHERE log = p_log FOR UPDATE;
    SELECT seq INTO held FROM journal WHERE digest = p_digest;
    IF held IS NOT NULL THEN
        RETURN held;
    END IF;
    IF place <> p_seen AND (p_tag IS NULL
        OR EXISTS (SELECT FROM journal WHERE log = 0 AND kind = ANY (p_signer_kinds) AND seq >= p_seen_signers)
        OR EXISTS (SELECT FROM record WHERE tag = p_tag AND seq >= p_seen))
    THEN
        RAISE EXCEPTION 'the journal moved on' USING ERRCODE = 'GK001';
    END IF;
    node_index := place;
    WHILE node_index & 1 = 1 LOOP
        IF level = 0 THEN
            SELECT sha256('\\x00'::bytea || signed) INTO STRICT sibling FROM journal WHERE log = p_log AND seq = node_index - 1;
        ELSE
            SELECT substr(nodes, (level - 1) * 32 + 1, 32) INTO STRICT sibling
                FROM journal WHERE log = p_log AND seq = (node_index << level) - 1;
        END IF;
        node := sha256('\\x01'::bytea || sibling || node);
        completed := completed || node;
        node_index := node_index >> 1;
        level := level + 1;
    END LOOP;
    INSERT INTO journal (log, seq, kind, key_id, digest, signed, nodes)
        VALUES (p_log, place, p_kind, p_key_id, p_digest, p_signed, completed);
    {index_rows}
    RETURN place;
END $$
"""

# One statement a table, so that the server plans each once. The schema stands with the type because `record` alone means
# any row; the base row brings the place, which the caller cannot know.
_INDEX_ROWS = """
    IF p_rows ? '{table}' THEN
        INSERT INTO {table} SELECT * FROM jsonb_populate_recordset(
            jsonb_populate_record(NULL::"{site}".{table}, jsonb_build_object('seq', place)), p_rows->'{table}');
    END IF;"""

_REFUSE = """
CREATE OR REPLACE FUNCTION gearkeep_refuse() RETURNS trigger LANGUAGE plpgsql AS $$
BEGIN
    RAISE EXCEPTION 'the % is append-only', TG_TABLE_NAME;
END $$
"""

# Whichever way entries come in (the function, COPY), they go on where the log ends, and log_state follows.
_CONTINUE = """
CREATE OR REPLACE FUNCTION gearkeep_continue() RETURNS trigger LANGUAGE plpgsql AS $$
DECLARE
    part record;
BEGIN
    FOR part IN SELECT log, min(seq) AS first, max(seq) AS last, count(*) AS many FROM added GROUP BY log LOOP
        UPDATE log_state SET size = part.last + 1
            WHERE log = part.log AND size = part.first AND part.many = part.last - part.first + 1;
        IF NOT FOUND THEN
            RAISE EXCEPTION 'a journal entry must bear the next number';
        END IF;
    END LOOP;
    RETURN NULL;
END $$
"""

_LARGER = """
CREATE OR REPLACE FUNCTION gearkeep_larger() RETURNS trigger LANGUAGE plpgsql AS $$
BEGIN
    IF NEW.size <= (SELECT coalesce(max(size), 0) FROM checkpoint WHERE log = NEW.log) THEN
        RAISE EXCEPTION 'a checkpoint must be larger than the last';
    END IF;
    RETURN NEW;
END $$
"""

# Each log's entries follow one another without a gap: what comes in begins where the log ends.
_TAKEN_NEXT = """
CREATE OR REPLACE FUNCTION gearkeep_taken_next() RETURNS trigger LANGUAGE plpgsql AS $$
DECLARE
    part record;
BEGIN
    FOR part IN SELECT log_id, min(seq) AS first, max(seq) AS last, count(*) AS many FROM added GROUP BY log_id LOOP
        IF part.first < 0 OR part.many <> part.last - part.first + 1 OR (part.first > 0 AND NOT EXISTS (
            SELECT FROM taken WHERE log_id = part.log_id AND seq = part.first - 1))
        THEN
            RAISE EXCEPTION 'an entry that is taken over must bear the next number';
        END IF;
    END LOOP;
    RETURN NULL;
END $$
"""


def _trigger(name: str, when: str, table: str, each: str, function: str) -> str:
    return f"CREATE OR REPLACE TRIGGER {name} {when} ON {table} {each} EXECUTE FUNCTION {function}()"


_TRIGGERS = (
    _trigger("journal_append_only", "BEFORE UPDATE OR DELETE OR TRUNCATE", "journal", "FOR EACH STATEMENT", "gearkeep_refuse"),
    _trigger("journal_next", "AFTER INSERT", "journal", "REFERENCING NEW TABLE AS added FOR EACH STATEMENT", "gearkeep_continue"),
    _trigger("checkpoint_append_only", "BEFORE UPDATE OR DELETE OR TRUNCATE", "checkpoint", "FOR EACH STATEMENT",
             "gearkeep_refuse"),
    _trigger("checkpoint_next", "BEFORE INSERT", "checkpoint", "FOR EACH ROW", "gearkeep_larger"),
    _trigger("taken_append_only", "BEFORE UPDATE OR DELETE OR TRUNCATE", "taken", "FOR EACH STATEMENT", "gearkeep_refuse"),
    _trigger("taken_next", "AFTER INSERT", "taken", "REFERENCING NEW TABLE AS added FOR EACH STATEMENT", "gearkeep_taken_next"),
)


def make_schema(connection: Connection, site: str) -> None:
    """The schema that holds a site's tables."""
    connection.exec_driver_sql(f'CREATE SCHEMA IF NOT EXISTS "{site}"')


def _append_function(site: str) -> str:
    rows = "".join(_INDEX_ROWS.format(table=table.name, site=site) for table in PROJECTIONS)
    return _APPEND.replace("    {index_rows}\n", rows.lstrip("\n") + "\n")


def install(connection: Connection) -> None:
    """Functions and triggers, made or brought up to this program's."""
    site = str(connection.exec_driver_sql("SELECT current_schema()").scalar_one())
    there = set(inspect(connection).get_table_names())
    triggers = [trigger for trigger in _TRIGGERS if table_of(trigger) in there]  # an older schema lacks some tables
    for statement in (*_TABLES.split(";\n"), _append_function(site), _REFUSE, _CONTINUE, _LARGER, _TAKEN_NEXT, *triggers):
        connection.exec_driver_sql(statement.replace("%", "%%"))


def lock_site(connection: Connection) -> None:
    """Take the site's write lock until the end of the transaction, as BEGIN IMMEDIATE does on SQLite."""
    connection.exec_driver_sql("SELECT size FROM log_state ORDER BY log FOR UPDATE")


def _plain(value: Any) -> Any:
    return "\\x" + value.hex() if isinstance(value, bytes) else value


def _rows_json(rows: Iterable[tuple[Table, dict[str, Any]]]) -> str:
    grouped: dict[str, list[dict[str, Any]]] = {}
    for table, row in rows:
        given = {name: _plain(value) for name, value in row.items() if name != "seq" and value is not None}
        grouped.setdefault(table.name, []).append(given)
    return json.dumps(grouped)


_CALL = ("SELECT gearkeep_append(%s::smallint, %s::bigint, %s::bigint, %s::smallint[], %s::text, %s::smallint, %s::bytea, "
         "%s::bytea, %s::bytea, %s::jsonb)")


def _arguments(log: int, seen: int, statement: Statement, rows: Iterable[tuple[Table, dict[str, Any]]], tag: str | None,
               signers_read: int, signer_kinds: Sequence[int]) -> tuple[Any, ...]:
    return (log, seen, signers_read, list(signer_kinds), tag, int(statement.kind), statement.key_id, statement.digest,
            statement.signed_bytes, _rows_json(rows))


def append(connection: Connection, log: int, seen: int, statement: Statement,
           rows: Iterable[tuple[Table, dict[str, Any]]]) -> None:
    """Append a checked statement and its index rows in one call, in a transaction that holds the site's lock.

    seen: the log's size when the rules of the chain were checked.
    """
    connection.exec_driver_sql(_CALL, _arguments(log, seen, statement, rows, None, 0, ()))


def append_raw(raw: Any, log: int, seen: int, statement: Statement, rows: Iterable[tuple[Table, dict[str, Any]]], *,
               tag: str | None, signers_read: int, signer_kinds: Sequence[int]) -> None:
    """The same on a psycopg connection that commits each command.

    With a tag the log may have grown since, as long as nothing about that tag and no signer (entries of signer_kinds from
    signers_read on) was added; else the server refuses with MOVED_ON.
    """
    raw.execute(_CALL, _arguments(log, seen, statement, rows, tag, signers_read, signer_kinds), prepare=True)
