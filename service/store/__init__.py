"""The record: clubs, gardens, beds, plantings and the journal, in SQLite or PostgreSQL.

Nothing here knows HTTP, the engine of rules or a clock: days and moments come in with the call.
"""
