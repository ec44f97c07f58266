"""The database: tables, sync and counts."""
