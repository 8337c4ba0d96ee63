"""Build files and checklists in and out: reading, durable saving, locking, journal."""
