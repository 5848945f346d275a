"""Triggers that keep the journal append-only on SQLite.

INSERT OR REPLACE slips past UPDATE and DELETE triggers, so an INSERT must also bring the next number.
"""

from __future__ import annotations

SQLITE_TRIGGERS: tuple[str, ...] = (
    """CREATE TRIGGER IF NOT EXISTS journal_no_update BEFORE UPDATE ON journal
       BEGIN SELECT RAISE(ABORT, 'the journal is append-only'); END""",
    """CREATE TRIGGER IF NOT EXISTS journal_no_delete BEFORE DELETE ON journal
       BEGIN SELECT RAISE(ABORT, 'the journal is append-only'); END""",
    """CREATE TRIGGER IF NOT EXISTS journal_next BEFORE INSERT ON journal
       WHEN NEW.seq <> (SELECT coalesce(max(seq) + 1, 0) FROM journal WHERE log = NEW.log)
       BEGIN SELECT RAISE(ABORT, 'a journal entry must bear the next number'); END""",
    """CREATE TRIGGER IF NOT EXISTS checkpoint_no_update BEFORE UPDATE ON checkpoint
       BEGIN SELECT RAISE(ABORT, 'checkpoints are append-only'); END""",
    """CREATE TRIGGER IF NOT EXISTS checkpoint_no_delete BEFORE DELETE ON checkpoint
       BEGIN SELECT RAISE(ABORT, 'checkpoints are append-only'); END""",
    """CREATE TRIGGER IF NOT EXISTS checkpoint_next BEFORE INSERT ON checkpoint
       WHEN NEW.size <= (SELECT coalesce(max(size), 0) FROM checkpoint WHERE log = NEW.log)
       BEGIN SELECT RAISE(ABORT, 'a checkpoint must be larger than the last'); END""",
    """CREATE TRIGGER IF NOT EXISTS taken_no_update BEFORE UPDATE ON taken
       BEGIN SELECT RAISE(ABORT, 'what was taken over is append-only'); END""",
    """CREATE TRIGGER IF NOT EXISTS taken_no_delete BEFORE DELETE ON taken
       BEGIN SELECT RAISE(ABORT, 'what was taken over is append-only'); END""",
    """CREATE TRIGGER IF NOT EXISTS taken_next BEFORE INSERT ON taken
       WHEN NEW.seq <> (SELECT coalesce(max(seq) + 1, 0) FROM taken WHERE log_id = NEW.log_id)
       BEGIN SELECT RAISE(ABORT, 'an entry that is taken over must bear the next number'); END""",
)


def table_of(trigger: str) -> str:
    """The table that a trigger watches, from its SQL."""
    return trigger.split(" ON ", 1)[1].split()[0]
