"""Tables of results, as people keep them, to study records."""

from steelyard.records.tables.reading import TableImport, read_table

__all__ = ["TableImport", "read_table"]
