"""Tables that people keep at a bench: CSV logs, read column by column."""
