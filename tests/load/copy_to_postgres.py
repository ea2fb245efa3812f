#!/usr/bin/env python3
"""Copies a database of the demo from SQLite to PostgreSQL, for measuring only: whatever the
PostgreSQL database holds is replaced. Its tables must be there (any command of the program makes
them). Usage: copy_to_postgres.py FILE.sqlite postgres://USER@HOST/NAME"""

import datetime
import sqlite3
import subprocess
import sys
import uuid

EPOCH = datetime.datetime(1970, 1, 1, tzinfo=datetime.timezone.utc)


def ask(url, sql):
    out = subprocess.run(["psql", "-At", "-F", "\t", url, "-c", sql], check=True,
                         capture_output=True, text=True)
    return [line.split("\t") for line in out.stdout.splitlines()]


def cell(value, kind):
    """A value as COPY reads it."""
    if value is None:
        return "\\N"
    if kind == "uuid":
        return str(uuid.UUID(bytes=value))
    if kind == "bytea":
        return "\\\\x" + value.hex()
    if kind == "boolean":
        return "t" if value else "f"
    if kind.startswith("timestamp"):
        return (EPOCH + datetime.timedelta(milliseconds=value)).isoformat()
    text = str(value)
    return text.replace("\\", "\\\\").replace("\t", "\\t").replace("\n", "\\n")


def main(source, url):
    columns = {}
    for table, column, kind in ask(
            url, "SELECT c.table_name, c.column_name, c.data_type FROM information_schema.columns c "
            "JOIN information_schema.tables t USING (table_schema, table_name) "
            "WHERE table_schema = 'public' AND t.table_type = 'BASE TABLE' "
            "ORDER BY c.table_name, c.ordinal_position"):
        columns.setdefault(table, []).append((column, kind))
    known = {row[0] for row in sqlite3.connect(source).execute(
        "SELECT name FROM sqlite_master WHERE type = 'table'")}
    tables = [t for t in columns if t in known and not t.startswith("__")]
    # References are checked by SQLite already: the order of tables does not matter here.
    process = subprocess.Popen(["psql", "-q", "-v", "ON_ERROR_STOP=1", url], stdin=subprocess.PIPE,
                               text=True, encoding="utf-8")
    put = process.stdin.write
    put("SET session_replication_role = replica;\nBEGIN;\n")
    put(f"TRUNCATE {', '.join(tables)} CASCADE;\n")
    with sqlite3.connect(source) as database:
        for table in tables:
            names = ", ".join(f'"{name}"' for name, _ in columns[table])
            kinds = [kind for _, kind in columns[table]]
            put(f"COPY {table} ({names}) FROM STDIN;\n")
            for row in database.execute(f"SELECT {names} FROM {table}"):
                put("\t".join(map(cell, row, kinds)) + "\n")
            put("\\.\n")
    put("COMMIT;\nANALYZE;\n")
    process.stdin.close()
    sys.exit(process.wait())


if __name__ == "__main__":
    main(*sys.argv[1:])
