"""The sections, tables and charts of one campaign's report."""
