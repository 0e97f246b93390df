"""The season around the single clump: ledger, batch, counts, store, winter, spring.

The records beside the photos stay the truth for a clump; the ledger (SQLite) binds
them by their hash and keeps what only the grower knows.
"""

LEDGER_NAME = "season.eyefind.db"
"""What the ledger is called where no other name is given."""
