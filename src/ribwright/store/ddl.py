"""What the table descriptions can't say: entries that can't be changed, the search index, policies."""

from __future__ import annotations

from sqlalchemy import Connection, text

from ribwright.errors import UnknownNameError
from ribwright.store import schema

_SQLITE_TRIGGERS = tuple(
    f"CREATE TRIGGER entry_no_{action.lower()} BEFORE {action} ON entry "
    "BEGIN SELECT RAISE(ABORT, 'entries are never changed'); END"
    for action in ("UPDATE", "DELETE")
)

_SQLITE_SEARCH = (
    # The words are already parted and folded (core.record.words), so the plainest tokenizer serves.
    "CREATE VIRTUAL TABLE words_index USING fts5(words, content='words', content_rowid='seq', "
    "detail='none', columnsize=0, tokenize='unicode61 remove_diacritics 0')"
)

_POSTGRES = (
    "CREATE FUNCTION ribwright_never() RETURNS trigger LANGUAGE plpgsql AS "
    "$$ BEGIN RAISE EXCEPTION 'entries are never changed'; END $$",
    "CREATE TRIGGER entry_no_change BEFORE UPDATE OR DELETE ON entry "
    "FOR EACH ROW EXECUTE FUNCTION ribwright_never()",
    "CREATE TRIGGER entry_no_truncate BEFORE TRUNCATE ON entry "
    "FOR EACH STATEMENT EXECUTE FUNCTION ribwright_never()",
    "CREATE FUNCTION ribwright_words(text) RETURNS tsvector LANGUAGE sql IMMUTABLE AS "
    "$$ SELECT array_to_tsvector(string_to_array($1, ' ')) $$",
    "CREATE INDEX words_index ON words USING gin (ribwright_words(words))",
)


def create_all(connection: Connection) -> None:
    """Make every table, trigger, index and policy in an empty database."""
    schema.metadata.create_all(connection)
    if connection.dialect.name == "sqlite":
        for statement in (*_SQLITE_TRIGGERS, _SQLITE_SEARCH):
            connection.exec_driver_sql(statement)
        return
    for statement in _POSTGRES:
        connection.execute(text(statement))
    for table in schema.metadata.sorted_tables:
        if "project" in table.c:
            for statement in _policy(table.name):
                connection.execute(text(statement))


def _policy(table: str) -> tuple[str, ...]:
    mine = "project = current_setting('ribwright.project', true)"
    return (
        f'ALTER TABLE "{table}" ENABLE ROW LEVEL SECURITY',
        # Forced: the owner of the tables is held to it as well.
        f'ALTER TABLE "{table}" FORCE ROW LEVEL SECURITY',
        f'CREATE POLICY of_project ON "{table}" USING ({mine}) WITH CHECK ({mine})',
    )


def grant(connection: Connection, login: str) -> None:
    """Let a login that owns nothing use the tables: read and add entries, change projections only.

    The advisers' keys must be there (``let_advisers_read``); it may look at them.

    Args:
        connection: as the owner.
        login: name of an existing role.

    Raises:
        UnknownNameError: there is no such role.
    """
    known = connection.execute(text("SELECT 1 FROM pg_roles WHERE rolname = :name"), {"name": login}).first()
    if known is None:
        raise UnknownNameError(
            "--login",
            found=login,
            allowed="a login of this database",
            mend="Make it first: CREATE ROLE … LOGIN",
        )
    quoted = connection.dialect.identifier_preparer.quote_identifier(login)
    for table in schema.metadata.sorted_tables:
        rights = {"entry": "SELECT, INSERT", "schema_version": "SELECT", "project": "SELECT, INSERT"}.get(
            table.name, "SELECT, INSERT, UPDATE, DELETE"
        )
        connection.execute(text(f'GRANT {rights} ON "{table.name}" TO {quoted}'))
    connection.execute(text(f"GRANT SELECT ON adviser_key TO {quoted}"))


_ADVISER = "ref = current_setting('ribwright.adviser', true)"
_INVITED = (
    "SELECT project FROM object WHERE noun = 'setting' AND "
    + _ADVISER
    + " AND data::jsonb->>'invited' = 'yes'"
)
_SHARED = _INVITED + " AND data::jsonb->>'share' = 'yes'"
_ADVISER_READS = {
    # The one that the others look into must not look into itself.
    "object": f"noun = 'setting' AND {_ADVISER}",
    "project": f"project IN ({_INVITED})",
    "question": f"project IN ({_INVITED})",
    "entry": f"kind = 'question' AND project IN ({_INVITED})",
    "finding": f"project IN ({_SHARED})",
}
"""What an adviser reads of the builds that invited him, without opening one: the questions; and the findings
of those that agreed to share them. The builder's own entry is what the database itself looks at."""


def let_advisers_read(connection: Connection) -> None:
    """Rights of advisers over many projects, and the indexes of their list; made again when they are there.

    Args:
        connection: to PostgreSQL, as the owner.
    """
    for table, what in _ADVISER_READS.items():
        connection.execute(text(f'DROP POLICY IF EXISTS of_adviser ON "{table}"'))
        connection.execute(text(f'CREATE POLICY of_adviser ON "{table}" FOR SELECT USING ({what})'))
    for statement in (
        # Only the owner of the database writes here: not even the program can make itself an adviser.
        "CREATE TABLE IF NOT EXISTS adviser_key "
        "(key_digest text PRIMARY KEY, adviser text NOT NULL, made_at text NOT NULL, ended_at text NOT NULL)",
        "CREATE INDEX IF NOT EXISTS object_setting ON object (ref, project) WHERE noun = 'setting'",
        "CREATE INDEX IF NOT EXISTS question_open ON question (project, seq) WHERE answer_seq = 0",
    ):
        connection.execute(text(statement))
