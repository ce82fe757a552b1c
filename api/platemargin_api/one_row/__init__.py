"""A calculation of columns, written again for one row: derived from its function, never by hand."""
