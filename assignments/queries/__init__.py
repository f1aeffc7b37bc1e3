"""Reads: frozen page records with a fixed number of queries, one module per reader."""
