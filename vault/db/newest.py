"""Which version of a luminaire is a newest one: no other version follows it."""

from __future__ import annotations

from sqlalchemy import exists

from vault.db import tables

IS_HEAD = ~exists().where(tables.record_predecessor.c.prefix == tables.record.c.prefix)
