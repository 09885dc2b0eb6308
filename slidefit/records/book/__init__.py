"""The sale book's file, its tables, and batches that enter and leave it."""
